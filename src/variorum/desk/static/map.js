/* The map drawn: lines that fork and flow together. Where everything stands is computed by the desk (layout.py). */

const GAP = 3.1, BEND = 52, NS = 'http://www.w3.org/2000/svg';

/**
 * @typedef {{ number: number, x: number, y: number, across: number, kind: string, name: string, sig: string, score: string, pm: string, games: string, href: string, label: string }} Place
 * @typedef {{ start: number, end: number, lines: number, level: number, up: string, down: string, label: string }} Flow
 * @typedef {{ width: number, height: number, places: Place[], flows: Flow[] }} Sheet
 */

/** @param {string} tag @param {Record<string, string | number>} attributes @param {Element} parent @param {string} [text] */
function add(tag, attributes, parent, text) {
  const element = document.createElementNS(NS, tag);
  for (const [name, value] of Object.entries(attributes)) element.setAttribute(name, String(value));
  if (text) element.textContent = text;
  return parent.appendChild(element);
}

/** Offsets of the flows on one side of a place, those that run above first. @param {Flow[]} flows @param {(flow: Flow) => number} order */
function pile(flows, order) {
  const sorted = [...flows].sort((a, b) => order(a) - order(b));
  let at = -sorted.reduce((sum, flow) => sum + flow.lines, 0) / 2;
  return new Map(sorted.map(flow => { const here = at; at += flow.lines; return [flow, here]; }));
}

/** @param {SVGSVGElement} svg @param {Sheet} sheet */
function draw(svg, sheet) {
  const { places, flows } = sheet, by = new Map(places.map(place => [place.number, place]));
  const place = (/** @type {number} */ number) => /** @type {Place} */ (by.get(number));
  svg.setAttribute('viewBox', `0 0 ${sheet.width} ${sheet.height}`);
  svg.setAttribute('width', String(sheet.width)); svg.setAttribute('height', String(sheet.height));
  const outs = new Map(places.map(one => [one.number, pile(flows.filter(flow => flow.start === one.number), flow => flow.level)]));
  const ins = new Map(places.map(one => [one.number, pile(flows.filter(flow => flow.end === one.number), flow => flow.level)]));
  const side = (/** @type {Map<number, Map<Flow, number>>} */ all, /** @type {number} */ number) => /** @type {Map<Flow, number>} */ (all.get(number));
  const thick = (/** @type {number} */ number) => Math.max(...[side(outs, number), side(ins, number)].map(one => [...one.keys()].reduce((sum, flow) => sum + flow.lines, 0))) * GAP / 2;
  for (const flow of flows) {
    const a = place(flow.start), b = place(flow.end), group = add('g', { class: 'flow', 'data-from': a.number, 'data-to': b.number }, svg);
    let from = a.x, to = b.x;
    for (let line = 0; line < flow.lines; line++) {
      const ya = a.y + (/** @type {number} */ (side(outs, a.number).get(flow)) + line + .5) * GAP, yb = b.y + (/** @type {number} */ (side(ins, b.number).get(flow)) + line + .5) * GAP;
      const level = flow.level + (line - (flow.lines - 1) / 2) * GAP;
      const bend = (/** @type {number} */ one, /** @type {number} */ two) => Math.min(BEND, 14 + Math.abs(one - two) * .9);
      const b1 = Math.min(bend(ya, level), (b.x - a.x) / 2), b2 = Math.min(bend(level, yb), (b.x - a.x) / 2);
      add('path', { class: 'g', d: `M${a.x} ${ya}C${a.x + b1 * .55} ${ya} ${a.x + b1 * .45} ${level} ${a.x + b1} ${level}H${b.x - b2}C${b.x - b2 * .45} ${level} ${b.x - b2 * .55} ${yb} ${b.x} ${yb}` }, group);
      from = a.x + b1; to = b.x - b2;
    }
    const x = b.kind === 'end' ? (from + to) / 2 : Math.max(from + 4, (from + to) / 2), half = flow.lines * GAP / 2;
    if (flow.up) add('text', { x, y: flow.level - half - 5, class: 'san' }, group, flow.up);
    if (flow.down) add('text', { x, y: flow.level + half + 14, class: 'san' }, group, flow.down);
    add('title', {}, group, flow.label);
  }
  for (const one of places) {
    if (one.kind === 'end') continue;
    const link = add('a', { class: `node ${one.kind === 'root' ? 'source' : one.kind === 'name' ? 'place' : one.kind}`, href: one.href, 'data-id': one.number, 'aria-label': one.label }, svg);
    const confluence = one.kind === 'confluence', radius = one.sig ? (confluence ? 14 : 11) : 4, outer = radius + (confluence ? 4 : 0);
    add('circle', { cx: one.x, cy: one.y, r: outer, class: 'ring' }, link);
    if (confluence) add('circle', { cx: one.x, cy: one.y, r: radius, class: 'ring' }, link);
    if (one.sig) add('text', { x: one.x, y: one.y + (confluence ? 6 : 5), class: 'sig' }, link, one.sig);
    const low = one.y + Math.max(outer, thick(one.number));
    if (one.kind === 'root') {
      add('text', { x: one.x - 14, y: one.y - 1, class: 'name' }, link, one.name);
      add('text', { x: one.x - 14, y: one.y + 15, class: 'sub' }, link, one.games);
      continue;
    }
    if (one.score) {
      const score = add('text', { x: one.x, y: low + 17, class: 'score' }, link, one.score);
      if (one.pm) add('tspan', { class: 'pm', dx: 3 }, score, `± ${one.pm}`);
    }
    add('text', { x: one.x, y: low + (one.score ? 32 : 17), class: 'sub' }, link, one.games);
  }
  const lift = (/** @type {EventTarget | null} */ target) => {
    const node = /** @type {SVGElement | null} */ (target instanceof Element ? target.closest('.node') : null);
    for (const flow of /** @type {NodeListOf<SVGElement>} */ (svg.querySelectorAll('.flow'))) {
      flow.classList.toggle('lift', !!node && (flow.dataset.from === node.dataset.id || flow.dataset.to === node.dataset.id));
    }
  };
  svg.addEventListener('pointerover', event => lift(event.target));
  svg.addEventListener('focusin', event => lift(event.target));
  svg.addEventListener('pointerleave', () => lift(null));
}

const data = document.getElementById('sheet');
if (data) draw(/** @type {any} */ (document.getElementById('map')), JSON.parse(data.dataset.sheet ?? ''));
