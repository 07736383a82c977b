// Pictures one can touch: a drawing goes in, SVG comes out; a handle moves at once, whatever Python is doing.
// Used by anywidget (default export), and by pages of their own (makeStore, show). It imports and loads nothing.

const NS = 'http://www.w3.org/2000/svg';
const PATIENCE = 4000, SLOW = 150, REST = 1200, HUSH = 400, AHEAD = 40, SPARE = 500, LIT = 1600, LARGE = 1.35;   // ms, and the size of large type
const SVG_NAMES = /^(svg|g|path|line|rect|circle|text|tspan|defs|pattern|linearGradient|stop)$/;
const make = (name, attributes = {}, ...inside) => {
  const node = SVG_NAMES.test(name) ? document.createElementNS(NS, name) : document.createElement(name);
  for (const [key, value] of Object.entries(attributes)) if (value !== undefined) node.setAttribute(key, value);
  node.append(...inside);
  return node;
};
const clamp = (value, low, high) => Math.min(high, Math.max(low, value));
const tidy = text => (text ?? '').replace(/(\d) (?=[^\d\s(])/g, '$1\u00a0');   // no number parted from its unit
const px = value => Math.round(value * 100) / 100;
const markOf = (control, value) => {
  const exact = control.values.indexOf(value);
  if (exact >= 0) return exact;
  return control.values.reduce((best, mark, n) => (Math.abs(mark - value) < Math.abs(control.values[best] - value) ? n : best), 0);
};
const readingOf = (control, value) => control.readings[markOf(control, value)];

// --- what is wanted and what is shown: one store for a panel, however many times it is shown ----------------------------
// At most one question is on its way. What is moved meanwhile is kept, the newest only, and asked when the answer is in.
export function makeStore(setup, record, ask) {
  const who = Math.random().toString(36).slice(2), views = new Set();
  const store = { setup, record, values: { ...record.values }, rest: { ...record.values }, guess: record.guess ?? null,
    serial: 0, shown: 0, flying: 0, dropped: 0, asked: 0, late: false, asleep: !!(record.guessed && setup.guess_prompt && !record.guess) };
  let waiting = false, watch = 0, calm = 0, moved = null;
  const tell = what => views.forEach(view => view(what));
  const send = () => {
    waiting = false;
    store.flying = store.serial;
    store.asked++;
    clearTimeout(watch);
    watch = setTimeout(() => { store.late = true; tell('late'); }, PATIENCE);
    ask({ who, serial: store.serial, values: store.values, rest: store.rest, guess: store.guess, back: store.back });
    store.back = false;
  };
  const foresee = () => {                                     // the hand rests: the next step the same way is worked out, then those beside it
    clearTimeout(calm);
    if (!views.size) return;
    const steps = [], step = (control, mark, spare) => {
      if (mark >= 0 && mark < control.values.length) steps.push({ ahead: { ...store.values, [control.name]: control.values[mark] }, spare });
    };
    for (const control of store.setup.controls) {
      const mark = markOf(control, store.values[control.name]);
      if (moved?.name === control.name) step(control, 2 * mark - markOf(control, moved.from), false);
      else if (control.in_view) for (const by of [1, -1]) step(control, mark + by, true);
    }
    steps.sort((one, other) => one.spare - other.spare);
    moved = null;
    const next = pause => {
      if (steps.length) calm = setTimeout(() => { ask(steps.shift()); next(SPARE); }, steps[0].spare ? pause : AHEAD);
    };
    next(REST);
  };
  return Object.assign(store, {
    watch(view) { views.add(view); return () => views.delete(view); },
    tell,
    home() { store.back = true; },                            // the next question asks for the start
    begin() { store.rest = { ...store.values }; },            // a gesture starts: where things stand becomes the ghost
    want(changes, guess = store.guess) {
      clearTimeout(calm);
      for (const [name, to] of Object.entries(changes)) moved = { name, to, from: store.values[name] };
      store.serial++;
      store.values = { ...store.values, ...changes };
      store.guess = guess;
      tell('moved');                                          // the hand sees this before anybody is asked
      if (!store.flying || store.late) send(); else waiting = true;
    },
    answer(next) {
      if (next.who === who && next.serial <= store.shown) { store.dropped++; return; }   // overtaken by a newer answer
      if (next.who === who) store.shown = next.serial;
      if (store.shown >= store.flying) { store.flying = 0; store.late = false; clearTimeout(watch); }
      if (store.shown >= store.serial) Object.assign(store, { values: { ...next.values }, guess: next.guess });
      store.record = next;
      tell('answered');
      if (waiting && !store.flying) send(); else if (!store.flying) foresee();
    },
    renew(next, record = store.record) {                      // other units or more marks: other words at the same places
      Object.assign(store, { setup: next, record });
      if (store.shown >= store.serial) store.values = { ...record.values };
      tell('renewed');
    },
    end() { clearTimeout(watch); clearTimeout(calm); views.clear(); },
  });
}

// --- the SVG pen: fields (axes that stand still), and the kinds of marks in them -----------------------------------------
const hex = text => [1, 3, 5].map(n => parseInt(text.slice(n, n + 2), 16));
const blend = (ramp, part) => {                               // a colour on the way along a ramp of colours
  const at = clamp(part, 0, 1) * (ramp.length - 1), n = Math.min(Math.floor(at), ramp.length - 2), [from, to] = [hex(ramp[n]), hex(ramp[n + 1])];
  return `rgb(${from.map((low, k) => Math.round(low + (at - n) * (to[k] - low)))})`;
};
const scale = (low, high, from, to) => value => from + (value - low) / (high - low) * (to - from);
const unscale = (low, high, from, to) => place => low + (place - from) / (to - from) * (high - low);
const paint = (style, what = 'stroke') => `${what}:light-dark(${style.light},${style.dark})`;
const inked = style => `fill:color-mix(in srgb, light-dark(${style.light},${style.dark}) 72%, var(--fy-ink))`;
const dashed = style => `${paint(style)};stroke-width:${style.width};stroke-dasharray:${style.dash.join(' ') || 'none'}`;
const path = (field, xs, ys) => xs.map((x, n) => `${n ? 'L' : 'M'}${px(field.x(x))},${px(field.y(ys[n]))}`).join('');
const words = (x, y, text, more = {}) => make('text', { x: px(x), y: px(y), ...more }, text);

function layOut(fields, width, beside) {                              // side by side, or one below the other where it is narrow
  const narrow = width < 560, placed = [];
  const tall = Math.max(0, ...fields.map(field => field.tall ?? 0));
  let left = 0, top = 0;
  fields.forEach((field, n) => {
    const high = narrow ? (field.quiet ? field.slender ?? (field.marks.some(mark => mark.kind === 'scale') ? 250 : 196) : field.tall ?? 215) : beside ? 336 : Math.max(tall, clamp(0.29 * width, 255, 275));
    const wide = narrow ? width : n === 0 ? field.share * width : width - left;
    const box = { left, top, right: left + wide, foot: top + high };
    const scales = field.marks.some(mark => mark.kind === 'scale') ? (narrow ? 58 : 74) : 0;
    const inner = field.quiet
      ? { left: left + 14, top: top + 36, right: box.right - (field.margin ?? (scales ? 14 : narrow ? 130 : 116)), foot: box.foot - 6 - scales }
      : { left: left + 34, top: top + (narrow ? 26 : 34), right: box.right - ((narrow && field.slim) || field.margin || 104), foot: box.foot - 40 };
    if (field.quiet) {                                        // a mm across is as long as a mm down
      const wide_mm = field.across.high - field.across.low, high_mm = Math.abs(field.up.high - field.up.low);
      const size = Math.min((inner.right - inner.left) / wide_mm, (inner.foot - inner.top) / high_mm);
      inner.right = inner.left + size * wide_mm;
      if (field.rests) inner.top = inner.foot - size * high_mm; else inner.foot = inner.top + size * high_mm;
    }
    const ends = [field.across.low, field.across.high, inner.left, inner.right], rises = [field.up.low, field.up.high, inner.foot, inner.top];
    placed.push({ ...field, box, inner, narrow, scales, x: scale(...ends), y: scale(...rises), at_x: unscale(...ends), at_y: unscale(...rises) });
    if (narrow) top += high + 8; else left += wide + 26;
  });
  return { placed, height: Math.max(...placed.map(field => field.box.foot)) };
}

function drawAxes(field) {
  const { inner, box, up, across } = field, group = make('g', { class: 'fy-axes' });
  for (const [value, label] of up.ticks) group.append(
    make('line', { x1: inner.left, x2: inner.right, y1: px(field.y(value)), y2: px(field.y(value)), class: value === up.low ? 'fy-base' : 'fy-rule' }),
    words(inner.left - 8, field.y(value) + 4, label, { 'text-anchor': 'end' }));
  for (const [value, label] of across.ticks) group.append(
    make('line', { x1: px(field.x(value)), x2: px(field.x(value)), y1: inner.foot, y2: inner.foot + 4, class: 'fy-base' }),
    words(field.x(value), inner.foot + 18, label, { 'text-anchor': 'middle' }));
  group.append(words(box.left, box.top + 13, up.label, { class: 'fy-side' }), words(inner.left, inner.foot + 36, across.label, { class: 'fy-side' }));
  return group;
}

const torn = (high, way) => {                                 // a side that goes on: not an edge of the fish
  const waves = 2 * Math.max(1, Math.round(high / 26)), step = way * high / waves;
  return Array.from({ length: waves }, (_, n) => `q${n % 2 ? -5 : 5},${px(step / 2)} 0,${px(step)}`).join('');
};
function drawCut(cut, number, field, bottom, look) {
  const [x0, x1, y0, y1] = [field.x(cut.left), field.x(cut.right), field.y(cut.top), field.y(bottom)], high = y1 - y0, id = `${look.id}cut${number}`;
  const outline = `M${px(x0)},${px(y0)}H${px(x1)}${torn(high, 1)}H${px(x0)}${torn(high, -1)}Z`, group = make('g');
  const last = Math.max(1, cut.shade.length - 1), colour = part => blend(look.ramps[cut.tint], look.blank ? 0.5 : part);
  group.append(make('linearGradient', { id, x2: 0, y2: 1 }, ...cut.shade.map((part, n) => make('stop', { offset: n / last, 'stop-color': colour(part) }))),
    make('path', { d: outline, fill: `url(#${id})`, class: 'fy-flesh' }));
  for (let x = x0 + 18; x < x1 - 4; x += 23) group.append(make('path', { d: `M${px(x)},${px(y0)}q13,${px(high / 2)} 0,${px(high)}`, class: 'fy-flake' }));
  group.append(make('path', { d: `M${px(x0)},${px(y0)}H${px(x1)}`, class: 'fy-face' }),
    make('path', { d: `M${px(x0)},${px(y1)}H${px(x1)}`, class: cut.skin ? 'fy-face fy-skin' : 'fy-face', style: paint(look.styles.now) }));
  for (const one of cut.words) if (high > 58 && x1 - x0 > 7.5 * one.words.length && !look.blank) group.append(
    words((x0 + x1) / 2, y0 + 12 + one.at * (high - 24) + 5, one.words, { 'text-anchor': 'middle', class: 'fy-inside', style: `fill:${one.ink}` }));
  group.append(words(x1 + 12, y0 + 4, cut.upper, { class: 'fy-quiet' }));
  if (cut.reading && !cut.held) tidy(cut.reading).split(/ (?=\()/).forEach((part, n) => group.append(
    words(x1 + 12, Math.max(y1 + 5, y0 + 24) + 15 * n, part, { class: n ? 'fy-reading fy-second' : 'fy-reading' })));
  return group;
}

function drawBox(box, field, look, top = box.y[0]) {           // a plain body, such as what is in a jar: a colour of a ramp, or a hatch
  const [x0, x1, y0, y1] = [field.x(box.x[0]), field.x(box.x[1]), field.y(top), field.y(box.y[1])], style = look.styles[box.style];
  const fill = box.tint ? blend(look.ramps[box.tint], look.blank && !box.given ? 0.5 : box.shade) : style ? `url(#${look.id}${box.style})` : 'none';
  const group = make('g', {}, make('rect', { x: px(Math.min(x0, x1)), y: px(Math.min(y0, y1)), width: px(Math.abs(x1 - x0)), height: px(Math.abs(y1 - y0)), fill, class: `${box.tint ? 'fy-flesh' : 'fy-band'} fy-box${box.edge ? ` fy-edge-${box.edge}` : ''}` }));
  if (box.words && Math.abs(x1 - x0) > 7.2 * box.words.length + 6 && Math.abs(y1 - y0) > 15 && !(look.blank && !box.given)) group.append(
    words((x0 + x1) / 2, (y0 + y1) / 2 + 4.5, box.words, { 'text-anchor': 'middle', class: box.tint ? 'fy-inside' : 'fy-tag', style: box.tint ? `fill:${box.ink}` : undefined }));
  return group;
}

const inLines = (text, room) => (6.9 * text.length > room ? text.split(/(?<=:) /) : [text]);   // a caption without room goes on beneath
const KINDS = {                                               // what each kind of mark adds to its field
  area: (one, field, look, into) => into.append(
    make('rect', { x: field.box.left, y: field.box.top, width: field.box.right - field.box.left, height: field.box.foot - field.box.top, rx: 8, style: `${paint(look.styles[one.style], 'fill')};fill-opacity:0.13` }),
    ...inLines(look.blank ? one.hushed ?? one.words : one.words, field.box.right - field.box.left - 24).map((line, n) => words(field.box.left + 14, field.box.top + 21 + 16 * n, line, { class: 'fy-quiet' }))),
  band: (one, field, look, into) => into.append(make('path', { class: 'fy-band', 'data-mark': one.style,
    d: `${path(field, one.x, one.low)}${path(field, [...one.x].reverse(), [...one.high].reverse()).replace('M', 'L')}Z`, fill: `url(#${look.id}${one.style})` })),
  curve: (one, field, look, into, tags) => {
    const style = look.styles[one.style], last = one.x.length - 1;
    into.append(make('path', { class: 'fy-curve', 'data-mark': one.style, d: path(field, one.x, one.y), style: dashed(style) }));
    if (one.words) tags.push({ x: field.x(one.x[last]) + (look.blank && one.style === 'guess' ? 22 : 8), y: field.y(one.y[last]) + 4, text: one.words, style, first: one.style === 'now', end: field.box.right + 4 });
  },
  point: (one, field, look, into, tags) => {
    const left = field.x(one.x) > field.inner.left + 0.6 * (field.inner.right - field.inner.left), above = one.above ?? true;
    const [x, y] = [px(field.x(one.x)), px(field.y(one.y))];
    into.append(one.shape === 's' ? make('rect', { x: x - 5, y: y - 5, width: 10, height: 10, class: 'fy-dot' }) : make('circle', { cx: x, cy: y, r: 5, class: 'fy-dot' }));
    if (one.under !== undefined) {                            // beneath a curve that rises, one under another, above the foot
      const from = Math.min(x + 10, field.box.right - 7.2 * one.words.length), before = tags.filter(tag => tag.under !== undefined).pop();
      const lowest = field.inner.foot - 4 - 16 * one.under, at = Math.max(Math.min(y + (from < x + 8 ? 20 : 8), lowest), before ? before.y + 16 : 0);
      into.append(words(from, at, one.words, { class: 'fy-tag fy-strong' }));
      tags.push({ pinned: true, x: from, y: at, text: one.words, under: one.under });
      return;
    }
    into.append(words(x + (left ? -10 : 10), y + (one.level ? 4.5 : above ? -9 : 20), one.words, { class: 'fy-tag fy-strong', 'text-anchor': left ? 'end' : 'start' }));
    tags.push({ pinned: true, x: left ? x - 10 - 7.2 * one.words.length : x + 10, y: y + (one.level ? 4.5 : above ? -9 : 20), text: one.words });
  },
  note: (one, field, look, into, tags) => {
    const tight = 7.2 * (field.up.label.length + one.words.length) + 50 > field.box.right - field.box.left, y = field.box.top + (tight ? 18 : 2);
    into.append(make('rect', { x: field.box.right - 20, y, width: 20, height: 13, rx: 2, fill: `url(#${look.id}${one.style})` }),
      words(field.box.right - 27, y + 11, one.words, { class: 'fy-side', 'text-anchor': 'end' }));
    tags.push({ pinned: true, x: field.box.right - 27 - 7.2 * one.words.length, y: y + 11, text: one.words });
  },
  scale: (one, field, look, into) => {                        // a kitchen scale beneath a cut, with what it reads
    const x = (field.x(one.left) + field.x(one.right)) / 2, top = field.box.foot - field.scales, high = field.narrow ? 24 : 32, half = Math.min(field.narrow ? 42 : 50, x - field.box.left - 2);
    into.append(make('path', { class: 'fy-scale', d: `M${px(x - half)},${top}h${2 * half}l-8,7v${high}h${16 - 2 * half}v${-high}z` }),
      words(x, top + 5 + high * 0.75, look.blank ? '?' : one.words, { 'text-anchor': 'middle', class: 'fy-strong fy-weight' }),
      words(x, top + high + 24, one.small, { 'text-anchor': 'middle', class: 'fy-quiet' }));
  },
  bar: (one, field, look, into) => {                          // lies along its row; an open one goes on beyond the edge
    const style = look.styles[one.style], [x0, x1, y] = [field.x(one.from), field.x(one.to), field.y(one.at)], half = one.thick / 2;
    const nose = one.open ? `l9,${half}l-9,${half}` : `v${one.thick}`, tight = x1 + 9 + 7.4 * one.reading.length > field.box.right;
    into.append(make('path', { class: 'fy-bar', 'data-mark': one.style, d: `M${px(x0)},${px(y - half)}H${px(x1)}${nose}H${px(x0)}Z`, fill: style.hatch ? `url(#${look.id}${one.style})` : 'none', style: paint(style) }));
    if (one.middle !== undefined) into.append(make('path', { class: 'fy-middle', d: `M${px(field.x(one.middle))},${px(y - half - 2)}v${one.thick + 4}` }));
    into.append(words(x0, y - half - 7, one.words, { class: one.strong ? 'fy-strong' : 'fy-quiet' }),
      words(tight ? x1 : x1 + (one.open ? 16 : 9), tight ? y - half - 7 : y + 5, one.reading, { 'text-anchor': tight ? 'end' : 'start', class: `fy-tag${one.strong ? ' fy-strong' : ''}` }));
  },
  box: (one, field, look, into) => into.append(drawBox(one, field, look)),
  outline: (one, field, look, into) => into.append(make('path', { class: 'fy-outline', d: path(field, one.x, one.y) })),
  label: (one, field, look, into) => into.append(words(field.x(one.x) + (one.away ?? 0), field.y(one.y) + 4.5, look.blank && !one.given ? '' : tidy(one.words), { 'text-anchor': one.anchor, class: `${one.halo ? 'fy-tag ' : ''}${one.strong ? 'fy-strong' : 'fy-quiet'}` })),
  arrow: (one, field, look, into) => {                        // a way that something takes, to scale
    const [x0, x1, y0, y1] = [...one.x.map(field.x), ...one.y.map(field.y)], long = Math.hypot(x1 - x0, y1 - y0), head = Math.min(6, long / 2);
    const [u, v] = [(x1 - x0) / long, (y1 - y0) / long], back = side => `${px(x1 - head * (u + 0.7 * side * v))},${px(y1 - head * (v - 0.7 * side * u))}`;
    into.append(make('path', { class: 'fy-arrow', d: `M${px(x0)},${px(y0)}L${px(x1)},${px(y1)}M${back(1)}L${px(x1)},${px(y1)}L${back(-1)}` }));
  },
  flame: (one, field, look, into) => into.append(make('path', { class: 'fy-flame', d: `M${px(field.x(one.x))},${px(field.y(one.y) + 8)}c-9,-2 -9,-10 -2,-18c1,5 4,5 4,1c7,6 7,15 -2,17z`, style: paint(look.styles.air, 'fill') })),
  rung: (one, field, look, into) => {                         // a line across, and at its end a lamp that goes out
    const x = field.inner.right, [y, at] = [px(field.y(one.y)), px(field.y(one.at))], lamp = look.blank ? 'unknown' : one.state;
    into.append(make('path', { class: 'fy-rung', d: `M${px(field.inner.left)},${y}H${px(x)}L${px(x + 8)},${at}` }));
    if (lamp === 'unknown') into.append(words(x + 15, at + 4.5, '?', { 'text-anchor': 'middle', class: 'fy-strong' }));
    else into.append(make('circle', { cx: px(x + 15), cy: at, r: 5.2, class: 'fy-lamp' }), make('path', { class: 'fy-lit-lamp', d: { grows: `M${px(x + 9.8)},${at}a5.2,5.2 0 1 1 10.4,0a5.2,5.2 0 1 1 -10.4,0z`, perhaps: `M${px(x + 15)},${at - 5.2}a5.2,5.2 0 1 0 0,10.4z`, stopped: 'M0,0' }[lamp] }));
    into.append(words(x + 25, at + 4.5, field.narrow ? one.words : `${one.number} ${one.words}`, { class: lamp === 'stopped' ? 'fy-out' : '' }));
  },
};
function drawTags(tags, field, into) {                        // words at the ends of curves, pushed apart where they would touch
  const right = tag => tag.from + 7.2 * tag.text.length, lowest = field.inner.foot - 4;
  const move = (tag, among, by) => {                          // until it touches nothing
    const touched = other => tag.from < right(other) && other.from < right(tag) && Math.abs(tag.y - other.y) < 15.9;
    for (let other; (other = among.find(touched));) tag.y = other.y + by;
    among.push(tag);
  };
  for (const tag of tags) {
    const wide = 7.2 * tag.text.length, inside = !tag.pinned && tag.x + wide > tag.end && tag.x - field.inner.left > wide + 20;
    Object.assign(tag, inside ? { x: tag.x - 16, from: tag.x - 16 - wide, inside, y: tag.y - 9 } : { from: tag.x });
  }
  const pinned = tags.filter(tag => tag.pinned), free = tags.filter(tag => !tag.pinned).sort((a, b) => a.y - b.y);   // the words of a handle stand where it is
  const down = [...pinned], up = [...pinned];
  for (const tag of free) move(tag, down, 16);
  if (free.some(tag => tag.y > lowest)) for (const tag of free.sort((a, b) => b.y - a.y)) {
    tag.y = Math.min(tag.y, lowest);
    move(tag, up, -16);
  }
  for (const tag of free) into.append(words(tag.x, tag.y, tag.text, { class: `fy-tag${tag.first ? ' fy-strong' : ''}`, style: inked(tag.style), 'text-anchor': tag.inside ? 'end' : undefined }));
}
const onto = (xs, ys, x) => {                                 // where a curve is; beyond its ends it stays level
  const n = clamp(xs.findIndex(each => each >= x), 1, xs.length - 1) || xs.length - 1, part = clamp((x - xs[n - 1]) / (xs[n] - xs[n - 1]), 0, 1);
  return ys[n - 1] + part * (ys[n] - ys[n - 1]);
};
const smooth = (xs, ys) => {                                  // a guess: a soft curve through its knots (Catmull and Rom)
  const out = { x: [], y: [] }, at = (list, n) => list[clamp(n, 0, list.length - 1)];
  for (let n = 0; n < xs.length - 1; n++) for (let k = 0; k < 8; k++) {
    const t = k / 8, [a, b, c, d] = [-1, 0, 1, 2].map(m => at(ys, n + m));
    out.x.push(px(xs[n] + t * (xs[n + 1] - xs[n])));
    out.y.push(px(Math.max(0, b + t / 2 * (c - a + t * (2 * a - 5 * b + 4 * c - d + t * (3 * (b - c) + d - a))))));
  }
  return { x: [...out.x, xs.at(-1)], y: [...out.y, ys.at(-1)], knots: ys };
};

// --- one view of a store ------------------------------------------------------------------------------------------------
const KEYS = { ArrowUp: 1, ArrowRight: 1, ArrowDown: -1, ArrowLeft: -1, PageUp: 5, PageDown: -5, Home: -1e6, End: 1e6 };

export function show(el, store) {
  let close = build(el, store);
  const unwatch = store.watch(what => { if (what === 'renewed') { close(); close = build(el, store); } });
  return () => { unwatch(); close(); };
}

function build(el, store) {
  const { controls, styles, words: said, ...setup } = store.setup, id = 'fy' + Math.random().toString(36).slice(2, 8);
  const signed = value => String(value).replace('.', setup.point ?? '.');   // a number as the language writes it
  const look = { id, styles, ramps: setup.ramps }, ended = new AbortController(), on = { signal: ended.signal };
  const still = matchMedia('(prefers-reduced-motion: reduce)'), QUIET_KEYS = { 'data-lm-suppress-shortcuts': true };
  const drawn = make('g', { role: 'img' }), grips = make('g'), defs = make('defs');
  const svg = make('svg', { role: 'group', 'aria-label': setup.title }, defs, drawn, grips);
  const rows = make('div', { class: 'fy-rows' }), folded = make('div', { class: 'fy-rows' }), buttons = make('div', { class: 'fy-buttons' });
  const large = make('p', { class: 'fy-large' }), smaller = make('dl', { class: 'fy-numbers' }), sentence = make('p', { class: 'fy-sentence' });
  const chips = make('div', { class: 'fy-chips' }), caution = make('p', { class: 'fy-caution' }), reply = make('p', { class: 'fy-reply' });
  const sure = make('p'), late = make('p', { class: 'fy-late' }), spoken = make('p', { class: 'fy-spoken', role: 'status' });
  const more = make('details', { class: 'fy-more' }, make('summary', QUIET_KEYS, said.more), folded);
  const looked = make('details', { class: 'fy-look' }, make('summary', QUIET_KEYS, said.look_for), make('ol', {},
    ...setup.look_for.map(([question, answer]) => make('li', {}, make('details', {}, make('summary', QUIET_KEYS, question), make('p', {}, answer))))));
  const root = make('div', { class: 'fy-touch fy-one' },
    make('p', { class: 'fy-title' }, setup.title, ' ', make('span', {}, setup.prompt)),
    make('div', { class: 'fy-columns' },
      make('div', { class: 'fy-picture' }, svg),
      make('div', { class: 'fy-controls' }, rows, more, buttons),
      make('div', { class: 'fy-words' }, reply, large, smaller, sentence, late),
      chips, make('div', { class: 'fy-notes' }, make('details', {}, make('summary', QUIET_KEYS, said.sure), sure), caution, spoken)), looked);
  looked.hidden = !setup.look_for.length;
  let fields = [], knots = null, speak = 0, dim = 0, lastKey = 0, playing = 0, held = null, zoom = 1;

  for (const [name, style] of Object.entries(styles)) {       // the hatches, in this view's own names
    const lines = { '/': 'M-1,7L7,-1M5,8L8,5M-1,1L1,-1', '\\': 'M-1,-1L7,7M5,-2L8,1M-1,5L1,7' }[style.hatch];
    if (lines) defs.append(make('pattern', { id: id + name, width: 6, height: 6, patternUnits: 'userSpaceOnUse' },
      make('rect', { width: 6, height: 6, style: `${paint(style, 'fill')};fill-opacity:0.10` }), make('path', { d: lines, style: `${paint(style)};stroke-opacity:0.55;stroke-width:0.9` })));
  }
  const wake = () => { if (knots) endGuess(); };
  const gesture = event => { if (event.timeStamp - lastKey > REST) store.begin(); lastKey = event.timeStamp; };
  const go = (control, mark) => store.want({ [control.name]: control.values[clamp(mark, 0, control.values.length - 1)] });
  const place = event => {
    const box = svg.getBoundingClientRect(), size = svg.viewBox.baseVal.width / box.width;
    return { x: (event.clientX - box.left) * size, y: (event.clientY - box.top) * size };
  };
  const name = (node, low, high, now, text) => Object.entries({ 'aria-valuemin': low, 'aria-valuemax': high, 'aria-valuenow': now, 'aria-valuetext': text })
    .forEach(([key, value]) => { if (node.getAttribute(key) !== String(value)) node.setAttribute(key, value); });

  function grip(label, axis, put, down = false, size = 10) {  // a round handle: mouse, finger and keys; `put` takes steps or a place
    const node = make('g', { role: 'slider', tabindex: 0, class: `fy-grip fy-${axis}`, 'aria-label': label, 'aria-orientation': axis === 'up' ? 'vertical' : 'horizontal', ...QUIET_KEYS },
      make('circle', { r: 22, class: 'fy-reach' }), make('circle', { r: size + 5, class: 'fy-focus' }), make('circle', { r: size, class: 'fy-knob' }),
      make('path', { d: 'M-3.5,-2L0,-5.5L3.5,-2M-3.5,2L0,5.5L3.5,2', transform: `scale(${size / 10}) rotate(${axis === 'up' ? 0 : 90})` }));
    const let_go = () => { held = null; root.classList.remove('fy-held'); };
    node.addEventListener('pointerdown', event => {
      if (event.button) return;
      event.preventDefault(); node.focus({ preventScroll: true }); node.setPointerCapture(event.pointerId);
      const stands = node.transform.baseVal[0].matrix, at = place(event);
      store.begin();
      held = { node, off: { x: at.x - stands.e, y: at.y - stands.f }, values: { ...store.values } };
      root.classList.add('fy-held');
    }, on);
    node.addEventListener('touchstart', event => event.preventDefault(), { passive: false, ...on });   // touch-action does nothing inside an SVG
    node.addEventListener('pointermove', event => {
      if (held?.node !== node) return;
      const at = place(event);
      put({ at: { x: at.x - held.off.x, y: at.y - held.off.y } });
    }, on);
    for (const over of ['pointerup', 'pointercancel', 'lostpointercapture']) node.addEventListener(over, let_go, on);
    node.addEventListener('keydown', event => {
      if (event.key === 'Escape' && held) { const back = held.values; let_go(); store.want(back); return; }
      const way = KEYS[event.key] * (down && (axis === 'up' ? /Up|Down/ : /Left|Right/).test(event.key) ? -1 : 1);   // where down or left is more, the key goes with the eye
      if (!way || event.ctrlKey || event.metaKey || event.altKey) return;
      event.preventDefault(); event.stopPropagation(); gesture(event); put({ steps: way });
    }, on);
    grips.append(node);
    return node;
  }

  // a handle stands at offset + scale × value along its axis, or in its own place at each mark; at its first mark it may stand where Python puts it (auto)
  const standing = handle => store.record.handles.find(one => one.control === handle.control && one.field === handle.field) ?? handle;
  const stands = (handle, control) => {
    const now = standing(handle), value = store.values[control.name];
    if (now.places) return now.places[markOf(control, value)] ?? now.places.at(-1);
    return now.auto !== undefined && value === control.values[0] ? now.auto : now.offset + now.scale * value;
  };
  const handles = store.record.handles.map(handle => {
    const control = controls.find(one => one.name === handle.control);
    const node = grip(control.label, handle.axis, ({ steps, at }) => {
      wake();
      const now = standing(handle), mark = markOf(control, store.values[control.name]), free = now.auto === undefined ? 0 : 1;
      const of = place => (now.places ? markOf({ values: now.places }, place) : markOf({ values: control.values.slice(free) }, (place - now.offset) / now.scale) + free);
      if (steps) return go(control, Math.abs(steps) > 1e5 || mark >= free ? mark + steps : of(now.auto) + steps);
      const field = fields[handle.field], next = of(handle.axis === 'up' ? field.at_y(at.y) : field.at_x(at.x));
      if (next !== mark) go(control, next);
    }, handle.down);
    return { handle, control, node, label: make('text', { class: 'fy-reading', 'aria-hidden': true }), cut: make('g'), line: make('path', { class: 'fy-line' }) };
  });
  const turns = store.record.buttons.map((_, n) => {           // what a click turns over, like the skin
    const node = make('g', { role: 'button', tabindex: 0, class: 'fy-turn', ...QUIET_KEYS }, make('rect', { height: 26, rx: 6 }), make('text', { x: 9, y: 17.5 }));
    const turn = event => { event.preventDefault(); event.stopPropagation(); wake(); store.begin(); const one = store.record.buttons[n]; store.want({ [one.control]: one.value }); };
    node.addEventListener('click', turn, on);
    node.addEventListener('keydown', event => { if (event.key === 'Enter' || event.key === ' ') turn(event); }, on);
    grips.append(node);
    return node;
  });
  const inputs = controls.map(control => {                    // every handle also has a slider with its name: nobody has to drag
    const input = make('input', { type: 'range', min: 0, max: control.values.length - 1, step: 1, id: id + control.name, ...QUIET_KEYS });
    const output = make('output', { for: id + control.name });
    input.addEventListener('input', event => { const to = +input.value; wake(); gesture(event); go(control, to); }, on);
    (control.in_view ? rows : folded).append(make('label', { for: id + control.name }, control.label), output, input);
    return { control, input, output };
  });
  more.hidden = controls.every(one => one.in_view);
  const button = (text, act) => {
    const node = make('button', { type: 'button', ...QUIET_KEYS }, text);
    node.addEventListener('click', () => act(node), on); buttons.append(node);
    return node;
  };
  const played = controls.find(one => one.name === setup.plays);
  const stop = () => { clearInterval(playing); playing = 0; follow(); };
  const play = played && button('', () => {
    const at = () => markOf(played, store.values[played.name]), step = () => { if (at() + 1 >= played.values.length) stop(); else go(played, at() + 1); };
    if (playing) return stop();
    wake(); store.begin();
    if (still.matches) return step();                         // no motion wanted: one step for each press
    if (at() + 1 >= played.values.length) go(played, 0);
    playing = setInterval(() => { if (!store.flying) step(); }, 140); follow();
  });
  const guessing = setup.guess_prompt && button('', () => { if (knots) endGuess(); else startGuess(true); });
  const back = button(said.back, () => { wake(); stop(); store.begin(); store.home(); store.want(Object.fromEntries(controls.map(one => [one.name, one.start]))); });
  const type = button(said.large, node => { zoom = zoom === 1 ? LARGE : 1; node.setAttribute('aria-pressed', zoom > 1); root.classList.toggle('fy-projector', zoom > 1); root.classList.toggle('fy-one', zoom === 1); draw(); });
  type.setAttribute('aria-pressed', false);

  function startGuess(focus) {                                // the curves are out of sight until the guess is down
    const { field, axis, at, names, start, step, ends } = store.record.guessed, before = store.guess?.knots;
    const values = before?.length === names.length ? [...before] : names.map(() => start);
    const shape = () => (axis !== 'up' ? { x: [values[0], values[0]], y: ends, knots: values } : names.length > 1 ? smooth(at, values) : { x: ends, y: [values[0], values[0]], knots: values });
    const nodes = names.map((label, n) => grip(label, axis, ({ steps, at: spot }) => {
      const one = fields[field], { low, high } = axis === 'up' ? one.up : one.across;
      const value = steps ? values[n] + steps * step : axis === 'up' ? one.at_y(spot.y) : one.at_x(spot.x);
      values[n] = clamp(Math.round(value / step) * step, Math.min(low, high), Math.max(low, high));
      knots.made = true; knots.curve = shape(); draw();
    }, false, names.length > 1 ? 7 : 10));
    knots = { ...store.record.guessed, values, nodes, curve: shape(), made: !!before };
    store.asleep = true; draw();
    if (focus) nodes[0].focus();
  }
  function endGuess() {
    const { curve, made, nodes, then } = knots;
    nodes.forEach(node => node.remove());
    knots = null; store.asleep = false;
    if (made) { if (then) store.begin(); store.want(then ?? {}, { ...curve, values: { ...store.values } }); }   // what is guessed may come to light with it
    draw();
  }

  function draw() {                                           // all of the picture, from the record
    const record = store.record, width = Math.max(260, svg.parentNode.clientWidth) / zoom, tags = record.fields.map(() => []);
    const { placed, height } = layOut(record.fields, width, zoom === 1 && root.clientWidth >= 1100), layers = [];
    fields = placed; look.blank = !!knots;                    // while guessing, the fish does not give the answer away
    svg.setAttribute('viewBox', `0 0 ${width} ${height}`); svg.style.height = `${height * zoom}px`;
    fields.forEach((field, n) => {
      const { inner, up, across } = field;
      const layer = make('g', { 'data-field': n, 'data-frame': [inner.left, inner.right, inner.foot, inner.top, across.low, across.high, up.low, up.high].join(' ') });
      if (!field.quiet) layer.append(drawAxes(field));
      for (const one of handles) if (one.handle.field === n) layer.append(one.line);   // beneath words and curves
      const ghost = record.ghost?.[n], guess = knots?.field === n ? knots.curve : n === (record.guessed?.field ?? 0) && store.guess;
      const marks = knots && !field.quiet ? field.marks.filter(one => one.given) : [...field.marks];
      if (ghost?.x && !knots) marks.unshift({ kind: 'curve', style: 'ghost', ...ghost, words: record.ghost.words });
      if (guess) marks.push({ kind: 'curve', style: 'guess', ...guess, words: said.guess_said });
      const over = make('g');                                 // what lies over the thing in hand
      marks.forEach((one, place) => {
        if (one.kind === 'box' && one.held) return;           // drawn with its handle
        if (one.kind !== 'cut') KINDS[one.kind](one, field, look, /arrow|outline|label/.test(one.kind) ? over : layer, tags[n]);
        else if (!one.held) layer.append(drawCut(one, place, field, one.bottom, look));
      });
      for (const one of handles) if (one.handle.field === n) layer.append(one.cut, one.label);
      layer.append(over);
      for (const [left, right, bottom] of (!knots && ghost?.bottoms) || [])
        layer.append(make('path', { class: 'fy-old', d: `M${px(field.x(left))},${px(field.y(bottom))}H${px(field.x(right) + 9)}` }));
      for (const [x0, y0, x1, y1] of (!knots && ghost?.strokes) || [])
        layer.append(make('path', { class: 'fy-old', d: `M${px(field.x(x0))},${px(field.y(y0))}L${px(field.x(x1))},${px(field.y(y1))}` }));
      for (const one of handles) if (one.handle.field === n && one.handle.line) {
        const at = stands(one.handle, one.control), text = one.label.textContent || '01234567', x = field.x(at), far = x > (inner.left + inner.right) / 2;
        tags[n].push(one.handle.axis === 'up' ? { pinned: true, x: inner.right + 8, y: field.y(at) + 5, text: '0123456789' } : { pinned: true, x: far ? x - 8 - 7.2 * text.length : x + 8, y: inner.top + 12, text });
      }
      drawTags(tags[n], field, layer);
      layers.push(layer);
    });
    drawn.replaceChildren(...layers);
    drawn.setAttribute('aria-label', knots ? `${said.guess_said}: ${knots.values.map(value => signed(+value.toFixed(2))).join(', ')} ${knots.unit}.` : record.alt);
    const [first, ...others] = record.numbers;
    const text = one => [one.was ? make('span', { class: 'fy-was' }, `${tidy(one.was.replace(/ \([^)]*\)/g, ''))} → `) : '', tidy(one.text)];
    large.hidden = !first;
    if (first) large.replaceChildren(make('strong', {}, ...text(first)), make('span', {}, first.name));
    smaller.replaceChildren(...others.flatMap(one => [make('dt', {}, one.name), make('dd', {}, ...text(one))]));
    sentence.textContent = tidy(record.sentence); sentence.hidden = !record.sentence;
    reply.textContent = knots ? setup.guess_prompt : tidy(record.reply); reply.hidden = !reply.textContent;
    sure.textContent = tidy(record.sure);
    light(chips, record.chips);
    const warned = record.caution ? `${said.caution}: ${tidy(record.caution)}` : '';
    if (caution.textContent !== warned) { if (caution.textContent) shine(caution); caution.textContent = warned; }
    caution.hidden = !record.caution;
    follow();
  }
  const shine = node => { node.classList.add('fy-lit'); clearTimeout(node.lit); node.lit = setTimeout(() => node.classList.remove('fy-lit'), LIT); };
  function light(into, wanted) {                              // a chip whose words changed lights up for a moment
    if (into.children.length !== wanted.length) into.replaceChildren(...wanted.map(() => make('p', {}, make('span'), make('b'))));
    wanted.forEach(({ name: title, text }, n) => {
      const node = into.children[n], [label, value] = node.children, before = value.textContent, next = tidy(text);
      label.textContent = title;
      if (before === next) return;
      value.textContent = next;
      if (before) shine(node);
    });
  }
  function follow() {                                         // only what the hand holds: a few attributes, nobody is asked
    for (const { handle, control, node, label, cut, line } of handles) {
      const field = fields[handle.field];
      if (!field) continue;
      const now = standing(handle), value = store.values[control.name], at = stands(handle, control), up = handle.axis === 'up';
      const x = up ? field.x(now.at) : field.x(at), y = up ? field.y(at) : field.y(now.along ? onto(now.along.x, now.along.y, at) : now.at), own = now.auto !== undefined && value === control.values[0];
      const text = own ? now.auto_words : readingOf(control, value);
      node.setAttribute('transform', `translate(${px(x)},${px(y)})`);
      node.toggleAttribute('hidden', !!knots && !!now.along);   // it would give the curve away
      name(node, 0, control.values.length - 1, markOf(control, value), text);
      const place = field.marks.findIndex(each => each.kind === 'cut' && each.held === control.name);
      const body = field.marks.find(each => each.kind === 'box' && each.held === control.name);
      if (place >= 0) cut.replaceChildren(drawCut(field.marks[place], place, field, at, look));
      else if (body) cut.replaceChildren(drawBox(body, field, look, at));
      if (now.line) {
        line.setAttribute('d', up ? `M${px(field.inner.left)},${px(y)}H${px(field.inner.right)}` : `M${px(x)},${px(field.inner.top)}V${px(field.inner.foot)}`);
        line.setAttribute('style', dashed(styles[now.line]));
        label.textContent = tidy(own ? now.auto_words : now.words?.replace('#', text) ?? text);
        const far = !up && x > (field.inner.left + field.inner.right) / 2;
        const spot = up ? { x: px(field.inner.right + 8), y: px(y + 5) } : { x: px(x + (far ? -8 : 8)), y: px(field.inner.top + 12), 'text-anchor': far ? 'end' : 'start' };
        for (const [key, one] of Object.entries(spot)) label.setAttribute(key, one);
        label.classList.add('fy-tag');
      } else if (now.right !== undefined) {
        const [first, second] = tidy(now.readings?.[markOf(control, value)] ?? text).split(/ (?=\()/), edge = px(field.x(now.right) + 12), low = Math.max(y + 5, field.marks[place]?.upper ? field.y(0) + 24 : 0);
        label.replaceChildren(make('tspan', { x: edge }, first), ...(second ? [make('tspan', { x: edge, dy: 15, class: 'fy-second' }, second)] : []));
        label.setAttribute('y', px(low));
      }
    }
    turns.forEach((node, n) => {
      const one = store.record.buttons[n], field = fields[one.field], under = one.under && handles.find(each => each.handle.control === one.under);
      const [box, text] = node.children, wide = 18 + 6.9 * one.words.length;
      const top = under ? field.y(stands(under.handle, under.control)) + (field.x(under.handle.right) - field.x(one.left) < wide ? 27 : 16) : Math.max(field.box.top + 6, field.y(one.top));
      node.setAttribute('transform', `translate(${px(field.x(one.left))},${px(top)})`);
      node.setAttribute('aria-pressed', one.pressed); node.setAttribute('aria-label', one.words);
      box.setAttribute('width', px(wide)); text.textContent = one.words;
    });
    if (knots) knots.nodes.forEach((node, n) => {
      const field = fields[knots.field], up = knots.axis === 'up', { low, high } = up ? field.up : field.across;
      node.setAttribute('transform', up ? `translate(${px(field.x(knots.at[n]))},${px(field.y(knots.values[n]))})` : `translate(${px(field.x(knots.values[n]))},${px(field.y(knots.at[n]))})`);
      name(node, low, high, +knots.values[n].toFixed(3), `${signed(+knots.values[n].toFixed(2))} ${knots.unit}`);
    });
    for (const { control, input, output } of inputs) {
      const text = readingOf(control, store.values[control.name]), mark = markOf(control, store.values[control.name]);
      if (+input.value !== mark) input.value = mark;
      if (output.textContent !== text) { input.setAttribute('aria-valuetext', text); output.textContent = text; }
    }
    if (play) play.textContent = still.matches ? setup.play_words[1] : playing ? said.pause : setup.play_words[0];
    if (guessing) guessing.hidden = !knots && !store.record.guessed, guessing.className = 'fy-show', guessing.textContent = knots ? said.show : store.guess ? said.guess_again : said.guess;
    root.classList.toggle('fy-guessing', !!knots);
    clearTimeout(dim);                                        // an answer that comes quickly never dims anything
    if (store.shown >= store.serial) root.classList.remove('fy-waiting'); else dim = setTimeout(() => root.classList.add('fy-waiting'), SLOW);
    late.textContent = store.late ? said.late : ''; late.hidden = !store.late;
    clearTimeout(speak);                                      // spoken once the hand rests, not at every step
    speak = setTimeout(() => {
      const told = knots ? '' : [store.record.reply, store.record.spoken, ...store.record.chips.map(one => `${one.name}: ${one.text}.`)].join(' ').trim();
      if (store.shown >= store.serial && spoken.textContent !== told) spoken.textContent = told;
    }, HUSH);
  }
  const unwatch = store.watch(what => { if (what === 'answered') draw(); else if (what !== 'renewed') follow(); });
  const sized = new ResizeObserver(() => { if (Math.abs(svg.viewBox.baseVal.width * zoom - Math.max(260, svg.parentNode.clientWidth)) > 0.5) draw(); });
  el.append(root); draw();
  if (store.asleep) startGuess(false);
  clearTimeout(speak);
  sized.observe(svg.parentNode); still.addEventListener('change', follow, on);
  return () => { unwatch(); sized.disconnect(); ended.abort(); clearInterval(playing); clearTimeout(speak); clearTimeout(dim); root.remove(); };
}

export default () => {                                        // called once for each widget: its views share one store
  let store;
  return {
    initialize({ model }) {
      store = makeStore(model.get('setup'), model.get('record'), question => model.send(question));
      model.on('change:record', () => store.answer(model.get('record')));
      model.on('change:setup', () => store.renew(model.get('setup'), model.get('record')));
      return () => store.end();
    },
    render: ({ el }) => show(el, store),
  };
};
