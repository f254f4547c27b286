/* Beside a list stands a diagram: it shows the position of the row that is pointed at or focused, with the moves that are meant. */
import { prepareLines } from './replay.js';

/** @param {HTMLElement} row */
function show(row) {
  const figure = document.getElementById('beside'), board = figure?.querySelector('v-board');
  if (!figure || !board) return;
  figure.hidden = false;
  board.setAttribute('marks', '');
  board.setAttribute('fen', row.dataset.beside ?? '');
  board.setAttribute('marks', row.dataset.marks ?? '');
  board.setAttribute('label', row.dataset.caption ?? '');
  /** @type {HTMLElement} */ (figure.querySelector('figcaption')).textContent = row.dataset.caption ?? '';
  document.querySelectorAll('[data-beside].shown').forEach(other => other.classList.remove('shown'));
  row.classList.add('shown');
}
for (const name of ['mouseover', 'focusin']) document.addEventListener(name, event => {
  const row = /** @type {HTMLElement | null} */ (/** @type {Element} */ (event.target).closest('[data-beside]'));
  if (row && !row.classList.contains('shown')) show(row);
});
document.addEventListener('variorum-part', event => {
  const part = /** @type {HTMLElement} */ (event.target), first = /** @type {HTMLElement | null} */ (part.querySelector('[data-beside]'));
  prepareLines(part);
  if (first) show(first);
});
const first = /** @type {HTMLElement | null} */ (document.querySelector('[data-beside]'));
if (first) show(first);
