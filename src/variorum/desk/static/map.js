/* The map page: the sheet drawn, walked along by keys, searched, unfolded; what was asked stands in the address. */

import { announce, erratum, made } from './desk.js';
import { draw, upstream } from './mapdraw.js';
import { View } from './mapview.js';

const body = /** @type {HTMLElement} */ (document.getElementById('mapbody'));
/** @type {View | null} */
let view = null;
/** @type {import('./mapdraw.js').Sheet | null} */
let sheet = null;
let next = -1, turn = 0, pending = '';
/** @type {Element | null} whose lines are brought out */
let lit = null;

const svg = () => /** @type {SVGSVGElement} */ (/** @type {unknown} */ (document.getElementById('map')));
const node = (/** @type {number} */ number) => /** @type {SVGElement | null} */ (svg().querySelector(`.node[data-id="${number}"]`));
const flow = (/** @type {number} */ index) => /** @type {SVGElement | null} */ (svg().querySelector(`.flow[data-flow="${index}"]`));

/** Draw what the page brought. */
function begin() {
  view?.close();
  view = null; next = -1; lit = null;
  const box = document.getElementById('sheet');
  if (!box) { sheet = null; return; }
  sheet = /** @type {import('./mapdraw.js').Sheet} */ (JSON.parse(box.dataset.sheet ?? ''));
  draw(svg(), sheet);
  view = new View(box, svg(), sheet);
  // Where the keys begin, and what is in sight: what was found first, else the root that most traffic leaves.
  const roots = sheet.places.filter(one => one.kind === 'root').sort((a, b) => b.half - a.half);
  const start = sheet.places.find(one => one.found) ?? roots[0] ?? sheet.places[0];
  if (!start) return;
  node(start.number)?.setAttribute('tabindex', '0');
  view.see(start.x, start.y);
}

/** Go to another state of the map without leaving the page. @param {string} address @param {boolean} [back] the browser went there itself */
async function go(address, back = false) {
  const url = new URL(address, location.href);
  const mine = ++turn;
  pending = address;
  const answer = await made(`${url.pathname}/sheet${url.search}`, announce);
  if (!answer) { erratum('the desk does not answer', 'is it still running? Start it again with “variorum desk”'); return; }
  const text = await answer.text();
  if (mine !== turn) return;
  pending = '';
  if (!answer.ok) { location.assign(url); return; }
  const { held, mark } = take(new DOMParser().parseFromString(text, 'text/html').body);
  if (!back) history.pushState(null, '', url);
  if (view && held && sheet) { view.scale = held.scale; view.x = held.x; view.y = held.y; view.fit(); }
  const found = sheet?.places.find(one => one.found);
  if (found) view?.see(found.x, found.y);
  focus(mark);
  announce(document.querySelector('#found p')?.textContent ?? `${sheet?.places.filter(one => one.kind !== 'end').length ?? 0} places are drawn`);
}

/** Have another sheet in place of this one; the field that has the focus has it again, with what is being typed. @param {Element} fresh what stands in the map's part of the page */
function take(fresh) {
  const focused = document.activeElement, field = focused && body.contains(focused) ? focused.id : '';
  const { id, from, to } = focused instanceof SVGElement ? focused.dataset : {};
  const typed = field === 'find' ? /** @type {HTMLInputElement} */ (focused).value : null;
  const held = view && { scale: view.scale, x: view.x, y: view.y }, old = sheet;
  body.replaceChildren(...fresh.childNodes);
  begin();
  if (field) document.getElementById(field)?.focus({ preventScroll: true });
  if (typed !== null) /** @type {HTMLInputElement} */ (document.getElementById('find')).value = typed;
  const now = (/** @type {string | undefined} */ number) => { const key = old?.places.find(one => String(one.number) === number)?.key; return key ? sheet?.places.find(one => one.key === key) : undefined; };
  const place = now(id ?? from), line = place ? sheet?.flows.findIndex(one => one.start === now(from)?.number && one.end === now(to)?.number) ?? -1 : -1;
  /** What is seen of the old one; the place or line that had the focus there, in this one. */
  return { held, old, place, mark: line >= 0 ? flow(line) : place ? node(place.number) : null };
}

/** A first map is put right when the whole is grown, one from before the latest changes when it is grown anew; what the reader looks at stays where it is. */
async function newer() {
  const told = document.getElementById('growing');
  while (told?.dataset.have !== undefined) {
    const url = new URL(location.href), mine = turn, first = !told.dataset.have;
    url.searchParams.set('newer', told.dataset.have);
    const answer = await made(url.href, words => { const place = told.querySelector('[data-words]'); if (place) place.textContent = words; });
    if (!answer?.ok) { told.textContent = 'The map could not be grown; load the page again.'; return; }
    const page = new DOMParser().parseFromString(await answer.text(), 'text/html');
    if (mine !== turn || pending) continue;   // the reader went on meanwhile
    const next = page.getElementById('growing');
    stay(() => {
      if (next) { told.replaceChildren(...next.childNodes); told.dataset.have = next.dataset.have ?? ''; }
      else { told.textContent = first ? 'The whole map is there.' : 'The map is that of the edition as it is now.'; delete told.dataset.have; }
      const { held, old, place, mark } = take(/** @type {Element} */ (page.getElementById('mapbody')));
      for (const part of ['maphead', 'maplists']) document.getElementById(part)?.replaceChildren(.../** @type {Element} */ (page.getElementById(part)).childNodes);
      if (!view || !held || !sheet || !old) return;
      // What has the focus, else the place nearest to the middle of what is seen, is seen where it was.
      const there = new Map(sheet.places.filter(one => one.kind !== 'end').map(one => [one.key, one])), { wide = 0, high = 0 } = view;
      const far = (/** @type {import('./mapdraw.js').Place} */ one) => one.key === place?.key ? -1 : Math.hypot(one.x * held.scale + held.x - wide / 2, one.y * held.scale + held.y - high / 2);
      const was = old.places.filter(one => there.has(one.key)).sort((a, b) => far(a) - far(b))[0], is = was && there.get(was.key);
      view.scale = held.scale; view.x = held.x; view.y = held.y;
      if (was && is) { view.x += (was.x - is.x) * held.scale; view.y += (was.y - is.y) * held.scale; }
      view.fit();
      focus(mark);
    });
    announce(told.textContent ?? '');
  }
}

/** Change the page around what is read: the sheet, or of the list what stands highest in the window, stays there; what is folded out stays so. @param {() => void} change */
function stay(change) {
  const marks = () => /** @type {HTMLElement[]} */ ([...document.querySelectorAll('#sheet, .down [data-key]')]).filter(one => one.offsetParent);
  const folds = () => /** @type {HTMLDetailsElement[]} */ ([...document.querySelectorAll('.down details')]);
  const mark = marks().find(one => one.getBoundingClientRect().top >= 0) ?? marks()[0], top = mark?.getBoundingClientRect().top ?? 0, key = mark?.dataset.key;
  const open = new Map(folds().map(one => [one.dataset.key, one.open])), link = document.activeElement?.getAttribute('href');
  change();
  for (const one of folds()) one.open = open.get(one.dataset.key) ?? one.open;
  if (link && document.activeElement === document.body) /** @type {HTMLElement[]} */ ([...document.querySelectorAll('main a')]).find(one => one.getAttribute('href') === link)?.focus({ preventScroll: true });
  const same = marks().find(one => one.dataset.key === key);
  if (same && scrollY > 0) scrollBy({ top: same.getBoundingClientRect().top - top, behavior: 'instant' });
}

/** @param {SVGElement | null} mark */
function focus(mark) {
  if (!mark || !sheet) return;
  for (const one of svg().querySelectorAll('[tabindex="0"]')) one.setAttribute('tabindex', '-1');
  mark.setAttribute('tabindex', '0');
  mark.focus({ preventScroll: true });
  const at = mark.dataset.id === undefined ? sheet.flows[Number(mark.dataset.flow)] : sheet.places[Number(mark.dataset.id)];
  if ('y' in at) view?.see(at.x, at.y);
  else { const [a, b] = [at.start, at.end].map(number => /** @type {import('./mapdraw.js').Sheet} */ (sheet).places[number]); view?.see((a.x + b.x) / 2, at.level); }
}

/** Where an arrow leads from a mark: along the line, or to the next branch beside it. @param {SVGElement} mark @param {string} key */
function step(mark, key) {
  if (!sheet) return null;
  const { flows, places } = sheet;
  const number = mark.dataset.id === undefined ? -1 : Number(mark.dataset.id), index = mark.dataset.flow === undefined ? -1 : Number(mark.dataset.flow);
  const heaviest = (/** @type {'start' | 'end'} */ side) => flows.map((one, at) => ({ one, at })).filter(({ one }) => one[side] === number).sort((a, b) => b.one.lines - a.one.lines)[0];
  const beside = (/** @type {{ at: number, y: number }[]} */ row, /** @type {number} */ here) => {
    const sorted = row.sort((a, b) => a.y - b.y), place = sorted.findIndex(one => one.at === here);
    return sorted[place + (key === 'ArrowDown' ? 1 : -1)]?.at;
  };
  if (key === 'ArrowRight') {
    if (index >= 0) return places[flows[index].end].kind === 'end' ? null : node(flows[index].end);
    const out = heaviest('start'); return out ? flow(out.at) : null;
  }
  if (key === 'ArrowLeft') {
    if (index >= 0) return node(flows[index].start);
    const into = heaviest('end'); return into ? flow(into.at) : null;
  }
  if (index >= 0) {
    const at = beside(flows.map((one, at) => ({ one, at, y: one.level })).filter(({ one }) => one.start === flows[index].start), index);
    return at === undefined ? null : flow(at);
  }
  const at = beside(places.filter(one => one.kind !== 'end' && Math.abs(one.x - places[number].x) < 60).map(one => ({ at: one.number, y: one.y })), number)
    ?? beside(places.filter(one => one.kind !== 'end').map(one => ({ at: one.number, y: one.y })), number);
  return at === undefined ? null : node(at);
}

/** Bring out the lines by which a place is reached, or one line. @param {EventTarget | null} target */
function lift(target) {
  if (!sheet || !document.getElementById('map')) return;
  const mark = /** @type {SVGElement | null} */ (target instanceof Element ? target.closest('#map .node, #map .flow, tr[data-place], li[data-place]') : null);
  const number = mark?.dataset.id ?? mark?.dataset.place, index = mark?.dataset.flow;
  if (mark === lit || view?.dragged) return;
  lit = mark;
  const lifted = number !== undefined ? upstream(sheet, Number(number)) : new Set(index === undefined ? [] : [Number(index)]);
  svg().querySelectorAll('.flow').forEach((one, at) => one.classList.toggle('lift', lifted.has(at)));
}

/** The next place that was found, on the sheet and in the list. */
function onward() {
  const list = [...document.querySelectorAll('#found li')];
  if (!list.length) return;
  next = (next + 1) % list.length;
  list.forEach((one, at) => one.toggleAttribute('data-now', at === next));
  const item = /** @type {HTMLElement} */ (list[next]), number = item.dataset.place;
  item.scrollIntoView({ block: 'nearest' });
  for (const one of svg().querySelectorAll('.now')) one.classList.remove('now');
  if (number !== undefined && sheet) {
    const place = sheet.places[Number(number)];
    node(place.number)?.classList.add('now');
    view?.see(place.x, place.y);
    lift(item);
  }
  announce(`${next + 1} of ${list.length}: ${item.textContent?.trim() ?? ''}`);
}

/** What the form asks, as an address. @param {HTMLFormElement} form */
function asked(form) {
  const query = new URLSearchParams();
  for (const [name, value] of new FormData(form)) if (value) query.append(name, String(value));
  return `${form.getAttribute('action')}${query.size ? `?${query}` : ''}`;
}

body.addEventListener('submit', event => {
  const form = /** @type {HTMLFormElement} */ (event.target), address = asked(form);
  event.preventDefault();
  if (address === pending) return;
  if (address === location.pathname + location.search && document.querySelector('#found li')) onward();
  else go(address).then(() => { if (new URL(address, location.href).searchParams.get('find')) onward(); });
});
body.addEventListener('change', event => {
  const field = /** @type {HTMLElement} */ (event.target);
  if (field instanceof HTMLSelectElement && field.form) go(asked(field.form));
});
body.addEventListener('click', event => {
  const target = /** @type {Element} */ (event.target), link = target.closest('[data-map]'), zoom = /** @type {HTMLElement | null} */ (target.closest('[data-zoom]'))?.dataset.zoom;
  if (zoom === 'in') view?.zoom(1.3); else if (zoom === 'out') view?.zoom(1 / 1.3); else if (zoom) view?.whole();
  const plain = !(event.ctrlKey || event.metaKey || event.shiftKey);
  if (link && plain) { event.preventDefault(); go(link.getAttribute('href') ?? ''); }
});
for (const kind of ['pointerover', 'focusin']) body.addEventListener(kind, event => lift(event.target));
body.addEventListener('keydown', event => {
  const mark = /** @type {SVGElement | null} */ (event.target instanceof Element ? event.target.closest('#map .node, #map .flow') : null);
  if (!mark || event.ctrlKey || event.metaKey || event.altKey) return;
  const arrows = { ArrowLeft: [60, 0], ArrowRight: [-60, 0], ArrowUp: [0, 60], ArrowDown: [0, -60] }, shift = arrows[/** @type {keyof typeof arrows} */ (event.key)];
  if (shift) { event.preventDefault(); if (event.shiftKey) view?.move(shift[0], shift[1]); else focus(step(mark, event.key)); }
  else if (event.key === 'Home') { event.preventDefault(); focus(svg().querySelector('.node.root')); }
  else if (event.key === ' ' && mark.matches('a')) { event.preventDefault(); mark.dispatchEvent(new MouseEvent('click', { bubbles: true, cancelable: true })); }
});
document.addEventListener('keydown', event => {
  if (event.ctrlKey || event.metaKey || event.altKey || (event.target instanceof Element && event.target.closest('input, select, textarea'))) return;
  if (event.key === '/') { event.preventDefault(); document.getElementById('find')?.focus(); }
  else if (event.key === '+' || event.key === '=') view?.zoom(1.3);
  else if (event.key === '-') view?.zoom(1 / 1.3);
  else if (event.key === '0') view?.whole();
});
addEventListener('popstate', () => go(location.href, true));
begin();
newer();
