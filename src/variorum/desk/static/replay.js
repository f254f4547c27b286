/* Lines that are played through: a press on a move opens a small diagram below the line; left and right step on, Escape closes it. */
import { announce } from './desk.js';

/** @param {HTMLElement} line */
function prepare(line) {
  const moves = /** @type {HTMLButtonElement[]} */ ([...line.querySelectorAll('button.mv')]);
  /** @type {HTMLElement | null} */
  let figure = null;
  moves.forEach((move, number) => { move.tabIndex = number ? -1 : 0; move.setAttribute('aria-pressed', 'false'); });

  /** @param {number} number -1 is the position that the line begins with */
  function show(number) {
    const move = moves[number], board = (figure ??= plate()).querySelector('v-board');
    const words = move ? `After ${move.dataset.called}` : 'Before the line';
    board?.setAttribute('label', words);
    board?.setAttribute('fen', (move ?? line).dataset.fen ?? '');
    board?.setAttribute('marks', move?.dataset.mark ?? '');
    const open = /** @type {HTMLAnchorElement} */ (figure.querySelector('a'));
    open.textContent = `${words}.`;
    open.href = `${line.dataset.open}${encodeURIComponent((move ?? line).dataset.fen ?? '')}`;
    moves.forEach((one, at) => { one.setAttribute('aria-pressed', String(at === number)); one.tabIndex = at === Math.max(0, number) ? 0 : -1; });
    moves[Math.max(0, number)].focus();
    announce(words);
  }
  function plate() {
    const made = document.createElement('figure'), caption = document.createElement('figcaption'), board = document.createElement('v-board');
    board.setAttribute('fen', line.dataset.fen ?? '');
    try { if (localStorage.getItem('variorum-turned')) board.setAttribute('flip', ''); } catch { /* White below */ }
    caption.append(document.createElement('a'), ' Left and right step, Escape closes the diagram.');
    made.append(board, caption);
    line.append(made);
    return made;
  }
  function close() {
    figure?.remove();
    figure = null;
    moves.forEach(move => move.setAttribute('aria-pressed', 'false'));
  }
  line.addEventListener('click', event => {
    const number = moves.indexOf(/** @type {HTMLButtonElement} */ (/** @type {Element} */ (event.target).closest('button.mv')));
    if (number < 0) return;
    if (moves[number].getAttribute('aria-pressed') === 'true') close(); else show(number);
  });
  line.addEventListener('keydown', event => {
    const at = moves.findIndex(move => move.getAttribute('aria-pressed') === 'true'), here = moves.indexOf(/** @type {HTMLButtonElement} */ (document.activeElement));
    if (here < 0 || event.ctrlKey || event.metaKey || event.altKey) return;
    /** @type {Record<string, number>} */
    const to = { ArrowRight: Math.min(moves.length - 1, (figure ? at : here - 1) + 1), ArrowLeft: Math.max(-1, (figure ? at : here) - 1), Home: -1, End: moves.length - 1 };
    if (event.key === 'Escape' && figure) { close(); event.preventDefault(); }
    else if (event.key in to) { event.preventDefault(); show(to[event.key]); }
  });
}

/** Lines of a part that came later. @param {ParentNode} root */
export function prepareLines(root) {
  for (const line of /** @type {NodeListOf<HTMLElement>} */ (root.querySelectorAll('.replay'))) prepare(line);
}
prepareLines(document);
