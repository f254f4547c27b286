/* The author's own words at a position: written in place, saved with the hash of the text they were made from. */
import { announce, erratum, mended, token } from './desk.js';
import { act, differences, element } from './differences.js';

const place = document.getElementById('words');
/** What was done, where the page itself shows a place anew. @type {any} */
let untold = null;
let sending = false;
let hash = '', at = '', change = '', node = '', wanted = '', asked = 0;
/** @type {string[]} */
let privateWords = [];

/**
 * Show the words anew.
 * @param {string} [row] the place that is meant, where there are several
 * @param {string} [mark] the hash of the text in which it has this number
 */
export async function show(row = wanted, mark = hash) {
  if (!place) return;
  wanted = row;
  const number = ++asked, query = row ? `&node=${row}&hash=${mark}` : '';
  const answer = await fetch(`${place.dataset.words}${query}`, { headers: { accept: 'application/json' } }).catch(() => null);
  if (!answer?.ok) { erratum(answer ? (await answer.json().catch(() => ({}))).fault ?? 'the words could not be read' : 'the desk does not answer'); return; }
  const parsed = new DOMParser().parseFromString(await answer.text(), 'text/html').body.firstElementChild;
  if (!parsed || number !== asked) return;
  place.replaceChildren(parsed);
  const part = /** @type {HTMLElement} */ (parsed);
  ({ hash = '', at = '', change = '', node = '' } = part.dataset);
  privateWords = JSON.parse(part.dataset.private || '[]');
  if (untold) tell(untold);
  untold = null;
  document.dispatchEvent(new CustomEvent('variorum-shown', { detail: { hash } }));
}

const told = () => /** @type {HTMLElement} */ (place?.querySelector('[data-told]'));

/**
 * Ask for a change. Where the text is another by now, both are shown, and nothing is written.
 * @param {Record<string, unknown>} wish
 * @returns {Promise<any>} what was done, null where nothing was
 */
async function send(wish) {
  let answer, said;
  sending = true;
  try {
    answer = await fetch(change, { method: 'POST', headers: { 'content-type': 'application/json', 'x-variorum-token': token() }, body: JSON.stringify({ hash, ...wish }) });
    said = (answer.headers.get('content-type') || '').includes('json') ? await answer.json() : { fault: (await answer.text()).trim() };
  } catch {
    erratum('the desk does not answer', 'your words are still here; start the desk again and save');
    return null;
  } finally { sending = false; }
  if (answer.status === 409) { conflict(said); return null; }
  if (!answer.ok) { erratum(said.fault, said.remedy); return null; }
  mended();
  hash = said.hash;
  return said;
}

/** Ask for a change, and show what came of it. @param {Record<string, unknown>} wish */
export async function make(wish) {
  const said = await send(wish);
  if (!said) return null;
  document.dispatchEvent(new CustomEvent('variorum-written', { detail: said }));
  if (said.node === null && place?.dataset.later !== undefined) { untold = said; return said; }
  await show(said.node === null ? '' : String(said.node));
  tell(said);
  return said;
}

/** @param {{said: string, notes: string[]}} said */
function tell(said) {
  told().classList.remove('erratum');
  told().replaceChildren(...said.notes.map(note => element('p', note)));
  announce(said.said);
}

/** @param {any} said */
function conflict(said) {
  const open = editing()?.parentElement, box = open ? open.querySelector(':scope > .conflict') ?? open.appendChild(element('div', '', 'note conflict')) : told(), again = () => { editing()?.parentElement?.remove(); hash = said.hash; document.dispatchEvent(new CustomEvent('variorum-written', { detail: { node: null } })); show(''); };
  if (!said.pieces) {
    box.classList.add('erratum');
    box.replaceChildren(element('p', `Erratum: ${said.fault}. Nothing was written.`), act('Show what is there now', again));
    box.scrollIntoView({ block: 'nearest' });
    return;
  }
  differences(/** @type {HTMLElement} */ (box), said.pieces, {
    fault: said.fault,
    write: async text => { hash = said.hash; await make({ act: 'text', words: text }); },
    theirs: again,
  });
}

/** Whether words begin with one that keeps them from being published. @param {string} text */
const isPrivate = text => privateWords.some(word => {
  const words = text.trim().replace(/\s+/g, ' ');
  return words.toLowerCase().startsWith(word.toLowerCase()) && !/^[\p{L}\p{N}]/u.test(words.slice(word.length));
});

/** The field that is open. @returns {HTMLTextAreaElement | null} */
export const editing = () => document.querySelector('.writing-here textarea');

/**
 * A field in the place of words, or behind them.
 * @param {HTMLElement} instead what the field stands for while it is open
 * @param {string} words
 * @param {Record<string, unknown>} wish
 */
export function write(instead, words, wish) {
  const open = editing();
  if (open) { open.focus(); return; }
  const box = element('div', '', 'writing-here'), field = element('textarea'), kept = element('p', '', 'keptback'), acts = element('p', '', 'note acts');
  field.defaultValue = words;
  field.setAttribute('aria-label', 'Your words');
  const look = () => { kept.textContent = isPrivate(field.value) ? 'Private: not published.' : ''; };
  const close = () => { box.remove(); instead.hidden = false; /** @type {HTMLElement} */ (instead.querySelector('button') ?? instead).focus(); };
  const save = () => make({ ...wish, words: field.value });
  field.addEventListener('input', look);
  field.addEventListener('keydown', event => {
    if (event.key === 'Escape') { event.preventDefault(); event.stopPropagation(); close(); }
    if ((event.key === 'Enter' || event.key === 's') && (event.ctrlKey || event.metaKey)) { event.preventDefault(); save(); }
  });
  acts.append(act('Save', save), act('Leave it', close), element('span', 'Ctrl+Enter saves, Escape leaves it. Empty words take the comment out.', 'soft'));
  box.append(field, kept, acts);
  instead.before(box);
  instead.hidden = true;
  look();
  field.focus();
}

const newWords = (/** @type {HTMLElement} */ button) => write(button, '', { act: 'comment', node: Number(node), before: button.dataset.write === 'before' });
const oldWords = (/** @type {HTMLElement} */ box) => write(box, box.querySelector('.remark')?.textContent ?? '', { act: 'comment', node: Number(box.dataset.node), token: Number(box.dataset.token) });

/** Once more before a line is taken out. @param {HTMLElement} button */
function sure(button) {
  const question = element('span', `${button.dataset.question} `);
  question.append(act('Yes', () => make({ act: 'delete', node: Number(node) })), ' ', act('No', () => { question.remove(); button.hidden = false; button.focus(); }));
  button.after(question);
  button.hidden = true;
  question.querySelector('button')?.focus();
}

place?.addEventListener('click', event => {
  const button = /** @type {HTMLElement | null} */ (/** @type {Element} */ (event.target).closest('button'));
  if (!button) return;
  const data = button.dataset;
  if (data.edit !== undefined) oldWords(/** @type {HTMLElement} */ (button.closest('.said')));
  else if (data.write) newWords(button);
  else if (data.take) show(data.take);
  else if (data.sign) make({ act: 'sign', node: Number(node), [button.getAttribute('aria-pressed') === 'true' ? 'gone' : 'new']: [data.sign] }).then(openSigns);
  else if (data.add) make({ act: 'add', at, main: data.add === 'main' });
  else if (data.act === 'delete') sure(button);
  else if (data.act) make({ act: data.act, node: node ? Number(node) : null });
  else if (data.open === 'signs') openSigns(button.getAttribute('aria-expanded') !== 'true');
});
place?.addEventListener('submit', event => {
  const form = /** @type {HTMLFormElement} */ (event.target);
  if (form.dataset.signs === undefined) return;
  event.preventDefault();
  const typed = String(new FormData(form).get('signs') ?? '').split(/\s+/).filter(Boolean);
  if (typed.length) make({ act: 'sign', node: Number(node), new: typed }).then(openSigns);
});

/* What a sign says, while it is pointed at or has the focus. */
for (const what of ['focusin', 'pointerover']) place?.addEventListener(what, event => {
  const sign = /** @type {HTMLElement | null} */ (/** @type {Element} */ (event.target).closest('.sign')), line = place.querySelector('.meaning');
  if (sign && line) line.textContent = `${sign.textContent} ${sign.dataset.meaning}`;
});

/** @param {boolean | void} [open] */
function openSigns(open = true) {
  const panel = /** @type {HTMLElement | null | undefined} */ (place?.querySelector('[data-panel="signs"]')), button = place?.querySelector('[data-open="signs"]');
  if (!panel || !button) return;
  panel.hidden = open === false;
  button.setAttribute('aria-expanded', String(!panel.hidden));
  if (!panel.hidden) panel.querySelector('button')?.focus();
}

/** @type {Record<string, () => void | Promise<void>>} */
const keys = {
  e: async () => {
    const old = /** @type {HTMLElement | null | undefined} */ (place?.querySelector('.said')), button = /** @type {HTMLElement | null | undefined} */ (place?.querySelector('[data-write="after"], [data-add]'));
    if (old) { oldWords(old); return; }
    // Where the manuscript does not have the position, whoever wants to write there wants the line as well.
    if (button?.dataset.add && await make({ act: 'add', at, main: false })) {
      const after = /** @type {HTMLElement | null | undefined} */ (place?.querySelector('[data-write="after"]'));
      if (after) newWords(after);
    } else if (button && !button.dataset.add) button.click();
  },
  u: () => /** @type {HTMLElement | null | undefined} */ (place?.querySelector('[data-act="undo"]'))?.click(),
  r: () => /** @type {HTMLElement | null | undefined} */ (place?.querySelector('[data-act="redo"]'))?.click(),
};
document.addEventListener('keydown', event => {
  const target = /** @type {Element} */ (event.target);
  if (event.ctrlKey || event.metaKey || event.altKey || target.closest('input, textarea, select')) return;
  const run = keys[event.key];
  if (run) { event.preventDefault(); run(); }
});
/* Another tab or program has changed the text: what nobody is writing at is shown anew; words that are being written are left alone. */
document.addEventListener('variorum-texts', async event => {
  const found = /** @type {CustomEvent<{manuscript: string}>} */ (event).detail.manuscript, field = editing();
  if (sending || !change || found === hash || document.querySelector('.differences')) return;
  const words = 'The manuscript was changed elsewhere.';
  if (field) {
    const note = field.parentElement?.querySelector('.elsewhere-note') ?? field.parentElement?.insertBefore(element('p', '', 'note red elsewhere-note'), field.nextSibling);
    if (note) note.textContent = `${words} Nothing is lost: when you save, both texts are shown first.`;
  } else {
    await show('');
    told().replaceChildren(element('p', `${words} This is how it reads now.`));
  }
  announce(words);
});
document.addEventListener('variorum-done', event => { if (editing()) event.preventDefault(); });
addEventListener('beforeunload', event => {
  const field = editing();
  if (field && field.value !== field.defaultValue) event.preventDefault();
});
if (place?.dataset.later === undefined) show();
