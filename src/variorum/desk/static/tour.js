/* The note of a page is put away for good; the settings bring all of them back. */
import { announce, ask } from './desk.js';

document.addEventListener('click', async event => {
  const button = /** @type {HTMLElement | null} */ (/** @type {Element} */ (event.target).closest('[data-put-away]'));
  if (!button || !await ask('/notes/put-away', { note: button.dataset.putAway })) return;
  document.getElementById('tour')?.remove();
  announce('The note is put away');
  const main = /** @type {HTMLElement | null} */ (document.querySelector('main'));
  if (main) { main.tabIndex = -1; main.focus({ preventScroll: true }); }   // the button that had the focus is gone
});
