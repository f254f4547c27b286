/* The page of settings: only what was changed is sent, with the mark of the file that it was read from. */
import { ask } from './desk.js';

const form = /** @type {HTMLFormElement} */ (document.getElementById('settings'));
const save = /** @type {HTMLButtonElement} */ (document.getElementById('save-settings'));
const state = /** @type {HTMLElement} */ (document.getElementById('settings-state'));
/** @typedef {HTMLInputElement | HTMLTextAreaElement} Typed */

/** @param {Element} field */
const isChanged = field => field instanceof HTMLSelectElement ? ![...field.options].some(option => option.selected && option.defaultSelected) && field.value !== firstOf(field) : /** @type {Typed} */ (field).value !== /** @type {Typed} */ (field).defaultValue;
/** A list of choices of which none was marked shows its first. @param {HTMLSelectElement} field */
const firstOf = field => [...field.options].some(option => option.defaultSelected) ? null : field.options[0]?.value;

function changes() {
  /** @type {Record<string, string>} */
  const values = {};
  /** @type {Record<string, Record<string, string | null>>} */
  const tables = {};
  for (const field of /** @type {NodeListOf<HTMLInputElement>} */ (form.querySelectorAll('[name]'))) if (isChanged(field)) values[field.name] = field.value;
  for (const table of /** @type {NodeListOf<HTMLElement>} */ (form.querySelectorAll('[data-table]'))) {
    /** @type {Record<string, string | null>} */
    const rows = {};
    for (const row of table.querySelectorAll('tr')) {
      const key = /** @type {HTMLInputElement} */ (row.querySelector('[data-key]')), value = /** @type {HTMLInputElement} */ (row.querySelector('[data-value]'));
      const gone = row.hidden || !key.value.trim();
      if (!gone && !isChanged(key) && !isChanged(value)) continue;
      if (key.defaultValue && (gone || isChanged(key))) rows[key.defaultValue] = null;
      if (!gone && value.value.trim()) rows[key.value.trim()] = value.value;
    }
    if (Object.keys(rows).length) tables[table.dataset.table ?? ''] = rows;
  }
  return { values, tables };
}
function count() {
  const { values, tables } = changes(), number = Object.keys(values).length + Object.values(tables).reduce((sum, rows) => sum + Object.keys(rows).length, 0);
  save.disabled = number === 0;
  state.textContent = number ? `${number} ${number === 1 ? 'line' : 'lines'} to be written.` : 'Nothing is changed.';
}
form.addEventListener('input', count);
form.addEventListener('click', event => {
  const button = /** @type {Element} */ (event.target).closest('[data-take-out]');
  if (button) { /** @type {HTMLElement} */ (button.closest('tr')).hidden = true; count(); }
});
form.addEventListener('submit', event => { event.preventDefault(); ask(form.dataset.change ?? '', { hash: form.dataset.hash, ...changes() }); });

const side = /** @type {HTMLElement} */ (document.getElementById('side'));
const turned = () => { try { return !!localStorage.getItem('variorum-turned'); } catch { return false; } };
const say = () => { side.textContent = (turned() ? side.dataset.white : side.dataset.black) ?? ''; };
side.addEventListener('click', () => { try { localStorage.setItem('variorum-turned', turned() ? '' : 'yes'); } catch { /* a browser that keeps nothing */ } say(); });
say();
