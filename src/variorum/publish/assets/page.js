/* What a published page adds when scripts run: units for board.js from the page's own drawings, and reading by night. */
/** @type {Record<string, { body: string, line: string, solid: string }>} */
const VARIORUM_UNITS = {};
for (const path of document.querySelectorAll('[id^="unit-"]')) {
  const [, letter, layer] = path.id.split('-');
  (VARIORUM_UNITS[letter] ??= { body: '', line: '', solid: '' })[/** @type {'body' | 'line' | 'solid'} */ (layer)] = path.getAttribute('d') ?? '';
}
for (const button of /** @type {NodeListOf<HTMLElement>} */ (document.querySelectorAll('.reading'))) {
  const root = document.documentElement, say = () => { button.textContent = (root.dataset.reading === 'night' ? button.dataset.day : button.dataset.night) ?? null; };
  button.addEventListener('click', () => { root.dataset.reading = root.dataset.reading === 'night' ? 'day' : 'night'; say(); });
  button.hidden = false;
  say();
}
