/* "Cite this": what a page shows is put into the digest, where the author wrote last. An open digest takes it at once, else it is opened. */
import { announce } from './desk.js';

const edition = location.pathname.split('/')[2] ?? '';
const CARET = `variorum-caret-${edition}`, PENDING = `variorum-cite-${edition}`, PATIENCE = 400;
const wire = edition ? new BroadcastChannel(`variorum-digest-${edition}`) : null;

/** Where the author wrote last. @param {number} caret */
export function remember(caret) {
  try { localStorage.setItem(CARET, String(caret)); } catch { /* for this page only */ }
}

/** The digest takes what is cited: what waits for it, and what other tabs send. @param {HTMLTextAreaElement} field @param {(words: string) => void} put */
export function cited(field, put) {
  const write = (/** @type {string} */ words) => {
    const start = field.selectionStart, block = words.startsWith(':::');
    const before = field.value.slice(0, start), lead = block && before && !before.endsWith('\n\n') ? (before.endsWith('\n') ? '\n' : '\n\n') : !block && /\S$/.test(before) ? ' ' : '';
    put(lead + words);
    remember(field.selectionEnd);
    announce('Put into the digest; it is not saved yet');
  };
  try {
    const caret = Number(localStorage.getItem(CARET) ?? field.value.length), waiting = localStorage.getItem(PENDING);
    field.setSelectionRange(caret, caret);
    localStorage.removeItem(PENDING);
    if (waiting) write(waiting);
  } catch { /* nothing is remembered */ }
  wire?.addEventListener('message', event => {
    if (typeof event.data?.cite !== 'string') return;
    wire.postMessage({ taken: event.data.number });
    write(event.data.cite);
  });
}

/** @param {string} words @returns {Promise<boolean>} whether an open digest took them */
function send(words) {
  return new Promise(done => {
    const number = crypto.randomUUID();
    const heard = (/** @type {MessageEvent} */ event) => { if (event.data?.taken === number) end(true); };
    const end = (/** @type {boolean} */ taken) => { wire?.removeEventListener('message', heard); clearTimeout(timer); done(taken); };
    const timer = setTimeout(() => end(false), PATIENCE);
    wire?.addEventListener('message', heard);
    wire?.postMessage({ cite: words, number });
  });
}

document.addEventListener('click', async event => {
  const button = /** @type {HTMLElement | null} */ (/** @type {Element} */ (event.target).closest('button[data-cite]'));
  if (!button) return;
  const words = button.dataset.cite ?? '';
  navigator.clipboard?.writeText(words).catch(() => undefined);
  if (await send(words)) {
    const before = button.textContent;
    button.textContent = 'Put into the digest';
    announce('Put into the digest, which is open in another tab');
    setTimeout(() => { button.textContent = before; }, 2500);
    return;
  }
  try { localStorage.setItem(PENDING, words); } catch { announce('Copied: paste it into the digest'); return; }
  location.assign(`/e/${edition}/digest`);
});
