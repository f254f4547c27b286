/* The position page: moves made on the board or typed, steps along the line, turning, copying. */
import { announce, ask } from './desk.js';

const main = /** @type {HTMLElement} */ (document.getElementById('text'));
const board = /** @type {HTMLElement} */ (document.getElementById('board'));
const form = /** @type {HTMLFormElement} */ (document.getElementById('enter'));
const field = /** @type {HTMLInputElement} */ (form.elements.namedItem('move'));
const legal = (board.dataset.legal ?? '').split(' ');
const onward = /** @type {HTMLAnchorElement[]} */ ([...document.querySelectorAll('[data-onward]')]);
let chosen = 0;

/** @param {string} move */
const play = move => ask(`${main.dataset.play}&move=${encodeURIComponent(move)}`);

board.addEventListener('variorum-move', event => {
  const { from, to } = /** @type {CustomEvent<{from: string, to: string}>} */ (event).detail;
  const moves = legal.filter(move => move.startsWith(from + to));
  if (moves.length === 0) { announce(`${from} to ${to} is not legal`); return; }
  if (moves.length === 1) { play(moves[0]); return; }
  field.value = `${from}${to}=`;            // a pawn promotes: the unit is said
  field.focus();
  announce('The pawn promotes: type Q, R, B or N and press Enter');
});
form.addEventListener('submit', event => { event.preventDefault(); play(field.value.replace(/^([a-h][1-8][a-h][1-8])=([QRBN])$/i, (_, way, unit) => way + unit.toLowerCase())); });

const turn = () => { board.toggleAttribute('flip'); try { localStorage.setItem('variorum-turned', board.hasAttribute('flip') ? 'yes' : ''); } catch { /* for this page only */ } };
try { if (localStorage.getItem('variorum-turned')) board.setAttribute('flip', ''); } catch { /* White below */ }
/** @param {HTMLElement} button */
const copy = async button => {
  try { await navigator.clipboard.writeText(button.dataset.copy ?? ''); announce('Copied'); } catch { announce('The browser does not let the page copy'); }
};
const button = (/** @type {string} */ id) => /** @type {HTMLElement} */ (document.getElementById(id));
button('turn').addEventListener('click', turn);
for (const id of ['copy-line', 'copy-fen']) button(id).addEventListener('click', () => copy(button(id)));

/** @param {number} by */
function choose(by) {
  if (!onward.length) return;
  chosen = (chosen + by + onward.length) % onward.length;
  onward.forEach((link, number) => link.classList.toggle('chosen', number === chosen));
  announce(onward[chosen].textContent ?? '');
}
if (onward.length) choose(0);

/** @type {Record<string, () => void>} */
const keys = {
  ArrowLeft: () => { if (main.dataset.back) location.assign(main.dataset.back); },
  ArrowRight: () => { if (onward.length) location.assign(onward[chosen].href); },
  ArrowUp: () => choose(-1), ArrowDown: () => choose(1),
  t: turn, c: () => copy(button('copy-line')), f: () => copy(button('copy-fen')), m: () => field.focus(),
};
document.addEventListener('keydown', event => {
  const target = /** @type {Element} */ (event.target);
  if (event.ctrlKey || event.metaKey || event.altKey || target.closest('input, textarea, select, .keys')) return;
  const act = keys[event.key];
  if (act) { event.preventDefault(); act(); }
});
