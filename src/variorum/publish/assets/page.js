/* What a published page adds when scripts run: units for board.js from the page's own drawings, reading by night, and diagrams that
 * are played through: left and right step along the line, Home and End go to its ends, Escape comes back; a press on a move goes there. */
/** @type {Record<string, { body: string, line: string, solid: string }>} */
const VARIORUM_UNITS = {};
for (const path of document.querySelectorAll('[id^="unit-"]')) {
  const [, letter, layer] = path.id.split('-');
  (VARIORUM_UNITS[letter] ??= { body: '', line: '', solid: '' })[/** @type {'body' | 'line' | 'solid'} */ (layer)] = path.getAttribute('d') ?? '';
}
if (matchMedia('(prefers-color-scheme: dark)').matches) document.documentElement.dataset.reading ??= 'night';
for (const button of /** @type {NodeListOf<HTMLElement>} */ (document.querySelectorAll('.reading'))) {
  const root = document.documentElement, say = () => { button.textContent = (root.dataset.reading === 'night' ? button.dataset.day : button.dataset.night) ?? null; };
  button.addEventListener('click', () => { root.dataset.reading = root.dataset.reading === 'night' ? 'day' : 'night'; });
  new MutationObserver(say).observe(root, { attributeFilter: ['data-reading'] });
  button.hidden = false;
  say();
}

for (const list of /** @type {NodeListOf<HTMLElement>} */ (document.querySelectorAll('.played'))) {
  const figure = /** @type {HTMLElement} */ (list.closest('figure')), board = /** @type {HTMLElement} */ (figure.querySelector('v-board'));
  const moves = /** @type {HTMLElement[]} */ ([...list.querySelectorAll('button')]), home = Number(list.dataset.home);
  const own = { fen: board.getAttribute('fen') ?? '', marks: board.getAttribute('marks') ?? '', alt: board.getAttribute('alt') ?? '' };
  const said = document.createElement('p');
  said.className = 'vh'; said.setAttribute('role', 'status');
  figure.append(said);
  board.tabIndex = 0; board.setAttribute('role', 'group'); board.setAttribute('aria-label', document.querySelector('main')?.dataset.play ?? '');
  let at = home;
  const show = (/** @type {number} */ to) => {
    at = Math.max(0, Math.min(moves.length, to));
    const { fen = '', marks = '', alt = '' } = at === home ? own : (moves[at - 1] ?? list).dataset;
    board.setAttribute('alt', alt); board.setAttribute('marks', marks); board.setAttribute('fen', fen);
    moves.forEach((move, number) => move.setAttribute('aria-pressed', String(number === at - 1)));
    said.textContent = moves[at - 1]?.dataset.said ?? '';
  };
  figure.addEventListener('focusin', () => { list.hidden = false; if (at === home) show(home); });
  figure.addEventListener('focusout', event => {
    if (event.relatedTarget instanceof Node && figure.contains(event.relatedTarget)) return;
    list.hidden = true; show(home);
  });
  figure.addEventListener('click', event => {
    const number = moves.indexOf(/** @type {HTMLElement} */ (/** @type {Element} */ (event.target).closest('button')));
    if (number >= 0) show(number + 1);
    else if (/** @type {Element} */ (event.target).closest('v-board')) board.focus();
  });
  figure.addEventListener('keydown', event => {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    const to = /** @type {Record<string, number>} */ ({ ArrowRight: at + 1, ArrowLeft: at - 1, Home: 0, End: moves.length, Escape: home })[event.key];
    if (to !== undefined) { event.preventDefault(); board.focus(); show(to); }
  });
}
