/* What files of games are, changed below the row of a file or of a table; files taken out, which asks once, and put back. */
import { ask } from './desk.js';

const form = /** @type {HTMLTemplateElement} */ (document.getElementById('rule-form'));
const settings = /** @type {HTMLElement} */ (document.querySelector('[data-sources]'));

/** Open something below a row, or shut it again. @param {HTMLButtonElement} button @param {HTMLElement} inside @returns {() => void} what shuts it */
function below(button, inside) {
  const row = /** @type {HTMLElement} */ (button.closest('tr, li')), before = /** @type {HTMLElement | null} */ (row.parentElement?.querySelector('[data-open]'));
  before?.dispatchEvent(new Event('shut'));
  let box = inside;
  if (row instanceof HTMLTableRowElement) {
    box = document.createElement('tr');
    const cell = box.appendChild(document.createElement('td'));
    cell.colSpan = row.closest('table')?.tHead?.rows[0]?.cells.length ?? row.cells.length;
    cell.append(inside);
    row.after(box);
  } else row.append(box);
  box.dataset.open = '';
  button.setAttribute('aria-expanded', 'true');
  const shut = () => { box.remove(); button.setAttribute('aria-expanded', 'false'); button.focus(); };
  box.addEventListener('shut', shut);
  box.addEventListener('keydown', event => { if (event.key === 'Escape') shut(); });
  return shut;
}

/** @param {HTMLButtonElement} button */
function change(button) {
  const { rule, file, number, meaning } = JSON.parse(button.dataset.rule ?? '{}');
  const box = /** @type {HTMLFormElement} */ (/** @type {HTMLElement} */ (form.content.firstElementChild).cloneNode(true));
  const shut = below(button, box);
  for (const [name, value] of Object.entries(rule)) /** @type {HTMLInputElement} */ (box.elements.namedItem(name)).value = value;
  /** @param {string} part @param {boolean} shown */
  const show = (part, shown) => { for (const one of /** @type {NodeListOf<HTMLElement>} */ (box.querySelectorAll(`[data-${part}]`))) one.hidden = !shown; };
  const kind = /** @type {HTMLSelectElement} */ (box.elements.namedItem('kind')), voice = /** @type {HTMLInputElement} */ (box.elements.namedItem('voice'));
  const fit = () => {
    const spoken = kind.value === 'engine' || kind.value === 'analysis';
    show('spoken', spoken); show('scores', kind.value === 'engine');
    voice.required = spoken;
  };
  show('path', !file);
  kind.addEventListener('change', fit);
  fit();
  /** @type {HTMLElement} */ (box.querySelector('[data-meaning]')).textContent = meaning ?? '';
  /** @type {HTMLElement} */ (box.querySelector('[data-close]')).addEventListener('click', shut);
  box.addEventListener('submit', event => {
    event.preventDefault();
    const typed = Object.fromEntries(new FormData(box));
    if (voice.closest('label')?.hidden) typed.voice = '';
    ask(settings.dataset.sources ?? '', { act: 'change', page: settings.dataset.page, hash: settings.dataset.hash, file: file ?? '', number: file ? null : number, rule: typed });
  });
  (file ? kind : /** @type {HTMLInputElement} */ (box.elements.namedItem('path'))).focus();
}

/** Ask once, in the page, before something is done. @param {HTMLButtonElement} button */
function confirm(button) {
  const { question, yes, sent } = JSON.parse(button.dataset.confirm ?? '{}');
  const box = document.createElement('div'), words = box.appendChild(document.createElement('p')), acts = box.appendChild(document.createElement('p'));
  box.className = 'confirm'; words.textContent = question; acts.className = 'acts';
  const shut = below(button, box);
  /** @param {string} label @param {() => void} then */
  const act = (label, then) => {
    const made = acts.appendChild(document.createElement('button'));
    made.type = 'button'; made.className = 'act'; made.textContent = label;
    made.addEventListener('click', then);
    acts.append(' ');
    return made;
  };
  act(yes, () => { ask(settings.dataset.sources ?? '', { page: settings.dataset.page, hash: settings.dataset.hash, ...sent }); }).focus();
  act('Leave it', shut);
}

document.addEventListener('click', event => {
  const button = /** @type {HTMLButtonElement | null} */ (/** @type {Element} */ (event.target).closest('button[data-rule], button[data-confirm]'));
  if (!button) return;
  if (button.getAttribute('aria-expanded') === 'true') /** @type {HTMLElement | null} */ (button.closest('tr, li')?.parentElement?.querySelector('[data-open]'))?.dispatchEvent(new Event('shut'));
  else if (button.dataset.rule) change(button);
  else confirm(button);
});
