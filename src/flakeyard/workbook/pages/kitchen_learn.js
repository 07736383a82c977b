// Learning from weighings without Python: the same update as flakeyard.steps.learn (members, evidence, fitting, contradiction,
// clocks), step by step and by the same names. Every number comes from `exported`; nothing here knows the screen.

// Numbers that travelled as bytes, as arrays again.
export function unpack(value) {
  if (value === null || typeof value !== 'object') return value;
  if (Array.isArray(value)) return value.map(unpack);
  const bytes = value.i16 ?? value.f32;
  if (bytes === undefined) return Object.fromEntries(Object.entries(value).map(([name, one]) => [name, unpack(one)]));
  const buffer = Uint8Array.from(atob(bytes), sign => sign.charCodeAt(0)).buffer;
  return value.i16 === undefined ? new Float32Array(buffer) : new Int16Array(buffer);
}

export function learner(D) {
  const E = D.errors, M = D.members, K = D.rank, H = D.hours, T = H.length, LAST = H[T - 1], W = 2 * T, N = D.normals.length;   // N: so often members are drawn
  const COUNTS = ['h', 'hs', 'f48', 'c54', 'c40'];

  // --- plain arithmetic ---------------------------------------------------------------------------------------------------
  const sum = list => { let s = 0; for (const one of list) s += one; return s; };
  const mean = list => sum(list) / list.length;
  const clamp = (value, low, high) => Math.min(high, Math.max(low, value));
  const dot = (a, b) => { let s = 0; for (let i = 0; i < a.length; i++) s += a[i] * b[i]; return s; };
  const variance = list => { const m = mean(list); return mean(list.map(one => (one - m) ** 2)); };
  const sorted = list => Float64Array.from(list).sort();
  const quantile = (list, share) => {                         // straight between two, as numpy does
    const order = sorted(list), at = share * (order.length - 1), low = Math.floor(at);
    return order[low] + (at - low) * ((order[low + 1] ?? order[low]) - order[low]);
  };
  const higher = (list, share) => sorted(list)[Math.ceil(share * (list.length - 1) - 1e-9)];
  const cautious = list => Math.max(...[0, 1, 2, 3].map(part => higher(list.filter((_, n) => n % 4 === part || list.length < N), E.upper)));   // of four draws the one that errs to the safe side
  const median = list => quantile(list, 0.5);
  const band = list => {                                      // an end that is never reached is null
    const all = list.every(Number.isFinite), of = share => (all ? quantile(list, share) : higher(list, share));
    return [0.1, 0.5, 0.9].map(share => (Number.isFinite(of(share)) ? of(share) : null));
  };
  const covariance = (columns, less = 1) => {                 // of columns of members
    const middles = columns.map(mean), off = columns.map((column, n) => column.map(one => one - middles[n]));
    return columns.map((_, i) => columns.map((_, j) => dot(off[i], off[j]) / (off[i].length - less)));
  };
  const plus = (A, B) => A.map((row, i) => row.map((one, j) => one + B[i][j]));
  const times = (A, v) => A.map(row => dot(row, v));
  const inverse = A => {                                      // of a positive definite matrix, by Gauss and Jordan
    const n = A.length, B = A.map((row, i) => [...row, ...row.map((_, j) => +(i === j))]);
    for (let i = 0; i < n; i++) {
      const top = B[i], d = 1 / top[i];
      for (let j = 0; j < 2 * n; j++) top[j] *= d;
      for (let r = 0; r < n; r++) { const f = B[r][i]; if (r !== i && f) for (let j = 0; j < 2 * n; j++) B[r][j] -= f * top[j]; }
    }
    return B.map(row => row.slice(n));
  };
  const root = A => {                                         // lower triangle L with L L' = A (Cholesky)
    const n = A.length, L = A.map(row => row.map(() => 0));
    for (let i = 0; i < n; i++) for (let j = 0; j <= i; j++) {
      let s = A[i][j];
      for (let k = 0; k < j; k++) s -= L[i][k] * L[j][k];
      L[i][j] = i === j ? Math.sqrt(Math.max(s, 1e-12)) : s / L[j][j];
    }
    return L;
  };
  const drawn_before = [];
  function normals(columns) {                                 // the same every time: each slice of the distribution once, in an order of its own
    while (drawn_before.length < columns) {
      let seed = M + 7919 * drawn_before.length;
      const next = () => { seed = (seed + 0x6D2B79F5) | 0; let t = Math.imul(seed ^ (seed >>> 15), 1 | seed); t = (t + Math.imul(t ^ (t >>> 7), 61 | t)) ^ t; return ((t ^ (t >>> 14)) >>> 0) / 4294967296; };
      const column = Float64Array.from(D.normals);
      for (let n = N - 1; n > 0; n--) { const k = Math.floor(next() * (n + 1)); [column[n], column[k]] = [column[k], column[n]]; }
      drawn_before.push(column);
    }
    return drawn_before.slice(0, columns);
  }

  // --- the members and their curves -----------------------------------------------------------------------------------------
  const step = h => {                                         // the place before an hour, and the part of the way to the next
    let a = 0, b = T - 1;
    while (b - a > 1) { const c = (a + b) >> 1; if (H[c] <= h) a = c; else b = c; }
    return [a, clamp((h - H[a]) / (H[b] - H[a]), 0, 1)];
  };
  const one_at = (curve, h) => { const [i, p] = step(h); return curve[i] * (1 - p) + curve[i + 1] * p; };
  const at = (curves, h) => { const [i, p] = step(h); return curves.map(curve => curve[i] * (1 - p) + curve[i + 1] * p); };
  const down_to = (curve, goal) => {                          // the hour at which a falling curve comes down to a goal
    let n = 0;
    while (n < T && curve[n] > goal) n++;
    if (n === T) return Infinity;
    n = Math.max(n, 1);
    return H[n - 1] + (H[n] - H[n - 1]) * clamp((curve[n - 1] - goal) / Math.max(curve[n - 1] - curve[n], 1e-12), 0, 1);
  };
  const middles = curves => Float64Array.from({ length: T }, (_, n) => median(curves.map(curve => curve[n])));
  const shares = dial => D.dials.map((one, i) => D.dials.reduce((part, other, j) => (i === j ? part : part * (dial - other) / (one - other)), 1));   // Lagrange
  const beside = dial => D.dials.map((one, i) => [i, one]).filter(([i, one]) => Math.abs(one - dial) < 1e-6
    || (one < dial && !(D.dials[i + 1] <= dial)) || (one > dial && !(D.dials[i - 1] >= dial))).map(([i]) => i);
  const travels = dial => dial >= D.dials[0] - 1e-6 && dial <= D.dials.at(-1) + 1e-6;

  function ensemble(dial) {                                   // the members at one setting of the dial
    const part = shares(dial), near = beside(dial);
    const [piece, load] = [0, T].map(begin => Array.from({ length: M }, (_, m) => {
      const own = Float64Array.from({ length: K }, (_, k) => { let s = 0; D.dials.forEach((_, d) => { if (part[d]) s += part[d] * D.numbers[(d * K + k) * M + m]; }); return s; });
      return Float64Array.from({ length: T }, (_, n) => { let v = D.shapes[begin + n]; for (let k = 0; k < K; k++) v += own[k] * D.shapes[(k + 1) * W + begin + n]; return Math.exp(v); });
    }));
    const between = near.length < 2 ? [1] : [D.dials[near[1]] - dial, dial - D.dials[near[0]]].map(away => away / (D.dials[near[1]] - D.dials[near[0]]));
    const clock = name => Array.from({ length: M }, (_, m) => near.reduce((s, d, n) => s + (between[n] ? between[n] * D.clocks[d][name][m] : 0), 0));
    return { piece, load, clocks: Object.fromEntries(Object.keys(D.clocks[0]).map(name => [name, clock(name)])) };
  }
  const kept = new Map();
  const of_dial = dial => { const key = dial.toFixed(2); if (!kept.has(key)) kept.set(key, ensemble(dial)); return kept.get(key); };

  function follow(happened) {                                 // the members through what happened to the dryer
    const dials = [...new Set(happened.dials.map(([, dial]) => dial))], sets = dials.map(of_dial), first = of_dial(happened.dials[0][1]);
    const [piece, load] = ['piece', 'load'].map(what => {
      let whole = first[what];
      for (const [begin, dial] of happened.dials.slice(1)) {
        const here = at(whole, begin), next = of_dial(dial)[what];
        whole = whole.map((curve, m) => {
          const place = down_to(next[m], here[m]), shift = (Number.isFinite(place) ? place : LAST) - begin;
          return curve.map((value, n) => (H[n] > begin ? one_at(next[m], H[n] + shift) : value));
        });
      }
      return whole;
    });
    const longest = name => m => Math.max(...sets.map(set => set.clocks[name][m]));
    const counts = COUNTS.map(name => (m, age) => Math.max(...sets.map(({ clocks }) => clamp(age - clocks[`${name}_from`][m], 0, clocks[`${name}_most`][m]))));
    return course(piece, load, { counts, dry: longest('dry'), warm: longest('warm'), done_at: D.done_at });
  }
  function course(piece, load, more) {
    const made = { piece, load, ...more, mid_piece: middles(piece), mid_load: middles(load) };
    made.goal = piece.map((curve, m) => ln_reached(curve, made.done_at[m]));
    made.finish = Math.exp(median(made.goal));
    return made;
  }
  const paced = (whole, fitted) => {                          // the members chosen on their way, as the clock sees them
    const own = curves => fitted.chosen.map((m, n) => Float64Array.from(H, h => one_at(curves[m], h * fitted.pace[n])));
    return { piece: own(whole.piece), load: own(whole.load) };
  };
  function ln_reached(curve, goal) {                          // ln of the hour, drawn out beyond the end of the forecast
    const hours = down_to(curve, goal);
    if (Number.isFinite(hours)) return Math.log(Math.max(hours, E.soonest));
    const end = curve[T - 1], fall = Math.max(Math.log(one_at(curve, 0.8 * LAST) / end) / Math.log(1 / 0.8), E.flattest);
    return Math.log(LAST) + clamp(Math.log(end / Math.min(goal, end)) / fall, 0, E.farthest);
  }

  // --- what a log says ------------------------------------------------------------------------------------------------------
  // an entry: {t: ms, tray: "1" | "thickest" | "all", g: grams or null, event, dial: °C or null}
  function told(entries, now) {
    const list = entries.map((entry, n) => ({ ...entry, n })).sort((a, b) => a.t - b.t || a.n - b.n), weighed = list.filter(one => one.g && one.event !== 'drained');
    const start = list.find(one => one.event === 'start') ?? list.find(one => (one.g || one.cut) && one.event !== 'drained'), t0 = start?.t ?? now, hour = t => (t - t0) / 3.6e6;
    for (const one of list) one.hours = hour(one.t);
    const last = list.length ? list.at(-1).hours : 0, pauses = [];
    let open = null;
    for (const one of list) if (/^(pause|pause cold|go on)$/.test(one.event)) {
      if (open && one.event === 'go on') pauses.push([open.hours, one.hours, open.event === 'pause cold']);
      open = one.event === 'go on' ? null : one;
    }
    if (open) pauses.push([open.hours, Math.max(last, hour(now)), open.event === 'pause cold']);
    const drying = h => h - sum(pauses.map(([begin, end]) => clamp(h - begin, 0, end - begin)));
    const clock = hours => pauses.reduce((moment, [begin, end]) => (moment > begin + 1e-9 ? moment + end - begin : moment), hours);
    let dials = [[0, D.dials[D.home]]];
    for (const one of list) if (one.dial !== null && one.dial !== undefined && Math.abs(one.dial - dials.at(-1)[1]) >= E.same_dial) {
      const from = Math.max(drying(one.hours), 0);
      dials = [...(from > 0 ? dials : []), [from, one.dial]];
    }
    const warm_pause = sum(pauses.filter(pause => !pause[2]).map(([begin, end]) => end - begin));
    return { list, weighed: weighed.filter(one => one.hours >= 0), t0, hour, last, pauses, open, drying, clock, dials, warm_pause, soaked: list.some(one => one.event === 'freshened') };
  }
  const step_of = masses => (masses.length < E.betrayed ? E.steps.at(-1) : E.steps.find(one => masses.every(mass => Math.abs(mass / one - Math.round(mass / one)) < 1e-6)) ?? E.steps.at(-1));
  function rows_of(happened) {
    const restarts = {}, names = [], moved = {};
    for (const { tray } of happened.weighed) moved[tray] ??= [0];
    const [every, among] = D.turning ?? [Infinity, 1];
    const spent = (h, place) => (among === 1 ? h : Math.floor(h / (every * among)) * every + clamp(h % (every * among) - place * every, 0, every));
    for (const one of happened.list) if (one.event === 'moved' && !(one.tray === 'all' && among > 1)) for (const tray in moved) if (one.tray === 'all' || one.tray === tray) moved[tray].push(happened.drying(one.hours));
    const columns = Object.entries(moved).flatMap(([tray, begins]) => (tray === 'all' || tray === 'thickest' ? [] : begins.flatMap((begin, n) => Array.from({ length: among }, (_, place) => ({ tray, begin, end: begins[n + 1] ?? Infinity, place })))));
    const rows = happened.weighed.map(entry => {
      if (entry.event === 'taken out' || entry.event === 'freshened') restarts[entry.tray] = (restarts[entry.tray] ?? 0) + 1;
      const group = `${entry.tray}/${restarts[entry.tray] ?? 0}`, h = happened.drying(entry.hours);
      if (!names.includes(group)) names.push(group);
      const places = columns.map(({ tray, begin, end, place }) => (tray !== entry.tray ? 0 : h > 0 ? (spent(Math.max(Math.min(h, end), begin), place) - spent(begin, place)) / h : +(begin === 0 && place === 0)));
      return { entry, h, y: Math.log(entry.g / 1000), group: names.indexOf(group), thick: entry.tray === 'thickest', places };
    });
    return grouped(rows, { scale: E.step_sd * step_of(happened.weighed.map(one => one.g / 1000)), ...PLAIN });
  }
  const PLAIN = { drift: E.drift, marked: E.marked, drifted: 0 };
  function grouped(list, { scale, drift, marked, drifted }) { // with the first row of each group, and what lies after it; mass without the drift that shows
    list = list.map(row => { const g = Math.exp(row.y), adrift = -E.drift_lasts * Math.expm1(-row.h / E.drift_lasts), straight = Math.log(Math.max(g - drifted * adrift, E.shown_left * g)), per = adrift * Math.exp(-straight); return { ...row, straight, per, read: straight + drifted * per }; });
    const first = list.map(row => list.reduce((best, other, n) => (other.group === row.group && (best < 0 || other.h < list[best].h) ? n : best), -1));
    return { list, scale, drift, marked, drifted, first, later: list.map((_, n) => n).filter(n => list[n].h > list[first[n]].h) };
  }
  const without = (rows, n) => grouped(rows.list.filter((_, at) => at !== n), rows);
  const mass_errors = rows => rows.list.map((a, i) => rows.list.map((b, j) => {
    const drift = rows.drift ** 2 * a.per * b.per;
    return drift + (i === j ? (rows.scale * Math.exp(-a.y)) ** 2 + E.scale_share ** 2 + (a.entry.hours === 0 && !a.thick ? (E.wet * Math.exp(-a.y)) ** 2 : 0) : 0);
  }));
  function model_stretch(one, other, finish) {                // covariance of the ln of the mean pace up to two drying times
    one = Math.max(one, 0.05); other = Math.max(other, 0.05);
    const early = Math.min(one, other) / finish, late = Math.max(one, other) / finish;
    return E.tempo ** 2 * Math.exp(-Math.abs(Math.log(one / other)) / E.tempo_reach)
      + E.walk ** 2 * 3 * early * (0.5 - early / (6 * late)) + E.end ** 2 * (early * late) ** E.end_power;
  }
  const own_paces = rows => rows.list.map(a => rows.list.map(b => (a.thick && b.thick ? rows.marked ** 2 : 0) + E.tray ** 2 * dot(a.places, b.places)));
  const stretch = (rows, finish) => plus(rows.list.map(a => rows.list.map(b => model_stretch(a.h, b.h, finish))), own_paces(rows));
  const noted = hours => hours.map((a, i) => hours.map((b, j) => (1 + (i === j)) * E.clock / Math.max(a, E.clock) * (E.clock / Math.max(b, E.clock))));

  function expected(rows, whole) {                            // ln of mass over mass as laid, and its slope against the ln of time
    const said = rows.list.map(row => at(row.thick ? whole.piece : whole.load, row.h).map(Math.log));
    return { said, middle: said.map(mean), spread: covariance(said), slope: rows.list.map((row, n) => mean(at(row.thick ? whole.piece : whole.load, 1.02 * row.h).map((value, m) => (Math.log(value) - said[n][m]) / Math.log(1.02)))) };
  }
  function foreseen(rows, whole, { middle, spread: plan, slope } = expected(rows, whole)) {   // what the plan says of all weighings, and inverse of its covariance
    const time = plus(stretch(rows, whole.finish), noted(rows.list.map(row => row.h))), mass = mass_errors(rows);
    const spread = plan.map((line, i) => line.map((one, j) => one + mass[i][j] + (rows.list[i].group === rows.list[j].group ? E.any_mass : 0) + slope[i] * slope[j] * time[i][j]));
    return { off: rows.list.map((row, n) => row.read - middle[n]), inverse: inverse(spread), spread };
  }
  function believed(rows, whole) {                            // drift of the scale and own pace of the marked piece as wide as the weighings make them
    const pieces = [[1 - E.other[0], E.marked], E.other];
    if (!rows.later.some(n => rows.list[n].thick) || rows.list.every(row => row.thick)) return grouped(rows.list, { ...rows, marked: sum(pieces.map(([chance, wide]) => chance * wide)) });
    const stories = [[1 - E.drifting[0], E.drift], E.drifting].flatMap(([a, drift]) => pieces.map(([b, marked]) => ({ chance: a * b, drift, marked })));
    const said = expected(rows, whole);
    let share;
    for (let round = 0; round < E.straightened; round++) {
      const told = stories.map(one => story(grouped(rows.list, { ...rows, ...one }), whole, Math.log(one.chance), said)), top = Math.max(...told.map(one => one.likely)), raw = told.map(one => Math.exp(one.likely - top));
      share = raw.map(one => one / sum(raw));
      rows = grouped(rows.list, { ...rows, drifted: dot(share, told.map(one => one.shown)) });
    }
    const wide = name => dot(share, stories.map(one => one[name]));
    return grouped(rows.list, { ...rows, drift: wide('drift'), marked: wide('marked') });
  }
  function story(rows, whole, chance, said) {                       // ln of how likely the weights are, and the drift that they would show
    const seen = foreseen(rows, whole, said), pull = times(seen.inverse, seen.off), half = root(seen.spread);
    return { likely: chance - sum(half.map((line, n) => Math.log(line[n]))) - 0.5 * dot(seen.off, pull), shown: rows.drift ** 2 * dot(rows.list.map(row => row.per), pull) };
  }
  function set_strange_aside(rows, whole) {
    const strange = [], most = Math.max(1, Math.floor(E.strange_share * rows.list.length));
    while (strange.length < most && rows.list.length > 2) {
      const seen = foreseen(rows, whole), away = times(seen.inverse, seen.off).map((one, n) => (rows.list[n].h > 0 ? Math.abs(one) / Math.sqrt(seen.inverse[n][n]) : 0));
      const worst = away.indexOf(Math.max(...away));
      if (away[worst] < E.strange) break;
      strange.push(rows.list[worst].entry);
      rows = without(rows, worst);
    }
    return [rows, strange];
  }
  const slope_of = (curve, hours) => { const late = Math.min(hours, LAST / 1.2); return Math.log(one_at(curve, late * 1.1) / one_at(curve, late / 1.1)) / Math.log(1.21); };
  function lags(rows, whole, known = null) {                  // what is known of the rows before is not worked out again
    const zeros = () => rows.list.map(() => 0), wide = line => [...line, ...Array(rows.list.length - line.length).fill(0)];
    const lag = known ? [...known.lag] : [], time = known ? known.time.map(wide) : [], mass = known ? known.mass.map(wide) : [];
    for (const n of rows.later.slice(lag.length)) {
      const row = rows.list[n], begun = rows.list[rows.first[n]], curves = row.thick ? whole.piece : whole.load, middle = row.thick ? whole.mid_piece : whole.mid_load;
      const reached = at(curves, begun.h).map((laid, m) => ln_reached(curves[m], laid * Math.exp(row.straight - begun.straight)));
      const here = Math.max(-slope_of(middle, Math.exp(median(reached))), E.flattest), there = begun.h > 0 ? Math.max(-slope_of(middle, begun.h), 0) : 0;
      const [t, w] = [zeros(), zeros()];
      t[n] = 1; t[rows.first[n]] = -Math.min(there / here, 1); w[n] = 1 / here; w[rows.first[n]] = -1 / here;
      const off = (row.read - row.straight - begun.read + begun.straight) / here;
      lag.push(reached.map(one => clamp(one - Math.log(row.h), -2, 2) - off)); time.push(t); mass.push(w);
    }
    return { rows, lag, time, mass };
  }
  const sandwich = (A, S) => A.map(a => { const half = times(S, a); return A.map(b => dot(b, half)); });
  const lag_errors = (seen, finish) => plus(plus(sandwich(seen.time, stretch(seen.rows, finish)), sandwich(seen.mass, mass_errors(seen.rows))), noted(seen.rows.later.map(n => seen.rows.list[n].h)));

  // --- the update -----------------------------------------------------------------------------------------------------------
  const part_of = (since, hours) => Math.max(hours - since, 0) / Math.max(hours, 1e-9);
  function updated(whole, seen, finish, change, only_spread = false) {
    const rows = seen.rows.list, count = seen.lag.length, there = whole.goal.map(one => one < Math.log(LAST) + E.farthest - 1e-9);
    let own = count ? model_stretch(finish, finish, finish) + seen.rows.marked ** 2 : 0;
    let errors = lag_errors(seen, finish), cross = times(seen.time, rows.map(row => model_stretch(row.h, finish, finish) + (row.thick ? seen.rows.marked ** 2 : 0)));
    if (change) {
      const slowed = times(seen.time, rows.map(row => part_of(change.since, row.h))), then = part_of(change.since, Math.max(finish, change.since));
      errors = errors.map((line, i) => line.map((one, j) => one + E.step ** 2 * slowed[i] * slowed[j]));
      cross = cross.map((one, i) => one + E.step ** 2 * slowed[i] * then);
      own += E.step ** 2 * (then ** 2 + part_of(Math.max(...rows.map(row => row.h)), finish) ** 2);
    }
    const used = there.filter(Boolean).length > 1 ? there : there.map(() => true), pick = list => list.filter((_, m) => used[m]);
    const lag = seen.lag.map(pick), ahead = pick(whole.goal), inv = count ? inverse(plus(covariance(lag), errors)) : [];
    const middle = mean(ahead), together = lag.map((column, i) => { const m = mean(column); return mean(column.map((one, k) => (one - m) * (ahead[k] - middle))) + cross[i]; });
    const gain = times(inv, together), apart = between(variance(ahead.map((one, m) => one - sum(lag.map((column, i) => gain[i] * column[m])))), variance(ahead));
    const spread = Math.sqrt(Math.max(apart + own - 2 * dot(cross, gain) + dot(gain, times(errors, gain)), 1e-8)), later = -dot(lag.map(mean), gain), expected = middle + later + (down_to_stop(rows) ? 0 : E.slowing * Math.max(later, 0));   // later than planned; seen done, it goes on no more
    if (only_spread) return { variance: spread ** 2 };
    const half = root([...errors.map((line, i) => [...line, cross[i]]), [...cross, own]]), z = normals(count + 1);
    const drawn = half.map(line => { const sums = new Float64Array(N); line.forEach((part, k) => { if (part) for (let m = 0; m < N; m++) sums[m] += part * z[k][m]; }); return sums; });
    const solved = count ? inverse(errors) : [], [chosen, agree] = chosen_of(seen.lag, solved), to_errors = times(solved, cross);
    const moved = chosen.map((m, n) => whole.goal[m] - drawn[count][n] + sum(to_errors.map((one, i) => one * (drawn[i][n] - seen.lag[i][m]))));
    const inside = moved.filter((_, n) => there[chosen[n]]), base = inside.length > 1 ? inside : moved, level = mean(base), wide = Math.max(Math.sqrt(variance(base)), 1e-12);
    const ln_hours = moved.map((one, n) => (there[chosen[n]] ? expected + spread * (one - level) / wide : whole.goal[chosen[n]]));
    return { seen, chosen, agree, ln_hours, inverse: inv, off: lag.map(column => -mean(column)), finish, variance: spread ** 2, pace: ln_hours.map((one, n) => Math.exp(whole.goal[chosen[n]] - one)) };
  }
  const down_to_stop = rows => { const own = rows.filter(row => row.thick); return own.length > 1 && own[0].h === 0 && D.ratio < 1 && own.at(-1).y <= own[0].y + Math.log(D.ratio); };
  const between = (left, before) => left * (1 - (1 - E.settled) * Math.max(1 - left / Math.max(before, 1e-12), 0));   // the members: all of it, or the share that weighings leave open
  function chosen_of(lag, solved) {                           // members, each about as often as it agrees with the log
    const all = Array.from({ length: M }, (_, m) => m);
    if (!lag.length) return [Array.from({ length: N }, (_, n) => Math.floor(n * M / N)), M];
    const agreed = all.map(m => { const own = lag.map(column => column[m]); return -0.5 * dot(own, times(solved, own)); }), top = Math.max(...agreed);
    const weights = power => { const raw = agreed.map(one => Math.exp(power * (one - top))), whole = sum(raw); return raw.map(one => one / whole); };
    const count = list => 1 / sum(list.map(one => one * one)), least = Math.min(E.least, M / 2);
    let low = 0, high = 1;
    for (let n = 0; n < 30; n++) { const middle = 0.5 * (low + high); if (count(weights(middle)) >= least) low = middle; else high = middle; }
    const share = weights(high), chosen = [];
    let k = 0, reached = share[0];
    for (let n = 0; n < N; n++) { while (reached < (n + 0.5) / N && k < M - 1) reached += share[++k]; chosen.push(k); }
    return [chosen, count(weights(1))];
  }
  function rounds(whole, seen, finish, change) {
    let found;
    for (let n = 0; n < E.rounds; n++) { found = updated(whole, seen, finish, change); finish = Math.exp(median(found.ln_hours)); }
    return found;
  }
  function fit(seen, whole) {
    let found = rounds(whole, seen, whole.finish, null);
    const clearest = clearest_step(seen, found.finish);
    if (clearest && clearest.clear > E.step_clear) found = { ...rounds(whole, seen, found.finish, clearest), step: clearest };
    return found;
  }
  function clearest_step(seen, finish) {                      // the change of pace at a weighing that would explain the log best
    const rows = seen.rows.list, all = [...new Set(rows.map(row => row.h))].sort((a, b) => a - b);
    const hours = all.slice(1, -1).filter(hour => hour * E.of_late >= all.at(-1));
    if (!hours.length) return null;
    const together = together_of(seen), off = together.map(one => -dot(one, seen.lag.map(mean))), inv = inverse(steady(seen, together, finish));
    return hours.map(since => {
      const slowed = times(seen.time, rows.map(row => -part_of(since, row.h))), pattern = times(together, slowed), half = times(inv, pattern), sure = Math.max(dot(pattern, half), 1e-12);
      const size = dot(half, off) / sure;
      return { since, clear: Math.abs(size) * Math.sqrt(sure) - (size > 0 ? E.step_rarer : 0) };
    }).reduce((best, one) => (one.clear > best.clear ? one : best));
  }
  function together_of(seen) {                                // one saying of all trays of a weighing, by mass, one of the marked piece
    const rows = seen.rows.later.map(n => seen.rows.list[n]), name = row => `${row.thick}/${row.h}`;
    return [...new Set(rows.map(name))].map(key => {
      const own = rows.map(row => (name(row) === key ? Math.exp(row.y) : 0)), whole = sum(own);
      return own.map(one => one / whole);
    });
  }
  function steady(seen, together, finish) {                   // covariance of these sayings in a dryer that nobody touched
    const rows = seen.rows.list, late = rows.map(row => Math.log(Math.max(row.h, E.step_noted) / finish)), own = own_paces(seen.rows), stood = paused(rows);
    const model = rows.map((a, i) => rows.map((b, j) => E.step_drift ** 2 * late[i] * late[j] + own[i][j] + E.step_paused ** 2 * dot(stood[i], stood[j])));
    const at = seen.rows.later.map(n => rows[n].h), share = (of, hour) => of / Math.max(hour, of);
    const noted = at.map(a => at.map(b => (a === b ? share(E.step_noted, a) ** 2 : 0) + share(E.clock, a) * share(E.clock, b)));
    const errors = plus(plus(sandwich(seen.time, model), sandwich(seen.mass, mass_errors(seen.rows))), noted);
    const said = together.map(one => Array.from({ length: M }, (_, m) => sum(one.map((share, i) => share * seen.lag[i][m]))));
    return plus(covariance(said), sandwich(together, errors));
  }
  function paused(rows) {                                     // for each row and pause before it: one over the hours dried
    const stood = rows.map(row => row.entry.hours - row.h), begun = [...new Set(stood.map(one => Math.round(100 * one)))].sort((a, b) => a - b).slice(1);
    return rows.map((row, i) => begun.map(one => (stood[i] > (one - 1) / 100 ? 1 / Math.max(row.h, E.step_noted) : 0)));
  }

  // --- when a log cannot be that of the plan ---------------------------------------------------------------------------------
  function contradiction(rows, whole, happened, seen) {
    const laid = load_as_laid(happened), [planned, wide] = D.ln_mass;
    if (laid && Math.abs(Math.log(laid) - planned) / Math.hypot(wide, E.handling) >= E.too_heavy) return { why: 'load', laid: 1000 * laid, planned: 1000 * Math.exp(planned) };
    if (rows.later.length) {
      const all = rows.later.map(n => rows.list[n].h), before = all.filter((h, i) => Math.log(h) + mean(seen.lag[i]) < Math.log(whole.finish));   // fish that is dry tells no pace
      const last = before.length ? Math.max(...before) : Math.min(...all), newest = rows.later.map((n, i) => [n, i]).filter(([n]) => rows.list[n].h === last);
      const slower = Array.from({ length: M }, (_, m) => -mean(newest.map(([, i]) => seen.lag[i][m]))), errors = lag_errors(seen, whole.finish);
      const wrong = mean(newest.flatMap(([, i]) => newest.map(([, j]) => errors[i][j]))), away = Math.abs(mean(slower)) / Math.sqrt(variance(slower) + wrong);
      const factor = Math.exp(Math.abs(median(slower)));
      if (!(away < E.too_far && (factor < E.too_many_times || as_heavy(rows, whole, last)))) return { why: median(slower) > 0 ? 'slow' : 'fast', times: factor };
    }
    const free = rows.list.length - new Set(rows.list.map(row => row.group)).size;
    if (free < 1) return null;
    const { off, inverse: inv } = foreseen(rows, whole);
    return dot(off, times(inv, off)) > D.unbelievable[Math.min(free, D.unbelievable.length) - 1] ? { why: 'course' } : null;
  }
  function as_heavy(rows, whole, last) {
    const said = rows.list.map(row => median(at(row.thick ? whole.piece : whole.load, row.h).map(Math.log)));
    return rows.list.every((row, n) => row.h !== last || Math.abs(Math.exp(row.y - rows.list[rows.first[n]].y) - Math.exp(said[n] - said[rows.first[n]])) < E.same_weight);
  }
  function load_as_laid(happened) {
    const whole = happened.list.find(one => one.g && (one.event === 'drained' || (one.tray === 'all' && one.hours === 0)));
    if (whole) return whole.g / 1000;
    const laid = new Map(happened.weighed.filter(one => one.hours === 0 && one.tray !== 'all' && one.tray !== 'thickest').map(one => [one.tray, one.g / 1000]));
    return laid.size === D.trays ? sum(laid.values()) : null;
  }

  // --- clocks and verdict -----------------------------------------------------------------------------------------------------
  function warm_counts(whole, happened, m, pace, clock) {     // the five counts of one member up to a moment on the clock
    const slow = Math.min(pace, 1), age = Math.min(happened.drying(Math.min(clock, 10 * LAST)) * slow, LAST);
    const standing = sum(happened.pauses.map(([begin, end, cold]) => (!cold && happened.drying(begin) * slow < whole.dry(m) ? clamp(clock - begin, 0, end - begin) : 0)));
    return whole.counts.map(count => count(m, age) / slow + standing);
  }
  const severest = (...all) => [0, 1].map(k => Math.max(...all.map(one => one[k])));
  const along = (steps, hours) => steps.filter(([above]) => hours > above).at(-1).slice(1);
  const by_warm = counts => {                                 // the whole is at least each of its parts
    const all = counts.map(one => one + D.judged.bench), whole = Math.max(...all);
    return severest(...COUNTS.map((name, n) => along(D.judged.warm[name], n ? all[n] : whole)));
  };
  const by_raw = (grown, warm) => along(D.judged.raw.filter(([above]) => warm > above).at(-1)[1], grown);
  function judged(whole, happened, chosen, pace, hours, soak = null) {   // what the rules say of these hours, and of those up to a soak once more
    const counted = (at, n) => warm_counts(whole, happened, chosen[n], pace[n], at);
    const ended = chosen.map((_, n) => (soak === null ? counted(hours[n], n) : plus([counted(hours[n], n)], [counted(soak, n)])[0])), upper = COUNTS.map((_, n) => cautious(ended.map(one => one[n])));
    const warm = cautious(chosen.map((m, n) => whole.warm(m) / Math.min(pace[n], 1) + happened.warm_pause));
    const sure = hours.filter(Number.isFinite).length >= 0.9 * hours.length;
    return { counts: upper, verdict: severest(by_warm(upper), by_raw(upper[0], warm), ...(sure ? [] : [D.judged.never])) };
  }
  const all_members = Array.from({ length: M }, (_, m) => m), no_pace = all_members.map(() => 1);
  function floor_of(happened, done) {                         // under this the verdict never falls
    const now = happened.dials.at(-1)[1], floors = happened.dials.flatMap(([, dial]) => beside(dial)).map(d => D.judged.floors[d]);
    if (done !== null) return severest(...floors);
    if (Math.abs(now - D.dials[D.home]) < 1e-6) return severest(D.judged.plan, ...floors);
    const plain = told([], 0), then = follow({ ...plain, dials: [[0, now]] });
    return severest(judged(then, plain, all_members, no_pace, then.piece.map((curve, m) => down_to(curve, D.done_at[m]))).verdict, ...floors);
  }
  function deadlines(whole, happened, fitted) {               // by when it must be done, from the hours that passed and those to come
    if (D.judged.best === null) return [];
    const end = LAST + happened.warm_pause, moment = n => end * n / (E.moments - 1), kept_counts = new Map();
    const upper = n => {
      if (!kept_counts.has(n)) { const all = fitted.chosen.map((m, at) => warm_counts(whole, happened, m, fitted.pace[at], moment(n))); kept_counts.set(n, COUNTS.map((_, k) => cautious(all.map(one => one[k])) + D.judged.bench)); }
      return kept_counts.get(n);
    };
    const passes = eat => Math.min(...COUNTS.map((name, k) => {  // the counts never fall, so the moment is found by halves
      const above = D.judged.warm[name].find(one => one[2] >= eat)?.[0];
      if (above === undefined || upper(E.moments - 1)[k] <= above) return Infinity;
      if (above < 0 || upper(0)[k] > above) return -Infinity;
      let low = 0, high = E.moments - 1;
      while (high - low > 1) { const n = (low + high) >> 1; if (upper(n)[k] > above) high = n; else low = n; }
      return moment(low) + (moment(high) - moment(low)) * (above - upper(low)[k]) / (upper(high)[k] - upper(low)[k]);
    }));
    const last = D.judged.eat.length - 1, found = [];
    for (const [hours, eat] of [[Math.min(passes(last - 1), passes(last)), D.judged.best], [passes(last), last - 1], [Infinity, last]]) {
      if (hours < 0 || found.at(-1)?.hours === Infinity) continue;
      const says = Math.max(eat, D.judged.best);
      if (found.at(-1)?.eat === says) found.pop();
      found.push({ hours, eat: says });
    }
    return found;
  }
  const own_weighings = (happened, aside) => { const own = happened.weighed.filter(one => one.tray === 'thickest' && !aside.includes(one)); return own.length && own[0].hours <= 0 ? own : []; };
  function seen_done(own) {                                   // when the marked piece came down to its weight: straight from weighing to weighing
    if (own.length < 2 || own.at(-1).g > D.ratio * own[0].g || D.ratio >= 1) return null;
    const left = []; for (const one of own) left.push(Math.min(one.g / own[0].g, left.at(-1) ?? Infinity));
    const k = left.findIndex(one => one <= D.ratio);
    return own[k - 1].hours + (own[k].hours - own[k - 1].hours) * (left[k - 1] - D.ratio) / (left[k - 1] - left[k]);
  }

  // --- one forecast -------------------------------------------------------------------------------------------------------------
  function learn(entries, now) {
    const happened = told(entries, now);
    const out = { happened, aside: [], hours: [null, null, null], next: null, against: null, few: false, step: null, by: [], curves: null, rows: 0 };
    if (happened.soaked || !happened.dials.every(([, dial]) => travels(dial))) {   // no hour; its warm hours are those of the nearest dial, drawn out to now
      const within = { ...happened, dials: happened.dials.map(([from, dial]) => [from, clamp(dial, D.dials[0], D.dials.at(-1))]) };
      const own = own_weighings(happened, []), done = happened.soaked ? null : seen_done(own);
      const whole = follow(within), found = refused(whole, within, done, { why: happened.soaked ? 'soaked' : 'dial' });
      if (happened.soaked) found.verdict = severest(found.verdict, soaked_again(whole, within));
      return Object.assign(out, found, { done, laid: laid_of(own) });
    }
    const whole = follow(happened), all = believed(rows_of(happened), whole), [rows, aside] = set_strange_aside(all, whole), own = own_weighings(happened, aside), done = seen_done(own);
    Object.assign(out, { aside: aside.map(one => one.n), done, laid: laid_of(own), rows: rows.later.length });
    const seen = lags(rows, whole);
    let against = contradiction(rows, whole, happened, seen);
    const fitted = against ? null : fit(seen, whole);
    if (fitted?.step?.clear > E.too_clear) against = { why: 'course' };
    if (against) return Object.assign(out, refused(whole, happened, done, against), { curves: curves_of(whole, happened, null) });
    const still = Math.max(0, ...own.filter(one => one.g > D.ratio * own[0].g).map(one => one.hours));
    let hours = fitted.ln_hours.map(one => (Math.exp(one) > LAST ? Infinity : happened.clock(Math.exp(one))));
    hours = hours.map(one => Math.max(one, still));
    const found = judged(whole, happened, fitted.chosen, fitted.pace, hours);
    return Object.assign(out, {
      hours: band(hours), verdict: severest(found.verdict, floor_of(happened, done)), counts: found.counts, by: deadlines(whole, happened, fitted), few: fitted.agree < E.few, agree: fitted.agree,
      step: fitted.step ? happened.clock(fitted.step.since) : null, next: next_weighing(whole, happened, fitted, hours), curves: curves_of(whole, happened, fitted),
    });
  }
  const laid_of = own => (own.length && own[0].hours === 0 ? own[0].g : null);
  function refused(whole, happened, done, against) {
    const planned = whole.piece.map((curve, m) => down_to(curve, D.done_at[m])), passed = happened.drying(done ?? happened.last);
    const pace = planned.map(one => (passed > one ? Math.max(one, 1e-3) / Math.max(passed, 1e-3) : 1)), hours = planned.map((one, m) => happened.clock(one / pace[m]));
    return { against, verdict: severest(judged(whole, happened, all_members, pace, hours).verdict, floor_of(happened, null), D.judged.lost) };
  }
  function soaked_again(whole, happened) {                    // moist anew: to what its clocks have they may count all once more, at the pace it had before
    const soak = happened.list.find(one => one.event === 'freshened').hours, before = { ...told(happened.list.filter(one => one.hours < soak), happened.t0 + 3.6e6 * soak), dials: happened.dials };
    const [rows] = before.weighed.length ? set_strange_aside(believed(rows_of(before), whole), whole) : [null], found = rows?.later.length ? fit(lags(rows, whole), whole) : { chosen: all_members, pace: no_pace };
    return judged(whole, happened, found.chosen, found.pace, found.chosen.map(() => Infinity), soak).verdict;
  }
  const tenth = hours => Math.round(hours * 10) / 10;
  function next_weighing(whole, happened, fitted, hours) {    // when a weighing would narrow the forecast most
    const known = hours.filter(Number.isFinite);
    if (!known.length) return tenth(happened.last + 2);
    const begin = happened.last + E.next, end = quantile(known, 0.1);
    if (end <= begin) return median(known) > happened.last ? tenth(begin) : null;
    const moments = Array.from({ length: 9 }, (_, n) => begin + (end - begin) * n / 8), way = paced(whole, fitted), left = moments.map(moment => sureness(whole, fitted, way, happened.drying(moment)));
    return tenth(moments[left.indexOf(Math.min(...left))]);
  }
  function sureness(whole, fitted, way, hours) {              // variance of ln hours once the marked piece, or every tray, is weighed again
    let rows = fitted.seen.rows;
    if (!rows.list.length) rows = grouped([{ entry: { hours: 0 }, h: 0, y: D.ln_mass[0], group: 0, thick: false, places: [] }], { scale: E.steps.at(-1), ...PLAIN });
    const marked = rows.list.some(row => row.thick), likes = [...new Set(rows.first.filter(n => !marked || rows.list[n].thick))];
    const more = likes.map(n => { const row = rows.list[n], curves = row.thick ? way.piece : way.load; return { ...row, h: hours, y: row.y + Math.log(median(at(curves, hours)) / median(at(curves, row.h))) }; });
    return updated(whole, lags(grouped([...rows.list, ...more], rows), whole, fitted.seen), fitted.finish, null, true).variance;
  }
  function curves_of(whole, happened, fitted) {               // weight left of the marked piece and of a tray at hours on the clock: low, middle, high
    const way = fitted ? paced(whole, fitted) : whole, of = (curves, clock) => { const values = at(curves, happened.drying(clock)); return [0.1, 0.5, 0.9].map(share => quantile(values, share)); };
    return { piece: clock => of(way.piece, clock), load: clock => of(way.load, clock) };
  }
  return { learn, told, travels, step_of, members: M };
}
