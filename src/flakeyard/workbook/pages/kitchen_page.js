// The screen of the kitchen page: what to do now and next, a number pad, and the log kept where the phone keeps things.
// It computes nothing itself: `learner` does, with the numbers of the plan, and every sentence comes from the table of messages.

const D = JSON.parse(document.getElementById('data').textContent), $ = name => document.getElementById(name);
const MARKED = 'thickest', OUNCE = D.ounce, MINUTE = 60000, HOUR = 60 * MINUTE, KEY = `flakeyard ${D.id}`;
const say = (name, words = {}) => (D.words[name] ?? name).replace(/{(\w+)}/g, (_, key) => words[key] ?? '');
const node = (kind, text, more = {}) => Object.assign(document.createElement(kind), { textContent: text }, more);
const button = (text, onclick, more = {}) => node('button', text, { type: 'button', onclick, ...more });
const texts = () => D.texts[state.system];

// --- the log: kept in the browser, in the page's address where that is locked -------------------------------------------------
let state = { system: D.system, entries: [], alarm: false }, past = [], brain = null, found = null, locked = false;
const whole = t => Math.floor(t / MINUTE) * MINUTE;
const sample = one => one.sample !== undefined || one.cells?.oven_dry_g !== undefined, on_scale = one => one.g && !sample(one);   // a sample is no weighing of the fish that dries
const weighed = (tray = null) => state.entries.filter(one => on_scale(one) && !one.aside && (tray === null || one.tray === tray)).sort((a, b) => a.t - b.t);
function remember() {
  let text = null;
  try { text = localStorage.getItem(KEY); } catch { locked = true; }
  try {
    const told = JSON.parse(text ?? (location.hash.length > 2 ? decodeURIComponent(location.hash.slice(1)) : 'null'));
    if (Array.isArray(told?.state?.entries)) ({ state, past } = told);
  } catch { /* what cannot be read is left alone */ }
}
function keep() {
  const text = JSON.stringify({ state, past });
  try { localStorage.setItem(KEY, text); locked = false; } catch { locked = true; }
  if (locked && !D.ask) history.replaceState(null, '', `#${encodeURIComponent(JSON.stringify({ state, past: [] }))}`);   // a file on the laptop needs no address
}
function change(what) {
  past = [...past, JSON.stringify(state)].slice(-40);
  what();
  keep(); think(); draw(); tell_laptop();
}
const add = more => state.entries.push({ id: 1 + Math.max(0, ...state.entries.map(one => one.id)), t: whole(Date.now()), tray: 'all', g: null, event: '', dial: null, note: '', ...more });
function think() {
  const used = state.entries.filter(one => !one.aside);
  found = brain.learn(used.map(one => (sample(one) ? { ...one, g: null, cut: !!one.g } : one)), Date.now());
  found.aside_ids = found.aside.map(n => used[n].id);
  found.measured = used.some(one => Object.keys(one.cells ?? {}).some(name => D.measured.includes(name)));   // only the laptop learns from these
  if (found.measured) found.verdict = found.verdict.map((place, n) => Math.max(place, D.judged.unknown[n]));
}

// --- amounts and moments in words -----------------------------------------------------------------------------------------------
const us = () => state.system === 'us', unit = () => (us() ? 'oz' : 'g');
const signed = text => String(text).replace('.', D.point);          // a number as the language writes it
const weight = g => (us() ? `${signed((g / OUNCE).toFixed(2))}\u00a0oz` : `${signed(+g.toFixed(1))}\u00a0g`);
const stop_at = laid => (us() ? `${signed((Math.floor(D.percent * laid / OUNCE + 1e-3) / 100).toFixed(2))}\u00a0oz` : `${Math.floor(D.percent * laid / 100 + 1e-9)}\u00a0g`);
const two = number => String(number).padStart(2, '0');
const time_of = t => { const at = new Date(t); return `${two(at.getHours())}:${two(at.getMinutes())}`; };
function clock(t) {                                           // a time of day; with the weekday where it is another day
  const at = new Date(t), same = at.toDateString() === new Date().toDateString();
  return same ? time_of(t) : `${at.toLocaleDateString(document.documentElement.lang, { weekday: 'short' })} ${time_of(t)}`;
}
const five = (hours, round) => found.happened.t0 + 5 * MINUTE * round(hours * 12);   // told to five minutes
const hours_words = (h, rounded = Math.round) => {                 // as the plan's text says them: halves below ten, the ends of a range outwards
  const halves = h >= 10 ? 2 * rounded(h) : Math.max(rounded(2 * h), 1), whole = Math.floor(halves / 2);
  return `${[whole || (halves % 2 ? '' : '0'), halves % 2 ? '1/2' : ''].filter(Boolean).join(' ')}\u00a0h`;
};
const degrees = c => (us() ? `${Math.round(1.8 * c + 32)}\u00a0°F` : `${Math.round(c)}\u00a0°C`);
const tray_words = tray => (tray === MARKED ? say('marked') : tray === 'all' ? say('all') : say('tray', { tray }));
const paused = () => found.happened.open, soaked = () => found.happened.soaked;   // once soaked again it has no weight to stop at

// --- what to do now and next ------------------------------------------------------------------------------------------------------
function advice(now) {                                        // kind, what to do, more of it, the next moment and what it is for
  const begun = weighed().length > 0, { hours: [low, mid], against, next, done } = found, at = hours => found.happened.t0 + hours * HOUR;
  if (!begun) return ['', say('lay'), say('lay_more', { dial: degrees(dial_now()) })];
  if (now - found.happened.list.at(-1).t > D.old * HOUR) return ['odd', say('old_log'), say('old_log_more', { clock: new Date(found.happened.list.at(-1).t).toLocaleDateString(document.documentElement.lang) })];
  if (refused()) return ['odd', say('refused_now'), say('refused_more')];
  if (done !== null && found.measured) return ['odd', say('reading_done'), of_reading()];
  if (done !== null) return severer() ? ['odd', say('done'), say('severer')] : ['done', say('done'), say('done_more')];
  if (paused()) return ['due', say('paused', { clock: clock(paused().t) }), say(paused().event === 'pause' ? 'paused_room' : 'paused_cold')];
  if (soaked()) return ['odd', say('ask_now'), `${why_words(against)} ${say(D.ask ? 'ask_soaked_here' : 'ask_soaked')}`];
  if (against) return ['odd', say('by_weight'), `${why_words(against)} ${say('ask_laptop')}`];
  const odd = state.entries.find(one => found.aside_ids.includes(one.id) && now - one.t < HOUR / 4);
  if (odd) return ['odd', say('weigh_again', { what: tray_words(odd.tray) }), say('set_aside', { weight: weight(odd.g), clock: clock(odd.t) })];
  const late = low !== null && now >= at(low), due = next === null ? late : now >= at(next) - MINUTE / 2;
  if (due) return ['due', say(laid() ? 'weigh_now' : 'weigh_trays'), say(late ? 'may_be_done' : 'weigh_more')];
  const begins = at(next ?? low ?? found.happened.last + 1);
  return ['', say('dry', { dial: degrees(dial_now()) }), '', begins, say(low !== null && begins >= at(low) - HOUR / 4 ? 'next_done' : laid() ? 'next_weigh' : 'next_trays')];
}
const refused = () => found.verdict[0] >= D.judged.never[0] || found.verdict[1] >= D.judged.never[1];
const of_reading = () => say(D.ask ? 'reading_here' : 'reading');   // on the laptop itself its answer stands beside
const severer = () => found.verdict.some((place, n) => place > D.judged.plan[n]);
const laid = () => found.laid ?? null;
const dial_now = () => state.entries.filter(one => one.dial !== null).sort((a, b) => a.t - b.t).at(-1)?.dial ?? D.dial;
const why_words = ({ why, ...more }) => say(`why_${why}`, { times: more.times && signed(more.times.toFixed(1)), laid: more.laid && weight(more.laid), planned: more.planned && weight(more.planned), dial: degrees(dial_now()), low: degrees(D.turns[0]), high: degrees(D.turns[1]) });
function forecast() {
  const [low, mid, high] = found.hours, [from, to] = [D.plan[0], D.plan[2]];
  if (found.done !== null) return say('was_done', { clock: clock(five(found.done, Math.round)) });
  if (!weighed().length) return D.plan[1] === null ? say('never') : say(to === null ? 'planned_open' : 'planned', { mid: hours_words(D.plan[1]), low: hours_words(from, Math.floor), high: to && hours_words(to, Math.ceil) });
  if (found.against) return say('no_hour');
  if (mid === null) return say('never');
  const words = { mid: clock(five(mid, Math.round)), low: clock(five(low, Math.floor)), high: high && clock(five(high, Math.ceil)) };
  return `${say(high === null ? 'forecast_open' : 'forecast', words)}${found.few ? ` ${say('few')}` : ''}`;
}
function by_when(now) {                                       // the deadlines of the verdict by the clock
  if (found.against || found.done !== null || !weighed().length) return '';
  return found.by.slice(0, -1).map((one, n) => {
    const t = five(one.hours, Math.floor), later = D.judged.later[found.by[n + 1].eat];
    return say(now < t ? 'by' : 'by_past', { clock: clock(t), eat: later });
  }).join(' ');
}
function drawSee() {
  const now = Date.now(), [kind, step, more, next, then] = advice(now), begun = weighed().length > 0, last = weighed(MARKED).at(-1);
  $('time').textContent = time_of(now); $('now').dataset.kind = kind; if (!kind) delete $('now').dataset.kind;
  put('step', step); put('more', more); $('next').hidden = !next;
  if (next) { $('clock').textContent = clock(next); $('then').textContent = then; }
  $('grams').textContent = soaked() ? '?' : laid() ? stop_at(laid()) : `${D.percent} %`;
  put('laid', soaked() ? say('no_stop') : laid() ? say(last.t > found.happened.t0 ? 'laid_last' : 'laid', { laid: weight(laid()), last: weight(last.g), clock: clock(last.t) }) : say(begun ? 'not_laid' : 'of_laid')); if (found.measured && !soaked()) put('laid', `${$('laid').textContent.replace(/\.?$/, '.')} ${say('reading_stop')}`);
  put('said', forecast());
  const odd = state.entries.filter(one => one.aside || found.aside_ids.includes(one.id)), strange = found.step !== null && !found.against ? say('changed', { clock: clock(five(found.step, Math.round)) }) : '';
  put('odd', [odd.length ? say('odd', { what: odd.map(one => `${weight(one.g)} (${clock(one.t)})`).join(', ') }) : '', strange, found.measured && found.done === null ? of_reading() : ''].filter(Boolean).join(' '));
  const late = by_when(now); put('late', late && found.measured ? `${late} ${say('reading_by')}` : late);
  const [keeping, eating] = found.verdict, unknown = D.judged.unknown;
  $('verdict').textContent = say('verdict', { keep: D.judged.keep_words[keeping].join(' '), eat: D.judged.eat_words[eating].join(' ') });
  put('judged', [severer() ? say('severer') : '', keeping === unknown[0] || eating === unknown[1] ? texts().not_known : '', eating === D.judged.cook ? texts().cook : '', texts().caution].filter(Boolean).join(' '));
  const heed = severer() && found.done !== null ? [] : texts().heed[found.done !== null ? 'done' : begun ? 'dry' : 'lay'];   // no packing of what the plan did not grant
  if ($('heed').dataset.said !== heed.join()) { $('heed').replaceChildren(...heed.map(line => node('li', line))); $('heed').dataset.said = heed.join(); }
  $('pause').textContent = say(paused() ? 'go_on' : 'pause'); $('measure').disabled = !begun; $('pause').disabled = $('dial').disabled = !begun || (found.done !== null && !found.measured); $('undo').disabled = !past.length;
  $('weigh').textContent = say(begun ? 'weigh' : 'weigh_laid');
  picture(now);
}
const put = (name, text) => { if ($(name).textContent !== text) $(name).textContent = text; $(name).hidden = !text; };
const ask_here = (...answers) => { $('answers').replaceChildren(...answers.map(([text, act]) => button(text, () => { $('answers').replaceChildren(); act(); }))); $('answers').firstChild?.focus(); };

// --- the picture, by the machine of the panels ---------------------------------------------------------------------------------------
let store = null;
const round4 = value => +value.toPrecision(4);
function picture(now) {
  const begun = weighed().length > 0, t0 = begun ? found.happened.t0 : now, passed = (now - t0) / HOUR, [, mid, high] = found.hours;
  const end = Math.max(2, Math.min(D.horizon, 1.12 * Math.max(high ?? 1.5 * (mid ?? D.plan[1] ?? 24), found.happened.last, Math.min(passed, 24)))), least = Math.max(0, 10 * Math.floor(D.percent / 10 - 0.5));
  const xs = Array.from({ length: 49 }, (_, n) => end * n / 48), marks = [], inside = value => Math.max(least, Math.min(102, 100 * value));
  if (found.curves) {
    const [low, middle, up] = [0, 1, 2].map(k => xs.map(x => round4(inside(found.curves.piece(x)[k]))));
    if (!found.against) marks.push({ kind: 'band', style: 'now', x: xs, low, high: up }, { kind: 'curve', style: 'now', x: xs, y: middle, words: '' });
    else marks.push({ kind: 'band', style: 'untested', x: xs, low, high: up });
  }
  if (!soaked()) marks.push({ kind: 'curve', style: 'stop', x: [0, end], y: [D.percent, D.percent], words: say('stop_mark') });
  if (begun && passed < end) marks.push({ kind: 'curve', style: 'later', x: [passed, passed], y: [least, 100], words: '' });
  if (mid !== null && mid <= end && !found.against) marks.push({ kind: 'point', shape: 's', x: mid, y: D.percent, words: begun && found.done === null ? clock(five(mid, Math.round)) : '' });
  for (const one of state.entries) if (on_scale(one) && one.tray === MARKED && laid()) {
    const x = (one.t - t0) / HOUR, y = inside(one.g / laid());
    marks.push(one.aside || found.aside_ids.includes(one.id) ? { kind: 'label', x, y, words: '✕', anchor: 'middle', strong: true } : { kind: 'point', x, y, words: '' });
  }
  const steps = [1, 2, 3, 4, 6, 8, 12, 24, 48, 96, 168, 336], jump = steps.find(step => end / step <= 5) ?? 336, ticks = Array.from({ length: Math.floor(end / jump) + 1 }, (_, n) => n * jump);
  const across = { label: say(begun ? 'axis_clock' : 'axis_hours'), low: 0, high: end, ticks: ticks.map(x => [x, begun ? time_of(t0 + x * HOUR) : String(x)]) };
  const levels = [100, 80, 60, 40, 20].filter(level => level > D.percent + 6), bare = text => text.split('\u00a0')[0];
  const shown = level => (laid() ? bare(us() ? weight(level * laid() / 100) : weight(Math.round(level * laid() / 10) / 10)) : `${level}`);
  const up = { label: say(laid() ? 'axis_weight' : 'axis_share', { unit: unit() }), low: least, high: 102, ticks: [[D.percent, laid() ? bare(stop_at(laid())) : `${D.percent}`], ...levels.map(level => [level, shown(level)])] };
  const alt = say('alt', { number: weighed(MARKED).length, said: $('said').textContent });
  const record = { values: {}, who: '', serial: 0, fields: [{ across, up, marks, share: 1, slim: 44, margin: 44, tall: 210 }], handles: [], buttons: [], ghost: null, guess: null, numbers: [], chips: [], sentence: '', sure: '', caution: '', reply: '', spoken: '', alt };
  if (store) return store.answer(record);
  store = live.makeStore({ title: say('picture'), prompt: '', controls: [], styles: D.styles, ramps: D.ramps, words: D.live_words, look_for: [], plays: '', guess_prompt: '' }, record, () => {});
  live.show($('picture'), store);
}

// --- the number pad: a round of weighings, one row to correct, the dial, or a reading -------------------------------------------------------------
let view = 'see', digits = '', tray = MARKED, round = 0, edit = null, mark = '', turning = false, form = null;
const names = () => [...new Set([MARKED, ...Array.from({ length: D.trays }, (_, n) => String(n + 1)), ...state.entries.filter(on_scale).map(one => one.tray)])];
const here = name => state.entries.find(one => on_scale(one) && one.tray === name && one.t === round);
let clicked = 0, turned = 0;                                    // the second half of a double click presses nothing of the view that came meanwhile
addEventListener('click', event => {
  if (event.detail > 1 && event.timeStamp - turned < 500) { event.stopImmediatePropagation(); event.preventDefault(); }
  clicked = event.timeStamp;
  if (state.alarm) sound ??= new AudioContext();               // after a reload it may sound only once it was touched
}, true);
const show_view = name => { turned = clicked; view = name; for (const one of ['see', 'pad', 'book']) $(one).hidden = one !== name; scrollTo(0, 0); draw(); };
function open_pad(row = null, dial = false) {
  edit = row; turning = dial; form = null; digits = ''; round = row ? row.t : whole(Date.now()); mark = MARKS.includes(row?.event) ? row.event : '';
  tray = row ? row.tray : names().find(name => !here(name)) ?? MARKED; $('question').hidden = true;
  show_view('pad'); $('enter').focus({ preventScroll: true });
}
const MARKS = ['taken out', 'freshened'];                      // after these a tray begins anew at its weight
const value_of = () => { const typed = parseFloat(digits); return turning ? (us() ? (typed - 32) / 1.8 : typed) : us() ? typed * OUNCE : typed; };
const allowed = () => { const value = value_of(); return form ? may_read() : turning ? value >= D.dial_ends[0] - 1e-6 && value <= D.dial_ends[1] + 1e-6 : value >= 1 && value <= 100000; };
function drawPad() {
  for (const one of ['taken', 'soaked']) $(one).hidden = true;
  if (form) return drawForm();
  const before = weighed(tray).filter(one => one.t < round).at(-1), value = here(tray);
  $('names').hidden = turning; $('soaked').hidden = turning || !before; $('taken').hidden = $('soaked').hidden || tray === MARKED;
  $('which').textContent = turning ? say('turned') : `${edit ? `${say('correct')}: ` : ''}${tray_words(tray)}`; $('round').textContent = clock(round);
  $('names').replaceChildren(...names().map(name => {
    const own = here(name), one = button(name === MARKED ? `◆ ${say('marked_short')}` : name, () => { tray = name; digits = ''; if (mark !== 'freshened') mark = ''; $('question').hidden = true; drawPad(); }, { disabled: !!edit && name !== tray, ariaPressed: name === tray });
    one.append(node('span', own ? weight(own.g) : '–')); one.setAttribute('aria-label', `${tray_words(name)}${own ? `, ${weight(own.g)}` : ''}`);
    return one;
  }));
  $('before').textContent = turning ? say('dial_from', { low: degrees(D.turns[0]), high: degrees(D.turns[1]), dial: degrees(dial_now()) }) : before ? say('last_time', { weight: weight(before.g), clock: clock(before.t) }) : say('fish_only');
  $('typed').textContent = `${signed(digits) || (turning ? '–' : value ? weight(value.g).split('\u00a0')[0] : '0')} ${turning ? degrees(0).slice(-2) : unit()}`;
  $('taken').textContent = say('taken'); $('taken').setAttribute('aria-pressed', mark === 'taken out'); $('soaked').setAttribute('aria-pressed', mark === 'freshened');
  $('enter').textContent = say(!edit && !turning && names().slice(names().indexOf(tray) + 1).some(name => !here(name)) ? 'enter_next' : 'enter'); $('enter').disabled = !allowed();
  $('ready').textContent = say(turning || edit ? 'cancel' : 'ready');
}
function type(key) {
  if (key === '⌫') digits = digits.slice(0, -1); else if (!(key === '.' && digits.includes('.')) && digits.length < 7) digits += key;
  $('question').hidden = true; drawPad();
}
function question(text, ...answers) {
  $('asked').textContent = text; $('question').hidden = false;
  $('choices').replaceChildren(...answers.map(([words, act]) => button(words, () => { $('question').hidden = true; act(); }))); $('choices').firstChild.focus();
}
const again = () => [say('type_again'), () => { digits = ''; drawPad(); $('enter').focus(); }];
function enter() {
  if (!allowed()) return;
  if (form) return enter_reading();
  const value = value_of();
  if (turning) { view = 'see'; return change(() => { add({ dial: +value.toFixed(2) }); show_view('see'); }); }
  const g = +value.toFixed(us() ? 4 : 2), before = weighed(tray).filter(one => one.t < round).at(-1), after = weighed(tray).find(one => one.t > round), first = weighed(tray).filter(one => one.t < round)[0];
  const step = brain.step_of(weighed().map(one => one.g / 1000)) * 1000, gains = (one, other) => other > one * (1 + D.gain) && other > one + Math.max(1000 * D.gain_kg, step);
  if (!mark && before && gains(before.g, g)) return question(say('gained', { weight: weight(g), before: weight(before.g), clock: clock(before.t) }), again(),
    ...(before === first ? [] : [[say('this_one', { weight: weight(g) }), () => put_down(g, () => { before.aside = true; })]]));
  if (!mark && after && !MARKS.includes(after.event) && gains(g, after.g)) return question(say('gained', { weight: weight(after.g), before: weight(g), clock: clock(round) }), again());
  if (!mark && first && g < D.least_left * first.g) return question(say('too_light', { weight: weight(g), laid: weight(first.g) }), again());
  const usual = before && !mark && !edit && expected(first);
  if (usual && Math.abs(g / usual - 1) > D.jump) return question(say(g > usual ? 'heavier' : 'lighter', { weight: weight(g), usual: weight(Math.round(usual)), percent: Math.round(100 * Math.abs(g / usual - 1)) }), again(), [say('it_is_right'), () => put_down(g)]);
  put_down(g);
}
function expected(first) {                                    // by the middle of the forecast, of a tray nothing happened to
  if (!found.curves || found.against || state.entries.some(one => one.tray === tray && one.event) || first.t !== found.happened.t0) return null;
  return first.g * found.curves[tray === MARKED ? 'piece' : 'load']((round - found.happened.t0) / HOUR)[1];
}
function put_down(g, also = () => {}) {
  const old = edit ?? here(tray), event = mark, follows = edit ? null : names().slice(names().indexOf(tray) + 1).find(name => !here(name)), own = tray;
  digits = ''; if (mark !== 'freshened') mark = '';             // a soak is that of all trays of its round
  if (follows) tray = follows; else view = 'see';
  change(() => { also(); if (old) Object.assign(old, { g, event, aside: false }); else add({ t: round, tray: own, g, event }); });
  if (!follows) { show_view('see'); $('weigh').focus({ preventScroll: true }); }
}

// --- a reading: what a meter, a strip or an oven says of the fish, for the laptop; the names of its cells are those of a log ------------
const KINDS = { meter: ['water_activity', 'water_activity_error'], strip: ['strip_salt_percent'], oven: ['sample', 'oven_dry_g'] };
const UNITS = { strip_salt_percent: '%', sample: 'g', oven_dry_g: 'g' };
const kind_of = one => (sample(one) ? 'oven' : on_scale(one) ? undefined : Object.keys(KINDS).find(kind => one.cells?.[KINDS[kind][0]] !== undefined));
function open_form(kind, row = null) {
  const told = row ? { ...row.cells, sample: row.sample ?? row.g } : {};
  form = { kind, row, at: row && kind === 'oven' ? 1 : 0, tray: row?.tray ?? (kind === 'meter' ? MARKED : 'all'), values: Object.fromEntries(KINDS[kind].filter(name => told[name]).map(name => [name, Number(told[name])])) };
  digits = ''; turning = false; edit = row; round = row ? row.t : whole(Date.now()); $('question').hidden = true;
  show_view('pad'); $('enter').focus({ preventScroll: true });
}
function may_read() {                                         // the first number must be told, what comes after it need not be
  const name = KINDS[form.kind][form.at], [low, high] = D.ends[name], value = digits ? parseFloat(digits) : form.values[name];
  return value === undefined ? form.at > 0 : value >= low - 1e-9 && value <= high + 1e-9 && !(name === 'oven_dry_g' && value >= form.values.sample);
}
function drawForm() {
  const fields = KINDS[form.kind], name = fields[form.at], [low, high] = D.ends[name], shown = field => form.values[field] ?? '–';
  $('names').hidden = false; $('taken').hidden = form.kind === 'strip'; $('taken').textContent = say('of_marked'); $('taken').setAttribute('aria-pressed', form.tray === MARKED);
  $('which').textContent = `${form.row ? `${say('correct')}: ` : ''}${say(`kind_${form.kind}`)}`; $('round').textContent = clock(round);
  $('names').replaceChildren(...fields.map((field, n) => {
    const one = button(say(`field_${field}`), () => { form.at = n; digits = ''; drawPad(); }, { ariaPressed: n === form.at, disabled: n > 0 && form.values[fields[0]] === undefined });
    one.append(node('span', shown(field)));
    return one;
  }));
  $('before').textContent = `${say(`help_${name}`)} ${say('from_to', { low, high })}`;
  $('typed').textContent = `${digits || shown(name)} ${UNITS[name] ?? ''}`;
  $('enter').textContent = say(form.at < fields.length - 1 ? 'enter_next' : 'enter'); $('enter').disabled = !allowed(); $('ready').textContent = say('cancel');
}
function enter_reading() {
  const fields = KINDS[form.kind];
  if (digits) form.values[fields[form.at]] = parseFloat(digits);
  digits = '';
  if (form.at < fields.length - 1) { form.at++; return drawPad(); }
  const { row, tray, values } = form, decimals = name => values[name].toFixed(3).replace(/0$/, ''), cells = Object.fromEntries(fields.filter(name => name !== 'sample' && values[name] !== undefined).map(name => [name, decimals(name)]));
  const others = Object.fromEntries(Object.entries(row?.cells ?? {}).filter(([name]) => !fields.includes(name)));
  const told = { tray, cells: { ...others, ...cells }, g: cells.oven_dry_g ? values.sample : null, note: values.sample && !cells.oven_dry_g ? say('sample_waits', { weight: values.sample }) : '', ...(values.sample ? { sample: values.sample } : {}) };
  form = null; view = 'see';
  change(() => { if (row) Object.assign(row, told); else add({ t: round, ...told }); });
  show_view('see'); $('measure').focus({ preventScroll: true });
}
function reading_words(one) {
  const kind = kind_of(one), told = { ...one.cells, sample: one.sample ?? one.g };
  return `${say(`kind_${kind}`)}: ${KINDS[kind].filter(name => told[name] !== undefined).map(name => `${say(`field_${name}`)} ${told[name]}`).join(', ')}`;
}

// --- the log as a list and as a file ----------------------------------------------------------------------------------------------------
const zone = at => { const off = -at.getTimezoneOffset(); return `${off < 0 ? '-' : '+'}${two(Math.floor(Math.abs(off) / 60))}:${two(Math.abs(off) % 60)}`; };
const stamp = t => { const at = new Date(t); return `${at.getFullYear()}-${two(at.getMonth() + 1)}-${two(at.getDate())} ${time_of(t)}${zone(at)}`; };
const cell = text => (/[",\n]/.test(text) ? `"${text.replaceAll('"', '""')}"` : text);
function csv() {                                              // as `flakeyard log` reads it; what was set aside by hand keeps its place, without its weight
  const mass = us() ? 'mass_oz' : 'mass_g', dial = us() ? 'dial_f' : 'dial_c', more = [...new Set(state.entries.flatMap(one => Object.keys(one.cells ?? {})))];
  const rows = [...state.entries].sort((a, b) => a.t - b.t || a.id - b.id).map(one => [
    stamp(one.t), one.tray, one.g && !one.aside ? String(us() ? +(one.g / OUNCE).toFixed(sample(one) ? 4 : 3) : +one.g.toFixed(2)) : '', one.event, one.dial === null ? '' : String(+(us() ? 1.8 * one.dial + 32 : one.dial).toFixed(2)),
    one.aside ? say('aside_note', { weight: weight(one.g) }) : one.note ?? '', ...more.map(name => one.cells?.[name] ?? '')]);
  return [['time', 'tray', mass, 'event', dial, 'note', ...more], ...rows].map(row => row.map(cell).join(',')).join('\n') + '\n';
}
function cells_of(text) {
  const rows = [[]]; let held = '', quoted = false;
  for (let n = 0; n < text.length; n++) {
    const sign = text[n];
    if (quoted) { if (sign !== '"') held += sign; else if (text[n + 1] === '"') { held += '"'; n++; } else quoted = false; }
    else if (sign === '"') quoted = true;
    else if (sign === ',' || sign === '\n') { rows.at(-1).push(held.trim()); held = ''; if (sign === '\n') rows.push([]); }
    else held += sign;
  }
  rows.at(-1).push(held.trim());
  return rows.filter(row => row.some(Boolean) && !row[0].startsWith('#'));
}
const IN_GRAMS = { mass_g: 1, mass_kg: 1000, mass_oz: OUNCE, mass_lb: 16 * OUNCE };
function entries_of(text) {                                   // a log as this page writes it, or one with whole dates; else words on what cannot be read
  const [head, ...rows] = cells_of(text.replace(/^\ufeff/, '').replaceAll('\r', '')), column = head.find(name => name in IN_GRAMS), at = name => head.indexOf(name);
  if (at('time') < 0 || at('tray') < 0 || !column) throw new Error(say('no_columns'));
  const known = ['time', 'tray', 'event', 'note', 'dial_c', 'dial_f', column];
  return rows.map((row, n) => {
    const of = name => row[at(name)] ?? '', when = /^(\d{4}-\d\d-\d\d)[ T](\d\d:\d\d)(?::\d\d)?\s*(Z|[+-]\d\d:?\d\d)?$/i.exec(of('time')), number = text => { const value = text ? Number(text) : null; if (Number.isNaN(value)) throw new Error(say('bad_number', { line: n + 2, text })); return value; };
    const t = when ? Date.parse(`${when[1]}T${when[2]}:00${when[3] ?? ''}`) : NaN, g = number(of(column)), dial = number(of('dial_c')) ?? (of('dial_f') ? (number(of('dial_f')) - 32) / 1.8 : null);
    if (Number.isNaN(t)) throw new Error(say('bad_time', { line: n + 2, text: of('time') }));
    const cells = Object.fromEntries(head.map((name, k) => [name, row[k] ?? '']).filter(([name, text]) => text && !known.includes(name)));
    return { id: n + 1, t: whole(t), tray: of('tray') || 'all', g: g === null ? null : +(g * IN_GRAMS[column]).toFixed(3), event: of('event').toLowerCase(), dial, note: of('note'), ...(Object.keys(cells).length ? { cells } : {}) };
  });
}
function drawBook() {
  $('book_title').textContent = say('book'); put('kept', say(D.ask ? 'kept_file' : locked ? 'kept_address' : 'kept', { number: state.entries.length, file: D.log_name }));
  $('rows').replaceChildren(...[...state.entries].sort((a, b) => b.t - a.t || b.id - a.id).map(one => {
    const read = kind_of(one), what = read ? reading_words(one) : one.g ? tray_words(one.tray) : one.dial !== null ? say('turned') : say(`event_${one.event.replace(' ', '_')}`), more = read ? '' : one.g ? weight(one.g) : one.dial !== null ? degrees(one.dial) : '';
    const odd = one.aside || found.aside_ids.includes(one.id) ? `, ✕ ${say('aside')}` : '', line = node('li', ''), taken_out = one.event && on_scale(one) ? `, ${say(`event_${one.event.replace(' ', '_')}`)}` : '';
    const fix = button(say('correct'), () => (read ? open_form(read, one) : open_pad(one)), { disabled: !one.g && !read }), drop = button(say('delete'), () => change(() => { state.entries = without(one); }));
    for (const each of [fix, drop]) each.setAttribute('aria-label', `${each.textContent}: ${what} ${clock(one.t)}`);
    line.append(node('span', `${clock(one.t)} ${what} ${more}${taken_out}${odd}`), fix, drop);
    return line;
  }));
  $('text').value = csv(); $('alarm').setAttribute('aria-pressed', state.alarm);
}
const without = row => {                                      // a pause goes with its end
  const ends = row.event.startsWith('pause') ? state.entries.filter(one => one.event === 'go on' && one.t >= row.t).sort((a, b) => a.t - b.t)[0] : null;
  const starts = row.event === 'go on' ? state.entries.filter(one => one.event.startsWith('pause') && one.t <= row.t).sort((a, b) => b.t - a.t)[0] : null;
  return state.entries.filter(one => one !== row && one !== ends && one !== starts);
};
function save() {
  const link = node('a', '', { href: URL.createObjectURL(new Blob([csv()], { type: 'text/csv' })), download: D.log_name });
  link.click(); setTimeout(() => URL.revokeObjectURL(link.href), 2000);
}
async function read(file) {
  try {
    const told = entries_of(await file.text());
    change(() => { state.entries = told; });
    put('kept', say('was_read', { number: told.length }));
  } catch (trouble) { put('kept', say('not_read', { file: file.name, why: trouble.message })); }
}

// --- an alarm, while the page is open ------------------------------------------------------------------------------------------------------
let sound = null, rang = 0;
function ring() {
  navigator.vibrate?.([400, 200, 400, 200, 400]);
  if (!sound) return;
  for (const n of [0, 1, 2, 3]) { const tone = sound.createOscillator(), volume = sound.createGain(); tone.frequency.value = 880; volume.gain.value = 0.2; tone.connect(volume).connect(sound.destination); tone.start(sound.currentTime + 0.5 * n); tone.stop(sound.currentTime + 0.5 * n + 0.25); }
}
function watch(now) {                                         // once for each moment that is due
  const due = found && advice(now)[0] === 'due' && !paused() ? found.happened.t0 + (found.next ?? found.hours[0] ?? 0) * HOUR : 0;
  if (state.alarm && due && due !== rang) { rang = due; ring(); }
  document.title = due ? `● ${say('weigh_now')}` : D.title;
}

// --- a kernel or a server of ours, where there is one --------------------------------------------------------------------------------------
let asked = 0, listens = !!D.ask, taught = null;
const hear = told => { taught = told; show_taught(); };
function show_taught() {
  $('laptop').hidden = !taught; if (!taught) return;
  put('trouble', taught.trouble ?? ''); put('taught', taught[state.system] ?? '');
}
async function tell_laptop() {
  if (!listens) return;
  const mine = ++asked;
  if (D.ask === 'kernel') return parent.postMessage({ log: csv() }, '*');
  try {
    const answer = await (await fetch(D.ask, { method: 'POST', headers: { 'Content-Type': 'text/csv', 'X-Token': D.token }, body: csv() })).json();
    if (mine === asked) hear(answer);
  } catch { if (mine === asked) hear({ trouble: say('laptop_gone') }); }
}
if (D.ask === 'kernel') addEventListener('message', event => { if (event.source === parent && event.data?.told) hear(event.data.told); });
function begin_with() {                                       // the file on the laptop comes before what the browser kept
  if (!D.log) return;
  try { state.entries = entries_of(D.log); past = []; }
  catch (trouble) { listens = false; state.entries = []; hear({ trouble: say('not_read', { file: D.log_name, why: trouble.message }) }); }   // and nothing is written over it
}

// --- begin ---------------------------------------------------------------------------------------------------------------------------------
function draw() {
  if (!brain) return;
  document.body.dataset.found = JSON.stringify({ ...found, happened: undefined, curves: undefined });   // for whoever asks the page
  ({ see: drawSee, pad: drawPad, book: drawBook })[view]();
}
function dress() {                                            // words that change only with the units
  for (const [name, word] of Object.entries({ dial: 'dial', measure: 'measure', undo: 'undo', log: 'log', taken: 'taken', soaked: 'soaked', rotated: 'rotated', alarm: 'alarm', save: 'save', empty: 'empty', back: 'back', read_words: 'read', text_label: 'text_label' })) $(name).textContent = say(word);
  $('units').textContent = say(us() ? 'to_metric' : 'to_us');
  $('cautions').replaceChildren(...texts().cautions.map(line => node('li', line))); $('ask').textContent = texts().ask;
}
for (const key of ['7', '8', '9', '4', '5', '6', '1', '2', '3', '.', '0', '⌫']) { const one = button(signed(key), () => type(key)); if (key === '⌫') one.setAttribute('aria-label', say('delete_digit')); if (key === '.') one.setAttribute('aria-label', say('point')); $('keys').append(one); }
$('weigh').onclick = () => open_pad(); $('enter').onclick = enter; $('ready').onclick = () => { digits = ''; show_view(edit ? 'book' : 'see'); $(edit ? 'back' : 'weigh').focus({ preventScroll: true }); };
$('taken').onclick = () => { if (form) form.tray = form.tray === MARKED ? 'all' : MARKED; else mark = mark === 'taken out' ? '' : 'taken out'; drawPad(); };
$('soaked').onclick = () => { mark = mark === 'freshened' ? '' : 'freshened'; drawPad(); };
$('measure').onclick = () => ask_here(...Object.keys(KINDS).map(kind => [say(`kind_${kind}`), () => open_form(kind)]), [say('cancel'), () => $('measure').focus()]);
 $('dial').onclick = () => open_pad(null, true);
$('undo').onclick = () => { state = JSON.parse(past.pop()); keep(); think(); dress(); draw(); tell_laptop(); };
$('pause').onclick = () => {
  if (paused()) return change(() => add({ event: 'go on' }));
  ask_here(...[['pause_room', 'pause'], ['pause_cold', 'pause cold']].map(([word, event]) => [say(word), () => change(() => add({ event }))]), [say('cancel'), () => $('pause').focus()]);
};
$('log').onclick = () => { show_view('book'); $('back').focus({ preventScroll: true }); }; $('back').onclick = () => { show_view('see'); $('weigh').focus({ preventScroll: true }); };
$('rotated').onclick = () => change(() => add({ event: 'moved' })); $('save').onclick = save; $('read').onchange = event => { if (event.target.files[0]) read(event.target.files[0]); event.target.value = ''; };
$('units').onclick = () => { state.system = us() ? 'metric' : 'us'; keep(); dress(); draw(); show_taught(); };
$('alarm').onclick = () => { state.alarm = !state.alarm; keep(); if (state.alarm) { sound ??= new AudioContext(); ring(); } drawBook(); put('kept', state.alarm ? say('alarm_on') : ''); };
$('empty').onclick = () => { if (confirm(say('empty_sure'))) change(() => { state.entries = []; }); };
addEventListener('keydown', event => {
  if (view !== 'pad' || event.ctrlKey || event.metaKey || event.altKey) return;
  if (/^[0-9]$/.test(event.key)) type(event.key); else if (event.key === '.' || event.key === ',') type('.'); else if (event.key === 'Backspace') type('⌫');
  else if (event.key === 'Escape') $('ready').click(); else if (event.key === 'Enter' && event.target.tagName !== 'BUTTON') enter();
});
addEventListener('storage', event => { if (event.key === KEY && event.newValue && brain) { ({ state, past } = JSON.parse(event.newValue)); think(); dress(); draw(); } });   // the same page in another window
document.addEventListener('visibilitychange', () => { if (brain && !document.hidden) { think(); draw(); } });
remember(); begin_with(); dress(); put('note', D.note ?? ''); $('time').textContent = time_of(Date.now());
requestAnimationFrame(() => setTimeout(() => {                // the first picture of the page does not wait for the curves
  brain = learner(unpack(D.numbers)); think(); draw(); tell_laptop(); document.body.dataset.ready = '1';
  setInterval(() => { const now = Date.now(); if (paused()) think(); if (view === 'see') drawSee(); watch(now); }, 15000);
}));
