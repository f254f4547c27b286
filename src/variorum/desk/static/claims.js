/* The claims page: another wording is copied. */
import { announce } from './desk.js';

document.addEventListener('click', async event => {
  const button = /** @type {HTMLElement | null} */ (/** @type {Element} */ (event.target).closest('button[data-copy]'));
  if (!button) return;
  try { await navigator.clipboard.writeText(button.dataset.copy ?? ''); announce('Copied'); button.textContent = 'Copied'; } catch { announce('The browser does not let the page copy'); }
});
