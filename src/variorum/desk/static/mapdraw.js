/* Draws the map: lines that fork and flow together. Where everything stands is computed by the desk (layout.py). */

const GAP = 3.1, BEND = 52, NS = 'http://www.w3.org/2000/svg';

/**
 * @typedef {{ number: number, key: string, x: number, y: number, radius: number, side: string, half: number, kind: string, sig: string, words: [string, string][], href: string, found: boolean, label: string }} Place
 * @typedef {{ start: number, end: number, lines: number, level: number, x: number, up: string, down: string, noted: boolean, red: boolean, unfold: string, label: string }} Flow
 * @typedef {{ width: number, height: number, places: Place[], flows: Flow[] }} Sheet
 */

/** @param {string} tag @param {Record<string, string | number>} attributes @param {Element} parent @param {string} [text] */
function add(tag, attributes, parent, text) {
  const element = document.createElementNS(NS, tag);
  for (const [name, value] of Object.entries(attributes)) element.setAttribute(name, String(value));
  if (text) element.textContent = text;
  return parent.appendChild(element);
}

/** Offsets of the flows on one side of a place, those that run above first. @param {Flow[]} flows */
function pile(flows) {
  const sorted = [...flows].sort((a, b) => a.level - b.level);
  let at = -sorted.reduce((sum, flow) => sum + flow.lines, 0) / 2;
  return new Map(sorted.map(flow => { const here = at; at += flow.lines; return [flow, here]; }));
}

/** The hairlines of a flow as one path, the author's as another, and where its level run begins and ends.
 * @param {Flow} flow @param {Place} a @param {Place} b @param {number} out @param {number} into */
function course(flow, a, b, out, into) {
  const paths = ['', ''], own = flow.red ? flow.lines >> 1 : -1;
  let from = a.x, to = b.x;
  const half = (b.x - a.x) / 2, bend = (/** @type {number} */ one, /** @type {number} */ two) => Math.min(BEND, 14 + Math.abs(one - two) * .9, half);
  for (let line = 0; line < flow.lines; line++) {
    const level = flow.level + (line - (flow.lines - 1) / 2) * GAP;
    const ya = a.y + (out + line + .5) * GAP, yb = b.kind === 'end' ? level : b.y + (into + line + .5) * GAP;
    const b1 = bend(ya, level), b2 = bend(level, yb);
    let d = `M${a.x} ${ya}C${a.x + b1 * .55} ${ya} ${a.x + b1 * .45} ${level} ${a.x + b1} ${level}H${b.x - b2}`;
    if (b.kind !== 'end') d += `C${b.x - b2 * .45} ${level} ${b.x - b2 * .55} ${yb} ${b.x} ${yb}`;
    else d += `H${b.x}`;
    paths[line === own ? 1 : 0] += d;
    from = Math.max(from, a.x + b1); to = Math.min(to, b.kind === 'end' ? b.x : b.x - b2);
  }
  return { others: paths[0], own: paths[1], from, to };
}

/** The words beside a place. @param {Place} one @param {Element} link */
function words(one, link) {
  const below = one.side.startsWith('below'), over = Math.max(one.radius, one.half);
  const anchor = one.side === 'root' || one.side.endsWith('left') ? 'end' : one.side.endsWith('right') ? 'start' : 'middle';
  const x = one.side === 'root' ? one.x - 14 : one.side === 'left' ? one.x - one.radius - 9 : one.x + (anchor === 'end' ? 8 : anchor === 'start' ? -8 : 0);
  const count = one.words.length, first = below ? one.y + over + 15 : one.side.startsWith('above') ? one.y - over - 6 - 16 * (count - 1) : one.y + 5 - 8 * (count - 1);
  one.words.forEach(([kind, text], line) => {
    link.append(' ');
    const row = /** @type {Element} */ (add('text', { x, y: first + 16 * line, class: kind, 'text-anchor': anchor }, link));
    const [, sig, score, noise] = kind === 'value' ? /^(\S+) (.*?)( ± .*)?$/.exec(text) ?? [] : [];
    if (!score) { row.textContent = text; return; }
    add('tspan', { class: 'by' }, row, `${sig} `);
    add('tspan', {}, row, score);
    if (noise) add('tspan', { class: 'pm' }, row, noise);
  });
}

/** @param {SVGSVGElement} svg @param {Sheet} sheet */
export function draw(svg, sheet) {
  const { places, flows } = sheet, by = new Map(places.map(place => [place.number, place]));
  const place = (/** @type {number} */ number) => /** @type {Place} */ (by.get(number));
  const piles = (/** @type {'start' | 'end'} */ side) => new Map(places.map(one => [one.number, pile(flows.filter(flow => flow[side] === one.number))]));
  const outs = piles('start'), ins = piles('end');
  svg.replaceChildren();
  svg.setAttribute('viewBox', `0 0 ${sheet.width} ${sheet.height}`);
  svg.setAttribute('width', String(sheet.width)); svg.setAttribute('height', String(sheet.height));
  flows.forEach((flow, number) => {
    const a = place(flow.start), b = place(flow.end), at = course(flow, a, b, outs.get(a.number)?.get(flow) ?? 0, ins.get(b.number)?.get(flow) ?? 0);
    const label = `${[flow.up, flow.down].filter(Boolean).join(' ')}, ${flow.label}${flow.unfold ? '; Enter unfolds it' : ''}`;
    const group = add(flow.unfold ? 'a' : 'g', { class: `flow${b.kind === 'end' ? ' open' : ''}`, 'data-flow': number, 'data-from': a.number, 'data-to': b.number, tabindex: -1, 'aria-label': label, ...(flow.unfold ? { href: flow.unfold, 'data-map': '' } : { role: 'img' }) }, svg);
    add('path', { class: 'touch', d: `M${at.from} ${flow.level}H${Math.max(at.to, at.from + 1)}` }, group);
    if (at.others) add('path', { class: 'g', d: at.others }, group);
    if (at.own) add('path', { class: 'g own', d: at.own }, group);
    const half = flow.lines * GAP / 2, ends = b.kind === 'end';
    const x = flow.x, anchor = ends ? 'start' : 'middle';
    if (flow.up) add('text', { x, y: flow.level - half - 5, class: 'san', 'text-anchor': anchor }, group, flow.up);
    group.append(' ');
    if (flow.down) add('text', { x, y: flow.level + half + 14, class: flow.noted ? 'sub' : 'san', 'text-anchor': anchor }, group, flow.down);
  });
  for (const one of places) {
    if (one.kind === 'end') continue;
    const link = add('a', { class: `node ${one.kind}${one.found ? ' here' : ''}`, href: one.href, 'data-id': one.number, tabindex: -1, 'aria-label': `${[one.sig, ...one.words.map(([, text]) => text)].filter(Boolean).join(' ')}, ${one.label}` }, svg);
    const confluence = one.kind === 'confluence';
    add('circle', { cx: one.x, cy: one.y, r: one.radius, class: 'ring' }, link);
    if (confluence) add('circle', { cx: one.x, cy: one.y, r: one.radius - 4, class: 'ring' }, link);
    if (one.sig) add('text', { x: one.x, y: one.y + (confluence ? 6 : 5), class: 'sig', 'text-anchor': 'middle' }, link, one.sig);
    words(one, link);
  }
}

/** Which flows lead to a place, all the way from where the map begins. @param {Sheet} sheet @param {number} number */
export function upstream(sheet, number) {
  const found = new Set(), waiting = [number], seen = new Set(waiting);
  while (waiting.length) {
    const at = waiting.pop();
    sheet.flows.forEach((flow, index) => {
      if (flow.end !== at) return;
      found.add(index);
      if (!seen.has(flow.start)) { seen.add(flow.start); waiting.push(flow.start); }
    });
  }
  return found;
}
