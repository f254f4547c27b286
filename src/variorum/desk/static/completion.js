/* What can stand where the author writes: a list below the caret, walked by the arrow keys. */
import { token } from './desk.js';

const PAUSE = 90, MOST_SENT = 6000;

/**
 * @param {HTMLTextAreaElement} field
 * @param {import('./mirror.js').Mirror} mirror
 * @param {string} address whom to ask
 */
export function completion(field, mirror, address) {
  const list = document.createElement('ul');
  list.className = 'choices note';
  list.id = 'choices';
  list.setAttribute('role', 'listbox');
  list.setAttribute('aria-label', 'What can stand here');
  list.hidden = true;
  field.after(list);
  field.setAttribute('aria-autocomplete', 'list');
  field.setAttribute('aria-controls', list.id);
  /** @type {{words: string, note: string}[]} */
  let choices = [];
  let typed = 0, chosen = 0, asked = 0, timer = 0, madeFor = '';
  let asking = new AbortController();
  const before = () => field.value.slice(0, field.selectionEnd);

  const close = () => { asked++; list.hidden = true; field.removeAttribute('aria-activedescendant'); };
  const mark = () => {
    [...list.children].forEach((item, number) => item.setAttribute('aria-selected', String(number === chosen)));
    list.children[chosen]?.scrollIntoView({ block: 'nearest' });
    field.setAttribute('aria-activedescendant', `choice-${chosen}`);
  };
  /** @param {number} number */
  const take = number => {
    const words = choices[number].words, at = field.selectionEnd;
    close();
    field.focus();
    field.setSelectionRange(at - typed, at);
    if (!document.execCommand('insertText', false, words)) field.setRangeText(words, at - typed, at, 'end');  // the first can be undone in the field
    field.dispatchEvent(new Event('input', { bubbles: true }));
    if (/[ "=]$/.test(words)) ask();
  };

  async function ask() {
    const number = ++asked, text = before();
    asking.abort();
    asking = new AbortController();
    if (field.selectionStart !== field.selectionEnd) { close(); return; }
    const answer = await fetch(address, { method: 'POST', signal: asking.signal, headers: { 'content-type': 'application/json', 'x-variorum-token': token() }, body: JSON.stringify({ before: text.slice(-MOST_SENT) }) }).catch(() => null);
    if (!answer?.ok || number !== asked) return;
    const told = await answer.json().catch(() => null);
    if (!told || number !== asked) return;
    ({ typed, choices } = told);
    madeFor = text;
    if (!choices.length) { close(); return; }
    list.replaceChildren(...choices.map((one, place) => {
      const item = document.createElement('li'), note = document.createElement('span');
      item.id = `choice-${place}`;
      item.setAttribute('role', 'option');
      note.className = 'soft';
      note.textContent = one.note;
      item.append(one.words.trim(), ' ', note);
      item.addEventListener('pointerdown', event => { event.preventDefault(); take(place); });
      return item;
    }));
    chosen = 0;
    const caret = mirror.caret();
    list.hidden = false;
    const left = Math.max(0, Math.min(caret.left, field.clientWidth - list.offsetWidth));
    const fits = caret.below + list.offsetHeight <= field.clientHeight || caret.top < list.offsetHeight;
    list.style.left = `${field.offsetLeft + left}px`;
    list.style.top = `${field.offsetTop + (fits ? caret.below : caret.top - list.offsetHeight)}px`;
    mark();
  }

  /** Whether the words before the caret are of the kind that can be completed. */
  const worthwhile = () => {
    const text = before(), paragraph = text.slice(text.lastIndexOf('\n\n') + 1);
    return /\{[^{}]*$/.test(paragraph) || /^:{3,}/m.test(paragraph);
  };
  field.addEventListener('input', () => {
    clearTimeout(timer);
    if (worthwhile()) timer = window.setTimeout(ask, PAUSE); else close();
  });
  field.addEventListener('blur', close);
  field.addEventListener('click', close);
  field.addEventListener('scroll', close);
  field.addEventListener('keydown', event => {
    if (event.key === ' ' && event.ctrlKey) { event.preventDefault(); ask(); return; }
    if (list.hidden) return;
    const steps = /** @type {Record<string, number>} */ ({ ArrowDown: 1, ArrowUp: -1 }), step = steps[event.key];
    if (step) { event.preventDefault(); chosen = (chosen + step + choices.length) % choices.length; mark(); }
    else if ((event.key === 'Enter' || event.key === 'Tab') && !event.ctrlKey && !event.metaKey && !event.shiftKey) {
      event.preventDefault();
      if (madeFor === before()) { take(chosen); return; }
      clearTimeout(timer);   // the list is of what stood there a moment ago
      ask().then(() => { if (!list.hidden && choices.length) take(0); else if (event.key === 'Enter') document.execCommand('insertText', false, '\n'); });
    }
    else if (event.key === 'Escape') { event.preventDefault(); close(); }
    else if (['ArrowLeft', 'ArrowRight', 'Home', 'End'].includes(event.key)) close();
  });
}
