/* A game read on the board: steps by key, press or touch; the diagram, its caption and what can be done follow. */
import { announce, ask } from './desk.js';

const main = /** @type {HTMLElement} */ (document.getElementById('text'));
const board = /** @type {HTMLElement} */ (document.getElementById('board'));
const moves = /** @type {HTMLButtonElement[]} */ ([...document.querySelectorAll('#moves button.mv')]);
const at = (/** @type {string} */ id) => /** @type {HTMLElement} */ (document.getElementById(id));
let ply = 0;

/** The line to here, as a place is typed. */
const typed = () => [main.dataset.begin, ...moves.slice(0, ply).map(move => move.dataset.typed)].filter(Boolean).join(' ');
const fen = () => (ply ? moves[ply - 1].dataset.fen : main.dataset.fen) ?? '';

/** @param {number} to @param {boolean} [quietly] */
function show(to, quietly = false) {
  ply = Math.max(0, Math.min(moves.length, to));
  const move = moves[ply - 1], side = fen().split(' ')[1] === 'w' ? 'White' : 'Black';
  const words = `${move ? `After ${move.dataset.called}` : 'Before the first move'}.${ply === moves.length ? '' : ` ${side} to move.`}`;
  board.setAttribute('label', words);
  board.setAttribute('fen', fen());
  board.setAttribute('marks', move?.dataset.mark ?? '');
  at('caption').textContent = words;
  at('figures').textContent = move?.dataset.figures ?? '';
  moves.forEach((one, number) => { one.setAttribute('aria-pressed', String(number === ply - 1)); one.tabIndex = number === Math.max(0, ply - 1) ? 0 : -1; });
  at('adding').hidden = ply <= Number(main.dataset.inOrder);
  at('add').textContent = ply === moves.length ? 'Add the whole game to the manuscript' : `Add it to the manuscript to ${move?.dataset.called}`;
  /** @type {HTMLAnchorElement} */ (at('open')).href = `${main.dataset.position}?at=${encodeURIComponent(typed() || 'start')}`;
  const address = new URL(location.href);
  address.searchParams.set('ply', String(ply));
  history.replaceState(null, '', address);
  if (quietly) return;
  announce(words);
  move?.scrollIntoView({ block: 'nearest' });
}

/** @param {string} words */
const copy = async words => {
  try { await navigator.clipboard.writeText(words); announce('Copied'); } catch { announce('The browser does not let the page copy'); }
};
const turn = () => { board.toggleAttribute('flip'); try { localStorage.setItem('variorum-turned', board.hasAttribute('flip') ? 'yes' : ''); } catch { /* for this page only */ } };
try { if (localStorage.getItem('variorum-turned')) board.setAttribute('flip', ''); } catch { /* White below */ }

main.addEventListener('click', event => {
  const button = /** @type {HTMLButtonElement | null} */ (/** @type {Element} */ (event.target).closest('button')), number = button ? moves.indexOf(button) : -1;
  if (number >= 0) show(number + 1);
  else if (button?.dataset.to) show(Number(button.dataset.to));
});
/** @type {Record<string, () => void>} */
const acts = {
  back: () => show(ply - 1), on: () => show(ply + 1), turn,
  'copy-line': () => copy(typed() || 'start'), 'copy-fen': () => copy(fen()),
  add: () => ask(main.dataset.add ?? '', { act: 'add', at: typed(), hash: main.dataset.hash, words: /** @type {HTMLInputElement | null} */ (document.getElementById('named'))?.checked ? main.dataset.called : '' }).then(told => { if (told) location.reload(); }),
};
for (const [id, act] of Object.entries(acts)) at(id).addEventListener('click', act);
/** @type {Record<string, () => void>} */
const keys = {
  ArrowLeft: acts.back, ArrowRight: acts.on, Home: () => show(0), End: () => show(moves.length),
  t: turn, c: acts['copy-line'], f: acts['copy-fen'], o: () => at('open').click(),
};
document.addEventListener('keydown', event => {
  const target = /** @type {Element} */ (event.target);
  if (event.ctrlKey || event.metaKey || event.altKey || target.closest('input, textarea, select')) return;
  const act = keys[event.key];
  if (!act) return;
  event.preventDefault();
  act();
  if (moves.includes(/** @type {HTMLButtonElement} */ (target))) moves[Math.max(0, ply - 1)]?.focus();
});
show(Number(main.dataset.ply), true);
