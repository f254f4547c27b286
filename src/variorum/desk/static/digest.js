/* The writing desk: the text, the page it becomes, what is wrong with it, saving without losing anybody's words. */
import { announce, ask, erratum, token } from './desk.js';
import { differences } from './differences.js';

const main = /** @type {HTMLElement} */ (document.getElementById('text'));
const editor = /** @type {HTMLTextAreaElement} */ (document.getElementById('editor'));
const frame = /** @type {HTMLIFrameElement} */ (document.getElementById('page'));
const saveButton = /** @type {HTMLButtonElement} */ (document.getElementById('save'));
const byId = (/** @type {string} */ id) => /** @type {HTMLElement} */ (document.getElementById(id));
const at = main.dataset.at ?? '';
let hash = main.dataset.hash ?? '', onDisk = editor.value, timer = 0, asked = 0, saving = false;
const PAUSE = 400;

/** A place of the text is shown and the caret put there. @param {number} line from 1 @param {number} [column] */
function goTo(line, column = 1) {
  const before = editor.value.split('\n').slice(0, line - 1).reduce((sum, one) => sum + one.length + 1, 0) + column - 1;
  editor.focus();
  editor.setSelectionRange(before, before);
  editor.scrollTop = (line - 4) * parseFloat(getComputedStyle(editor).lineHeight);
}

/** @param {HTMLElement} list @param {any[]} entries @param {(entry: any) => string} words */
function tell(list, entries, words) {
  list.replaceChildren(...entries.map(entry => {
    const item = document.createElement('li'), button = item.appendChild(document.createElement('button'));
    button.type = 'button'; button.className = 'act';
    button.textContent = `line ${entry.line}`;
    button.addEventListener('click', () => goTo(entry.line, entry.column));
    item.append(` ${words(entry)}`);
    return item;
  }));
}

async function show() {
  const number = ++asked, told = await ask(`${at}/preview`, { text: editor.value });
  if (!told || number !== asked) return;
  tell(byId('faults'), told.faults, fault => fault.hint ? `${fault.message}; ${fault.hint}` : fault.message);
  tell(byId('claims'), told.claims, claim => `${{ holds: '*', contradicted: '†', undecided: '○', stale: '[ ]' }[/** @type {'holds'} */ (claim.standing)] ?? ''} ${claim.standing}: ${claim.says}${claim.remark ? `. ${claim.remark}` : ''}`);
  byId('faultcount').textContent = told.faults.length ? String(told.faults.length) : 'none';
  byId('claimcount').textContent = told.claims.length ? String(told.claims.length) : 'none';
  const top = frame.contentWindow?.scrollY ?? 0;
  frame.addEventListener('load', () => frame.contentWindow?.scrollTo(0, top), { once: true });
  frame.src = `${at}/preview?${number}`;
}

function changed() {
  saveButton.disabled = editor.value === onDisk;
  byId('saved').textContent = editor.value === onDisk ? 'as on the disk' : 'not saved yet';
  clearTimeout(timer);
  timer = window.setTimeout(show, PAUSE);
}

/** @param {string} expected the hash of what the file is to hold now */
async function save(expected) {
  const text = editor.value;
  saving = true;
  const told = await post('save', { text, hash: expected || null, base: onDisk });
  saving = false;
  if (!told) return;
  if (told.pieces) { conflict(told); return; }
  hash = told.hash; onDisk = text;
  byId('conflict').hidden = true;
  changed();
  announce('Saved');
}

/** @param {string} what @param {object} sent @returns {Promise<any>} both texts, where the file was changed elsewhere; null where there was another fault */
async function post(what, sent) {
  let answer, told;
  try {
    answer = await fetch(`${at}/${what}`, { method: 'POST', headers: { 'content-type': 'application/json', 'x-variorum-token': token() }, body: JSON.stringify(sent) });
    told = (answer.headers.get('content-type') || '').includes('json') ? await answer.json() : { fault: (await answer.text()).trim() };
  } catch { erratum('the desk does not answer', 'your text is still here; start the desk again and save'); return null; }
  if (!answer.ok && answer.status !== 409) { erratum(told.fault, told.remedy); return null; }
  return told;
}

/** @param {string} text @param {string} mark what the file holds now */
function take(text, mark) {
  const caret = editor.selectionStart;
  editor.value = onDisk = text;
  hash = mark;
  editor.setSelectionRange(caret, caret);
  byId('conflict').hidden = true;
  changed();
}

/** The file was changed by somebody else: both are shown, and the author chooses. @param {any} told */
function conflict(told) {
  const box = byId('conflict');
  differences(box, told.pieces, {
    fault: told.fault,
    write: text => { editor.value = text; onDisk = told.theirs; hash = told.hash; box.hidden = true; save(told.hash); },
    theirs: () => take(told.theirs, told.hash),
  });
}

document.addEventListener('variorum-texts', async event => {
  const found = /** @type {CustomEvent<{digest: string}>} */ (event).detail.digest;
  if (saving || found === hash) return;
  const told = await post('compare', { text: editor.value, hash, base: onDisk });
  if (!told?.pieces || told.hash === hash || saving) return;
  if (editor.value === onDisk) {
    take(told.theirs, told.hash);
    byId('saved').textContent = 'changed elsewhere, and shown anew';
    announce('The digest was changed elsewhere, and is shown anew');
  } else conflict(told);
});

/** @type {Record<string, (place: string) => string>} */
const forms = {
  score: place => `[…]{.fact kind=score at="${place}"}`,
  count: place => `[…]{.fact kind=count at="${place}"}`,
  order: place => `[…]{.fact kind=order at="${place}"}`,
  line: place => `[…]{.line of="${place}"}`,
  claim: place => `[…]{.claim kind=score at="${place}" says="="}`,
  diagram: place => `\n:::diagram ${place}\ncaption: …\n:::\n`,
};
byId('insert').addEventListener('click', () => {
  const what = /** @type {HTMLSelectElement} */ (byId('what')).value, where = /** @type {HTMLSelectElement} */ (byId('where')).value;
  editor.focus();
  editor.setRangeText(forms[what](where), editor.selectionStart, editor.selectionEnd, 'end');
  changed();
});
editor.addEventListener('input', changed);
saveButton.addEventListener('click', () => save(hash));
document.addEventListener('keydown', event => {
  if (event.key === 's' && (event.ctrlKey || event.metaKey)) { event.preventDefault(); if (!saveButton.disabled) save(hash); }
});
addEventListener('beforeunload', event => { if (editor.value !== onDisk) event.preventDefault(); });
show();
const wanted = Number(new URLSearchParams(location.search).get('line'));   // a sentence that another page leads to
if (wanted > 0) goTo(wanted);
