/* The manuscript as a book: walking along its lines with the diagram following, folding, writing where the words stand. */
import { announce, erratum } from './desk.js';
import { element } from './differences.js';
import { editing, make, show, write } from './words.js';

const main = /** @type {HTMLElement} */ (document.getElementById('text'));
const board = document.getElementById('board'), words = /** @type {HTMLElement} */ (document.getElementById('words'));
const byId = (/** @type {string} */ id) => document.getElementById(id);
const PAUSE = 120;
/** @type {Map<string, HTMLAnchorElement>} */
let moves = new Map();
/** @type {Map<string, HTMLAnchorElement[]>} what is played at a place: the line's own move first */
let onward = new Map();
/** @type {HTMLAnchorElement | undefined} */
let here;
let chosen = 0, timer = 0;

function read() {
  moves = new Map();
  onward = new Map();
  for (const move of /** @type {NodeListOf<HTMLAnchorElement>} */ (document.querySelectorAll('#book .mv[data-node]'))) {
    moves.set(move.dataset.node ?? '', move);
    const before = move.dataset.before ?? '';
    onward.set(before, [...(onward.get(before) ?? []), move]);
  }
}

const ways = () => (here && onward.get(here.dataset.node ?? '')) ?? [];

/** Go to a move: the diagram and the words follow. @param {HTMLAnchorElement | undefined} move @param {{words?: boolean, focus?: boolean, address?: boolean}} [how] */
function go(move, how = {}) {
  if (!move) return;
  here?.classList.remove('here');
  here?.removeAttribute('aria-current');
  here = move;
  chosen = 0;
  for (let fold = move.closest('details'); fold; fold = fold.parentElement?.closest('details') ?? null) fold.open = true;
  move.classList.add('here');
  move.setAttribute('aria-current', 'location');
  if (how.address !== false) move.scrollIntoView({ block: 'nearest' });
  if (how.focus !== false) move.focus({ preventScroll: true });
  if (move.dataset.fen) {
    board?.setAttribute('fen', move.dataset.fen);
    board?.setAttribute('label', `The position after ${move.textContent}`);
    const caption = byId('caption');
    if (caption) caption.textContent = `${move.dataset.fen.split(' ')[1] === 'w' ? 'White' : 'Black'} to move.`;
  }
  forks();
  if (how.address !== false) history.replaceState(null, '', `#n${move.dataset.node}`);   // a browser scrolls to it while the page loads
  clearTimeout(timer);
  if (how.words !== false) timer = window.setTimeout(() => show(move.dataset.node, byId('book')?.dataset.hash), PAUSE);
}

/** What is played here, where the line parts. */
function forks() {
  const list = ways(), place = byId('forks');
  place?.replaceChildren(...(list.length > 1 ? list.map((move, number) => {
    const link = element('a', move.textContent ?? '', number === chosen ? 'mv chosen' : 'mv');
    link.href = move.href;
    link.addEventListener('click', event => { event.preventDefault(); go(move); });
    return link;
  }) : []).flatMap(one => [one, ' ']));
}

/** @param {number} by */
function choose(by) {
  const list = ways();
  if (list.length < 2) return;
  chosen = (chosen + by + list.length) % list.length;
  forks();
  announce(list[chosen].textContent ?? '');
}

/** The end of the line, one way or the other. @param {1 | -1} way */
function end(way) {
  let at = here, next = at;
  while (next) { at = next; next = way > 0 ? onward.get(at.dataset.node ?? '')?.[0] : moves.get(at.dataset.before ?? ''); }
  go(at);
}

/** Read the text anew after a change, folds as they are. @param {string | null} node where to go then */
async function again(node) {
  const book = byId('book');
  const folds = () => /** @type {NodeListOf<HTMLDetailsElement>} */ (document.querySelectorAll('#book details'));
  const open = new Map([...folds()].map(fold => [fold.dataset.key, fold.open]));
  const answer = await fetch(`${main.dataset.book}?game=${book?.dataset.game ?? 1}`).catch(() => null);
  if (!answer?.ok || !book) { erratum('the text could not be read again', 'load the page again'); return; }
  const fresh = new DOMParser().parseFromString(await answer.text(), 'text/html').getElementById('book');
  if (!fresh) return;
  const begun = !book.querySelector('.mv') && fresh.querySelector('.mv');
  if (begun) { location.reload(); return; }
  book.replaceWith(fresh);
  for (const fold of folds()) fold.open = open.get(fold.dataset.key) ?? fold.open;
  read();
  const before = here?.dataset, same = moves.get(before?.node ?? '');
  here = undefined;
  const first = moves.values().next().value;
  if (node) go(moves.get(node) ?? first, { words: false, focus: false });
  else go(same?.dataset.fen === before?.fen ? same : [...moves.values()].find(move => move.dataset.fen === before?.fen) ?? first, { focus: false });
  for (const id of ['tidy', 'steps']) part(id);
}

/** @param {string} id */
async function part(id) {
  const place = byId(id);
  if (!place) return;
  const answer = await fetch(place.dataset.from ?? '').catch(() => null);
  if (answer?.ok) place.replaceChildren(...new DOMParser().parseFromString(await answer.text(), 'text/html').body.childNodes);
}

/** Words of the text, changed where they stand. @param {HTMLElement} remark */
function rewrite(remark) {
  go(moves.get(remark.dataset.of ?? ''), { words: false });
  write(remark, remark.querySelector('.its')?.textContent ?? '', { act: 'comment', node: Number(remark.dataset.of), token: Number(remark.dataset.token) });
}

/** What the author says of this move, or the room behind it. */
function writeHere() {
  if (!here) return;
  const said = /** @type {HTMLElement | null} */ (document.querySelector(`#book .remark[data-of="${here.dataset.node}"]`));
  if (said) { rewrite(said); return; }
  const room = element('span');
  here.after(room);
  write(room, '', { act: 'comment', node: Number(here.dataset.node) });
}

document.addEventListener('click', event => {
  const target = /** @type {Element} */ (event.target), move = /** @type {HTMLAnchorElement | null} */ (target.closest('#book .mv[data-node]'));
  if (move && !event.ctrlKey && !event.metaKey) { event.preventDefault(); go(move); return; }
  const button = /** @type {HTMLElement | null} */ (target.closest('button'));
  if (button?.dataset.fold) for (const fold of document.querySelectorAll('#book details')) /** @type {HTMLDetailsElement} */ (fold).open = button.dataset.fold === 'open';
  else if (button?.dataset.act && button.closest('.manuscript-foot')) make({ act: button.dataset.act, steps: Number(button.dataset.steps ?? 1) });
});
document.addEventListener('dblclick', event => {
  const remark = /** @type {HTMLElement | null} */ (/** @type {Element} */ (event.target).closest('#book .remark'));
  if (remark) rewrite(remark);
});
byId('merge-file')?.addEventListener('change', async event => {
  const input = /** @type {HTMLInputElement} */ (event.target), file = input.files?.[0], words = /** @type {HTMLTextAreaElement | null} */ (byId('merge-words'));
  if (!file || !words) return;
  const read = await file.arrayBuffer();
  // The PGN standard asks for ISO 8859-1; most of what is written today is UTF-8.
  try { words.value = new TextDecoder('utf-8', { fatal: true }).decode(read); } catch { words.value = new TextDecoder('windows-1252').decode(read); }
  announce(`${file.name} stands in the field; “Take it in” adds it to the manuscript`);
});
byId('merge')?.addEventListener('submit', event => {
  event.preventDefault();
  const form = /** @type {HTMLFormElement} */ (event.target), data = new FormData(form);
  make({ act: 'merge', words: String(data.get('words') ?? ''), file: String(data.get('file') ?? '') }).then(said => { if (said) form.reset(); });
});
document.addEventListener('variorum-written', event => {
  const { node } = /** @type {CustomEvent<{node: number | null}>} */ (event).detail;
  again(node === null ? null : String(node));
});
document.addEventListener('variorum-shown', event => {
  const { hash } = /** @type {CustomEvent<{hash: string}>} */ (event).detail;
  if (byId('book')?.dataset.hash !== hash && !editing()) again(null);
});

const fold = () => {
  const own = /** @type {HTMLDetailsElement | null | undefined} */ (here?.closest('details'));
  let next = here?.nextElementSibling;
  while (next && next.matches('.remark')) next = next.nextElementSibling;
  const beside = /** @type {HTMLDetailsElement | null} */ (next?.matches('details') ? next : null), which = beside ?? own;
  if (!which) return;
  which.open = !which.open;
  if (!which.open && which === own) go(/** @type {HTMLAnchorElement | undefined} */ (which.previousElementSibling?.closest('.mv') ?? undefined) ?? here);
};
/** @type {Record<string, () => void>} */
const keys = {
  ArrowRight: () => go(ways()[chosen]), ArrowLeft: () => go(moves.get(here?.dataset.before ?? '')),
  ArrowUp: () => choose(-1), ArrowDown: () => choose(1), Home: () => end(-1), End: () => end(1),
  x: fold, e: writeHere, t: () => board?.toggleAttribute('flip'),
  o: () => { const link = /** @type {HTMLAnchorElement | null} */ (words.querySelector('a[data-position]')); if (link) location.assign(link.href); },
};
document.addEventListener('keydown', event => {
  const target = /** @type {Element} */ (event.target);
  if (event.ctrlKey || event.metaKey || event.altKey || target.closest('input, textarea, select')) return;
  const run = keys[event.key];
  if (run) { event.preventDefault(); event.stopImmediatePropagation(); run(); }
}, { capture: true });

read();
go(moves.get(main.dataset.begin ?? '') ?? moves.get(location.hash.slice(2)) ?? moves.values().next().value, { focus: Boolean(main.dataset.begin), address: Boolean(main.dataset.begin || location.hash) });
if (!here) show('');
for (const id of ['tidy', 'steps']) part(id);
