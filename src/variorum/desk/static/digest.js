/* The writing desk: the text, its margin, the page it becomes; saving without losing anybody's words; publishing. */
import { cited, remember } from './cite.js';
import { completion } from './completion.js';
import { announce, ask, begun, erratum, token } from './desk.js';
import { differences, element } from './differences.js';
import { keepDraft, keptDraft } from './draft.js';
import { Mirror } from './mirror.js';

const main = /** @type {HTMLElement} */ (document.getElementById('text'));
const editor = /** @type {HTMLTextAreaElement} */ (document.getElementById('editor'));
const frame = /** @type {HTMLIFrameElement} */ (document.getElementById('page'));
const saveButton = /** @type {HTMLButtonElement} */ (document.getElementById('save'));
const byId = (/** @type {string} */ id) => /** @type {HTMLElement} */ (document.getElementById(id));
const at = main.dataset.at ?? '', mirror = new Mirror(editor), margin = byId('margin'), strip = /** @type {HTMLElement} */ (margin.parentElement);
const narrow = matchMedia('(max-width: 760px)');
const MARKS = /** @type {Record<string, string>} */ ({ holds: '*', contradicted: '†', undecided: '○', stale: '[ ]' }), PAUSE = 400, GAP = 7;
let hash = main.dataset.hash ?? '', onDisk = editor.defaultValue, timer = 0, asked = 0, saving = false, showing = false, again = false;

/** A place of the text is shown and the caret put there. @param {number} line from 1 @param {number} [column] */
function goTo(line, column = 1) {
  const before = editor.value.split('\n').slice(0, line - 1).reduce((sum, one) => sum + one.length + 1, 0) + column - 1;
  editor.focus();
  editor.setSelectionRange(before, before);
  mirror.set();
  editor.scrollTop = mirror.top(line) - editor.clientHeight / 3;
}

/** @typedef {{line: number, column?: number, mark: string, state: string, words: string, said?: string, fault?: boolean}} Note */

/** @param {Note} note */
function noteOf(note) {
  const item = element('li', '', note.fault ? 'fault' : ''), state = element('span', '', 'state sc'), go = element('button', `line ${note.line}`, 'act');
  go.type = 'button';
  go.addEventListener('click', () => goTo(note.line, note.column));
  state.append(element('b', note.mark), `${note.state} `);
  item.dataset.line = String(note.line);
  item.append(state, go, ' ');
  if (note.said) item.append(element('q', note.said), note.words ? '. ' : '');
  item.append(note.words);
  return item;
}

/** The notes stand beside their lines; where there is no room, below each other, and none below the end of the text. */
function place() {
  strip.classList.toggle('beside', !narrow.matches);
  if (narrow.matches) { strip.style.height = ''; margin.style.transform = ''; return; }
  mirror.set();
  strip.style.marginTop = `${Math.max(0, editor.getBoundingClientRect().top - /** @type {HTMLElement} */ (strip.previousElementSibling).getBoundingClientRect().bottom)}px`;
  const notes = /** @type {HTMLElement[]} */ ([...margin.children]), tops = [];
  let free = 0;
  for (const note of notes) {
    tops.push(Math.max(free, mirror.top(Number(note.dataset.line))));
    free = tops[tops.length - 1] + note.offsetHeight + GAP;
  }
  const needed = notes.reduce((sum, note) => sum + note.offsetHeight + GAP, 0);
  let end = Math.max(editor.scrollHeight, needed);
  for (let at = notes.length - 1; at >= 0; at--) {
    end = Math.min(tops[at], end - notes[at].offsetHeight - GAP);
    notes[at].style.top = `${end}px`;
  }
  strip.style.height = `${Math.max(editor.offsetHeight, needed - editor.scrollHeight + editor.offsetHeight)}px`;
  scrolled();
}
const scrolled = () => { if (!narrow.matches) margin.style.transform = `translateY(${-editor.scrollTop}px)`; };
/* A note that is come to by keyboard brings its line into sight. */
margin.addEventListener('focusin', event => {
  const note = /** @type {HTMLElement | null} */ (/** @type {Element} */ (event.target).closest('li'));
  if (!note || narrow.matches) return;
  strip.scrollTop = 0;
  const top = note.offsetTop - editor.scrollTop;
  if (top < 0 || top + note.offsetHeight > editor.clientHeight) editor.scrollTop = note.offsetTop - 2 * GAP;
  scrolled();
});

/** @param {any} told */
function tell(told) {
  const faults = told.faults.map((/** @type {any} */ one) => ({ line: one.line ?? 1, column: one.column ?? 1, mark: '', state: one.severity === 'error' ? 'erratum' : 'note', words: one.hint ? `${one.message}; ${one.hint}` : one.message, fault: one.severity === 'error' }));
  const claims = told.claims.map((/** @type {any} */ one) => ({ line: one.line, mark: MARKS[one.standing] ?? '', state: one.standing === 'undecided' ? 'not enough evidence' : one.standing, words: one.remark, said: one.says }));
  const notes = [...claims, ...faults].sort((one, other) => one.line - other.line);
  margin.replaceChildren(...notes.map(noteOf));
  byId('margincount').textContent = notes.length ? [claims.length && `${claims.length} ${claims.length === 1 ? 'claim' : 'claims'}`, faults.length && `${faults.length} ${faults.length === 1 ? 'note' : 'notes'}`].filter(Boolean).join(', ') : 'nothing';
  place();
}

/** The page and the margin follow the text: one is made at a time, and the latest text last. */
async function show() {
  if (showing) { again = true; return; }
  showing = true;
  const number = ++asked, told = await ask(`${at}/preview`, { text: editor.value });
  showing = false;
  if (again) { again = false; show(); return; }
  if (!told) return;
  tell(told);
  const top = frame.contentWindow?.scrollY ?? 0;
  frame.addEventListener('load', () => { frame.contentWindow?.scrollTo(0, top); read(); }, { once: true });
  frame.src = `${at}/preview?${number}`;
}

/** The page is read by day or by night as the desk is. */
function read() {
  const page = frame.contentDocument?.documentElement, night = document.documentElement.dataset.reading;
  if (page && night) page.dataset.reading = night;
}
new MutationObserver(read).observe(document.documentElement, { attributeFilter: ['data-reading'] });

function changed() {
  saveButton.disabled = editor.value === onDisk;
  byId('saved').textContent = editor.value === onDisk ? 'as on the disk' : 'not saved yet';
  keepDraft({ text: editor.value, base: onDisk, hash });
  place();
  clearTimeout(timer);
  timer = window.setTimeout(show, PAUSE);
}

/** @param {string} expected the hash of what the file is to hold now */
async function save(expected) {
  const text = editor.value;
  saving = true;
  const told = await post('save', { text, hash: expected || null, base: onDisk });
  saving = false;
  if (!told) return false;
  if (told.pieces) { conflict(told); return false; }
  hash = told.hash; onDisk = text;
  byId('conflict').hidden = true;
  changed();
  announce('Saved');
  return true;
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

/** Words put in at the caret, so that the browser can undo it. @param {string} words */
function put(words) {
  editor.focus();
  if (!document.execCommand('insertText', false, words)) {
    editor.setRangeText(words, editor.selectionStart, editor.selectionEnd, 'end');
    changed();
  }
}

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
  put(forms[what](where));
});
editor.addEventListener('input', changed);
editor.addEventListener('scroll', scrolled);
for (const what of ['keyup', 'pointerup', 'blur']) editor.addEventListener(what, () => remember(editor.selectionEnd));
saveButton.addEventListener('click', () => save(hash));
addEventListener('resize', place);
document.addEventListener('keydown', event => {
  if (event.key === 's' && (event.ctrlKey || event.metaKey)) { event.preventDefault(); if (!saveButton.disabled) save(hash); }
});
addEventListener('beforeunload', event => { if (editor.value !== onDisk) event.preventDefault(); });

/* What is published is what is on the disk: the text is saved first. */
byId('publish').addEventListener('click', async () => {
  if (editor.value !== onDisk && !(await save(hash))) return;
  const told = await ask(at.replace(/digest$/, 'begin/publish'), {});
  if (told) begun(told.number);
});
document.addEventListener('variorum-done', async event => {
  event.preventDefault();
  const answer = await fetch(`${at}/results`).catch(() => null);
  if (answer?.ok) byId('results').replaceChildren(...new DOMParser().parseFromString(await answer.text(), 'text/html').body.childNodes);
  show();
});

/* Words of an earlier visit that were not saved are there again; where the file has changed since, the author chooses. */
const draft = editor.value === onDisk ? keptDraft() : null;
if (draft?.base === onDisk) editor.value = draft.text;
completion(editor, mirror, `${at}/complete`);
cited(editor, put);
changed();   // the author may have been faster than this script, or the browser has kept words of an earlier visit
if (draft?.base === onDisk) announce('Words that were not saved are here again');
else if (draft) post('compare', draft).then(told => { if (told?.pieces) { keepDraft(draft); conflict(told); } });
show();

/* Another page leads to a sentence. */
const leadsTo = Number(new URLSearchParams(location.search).get('line'));
if (leadsTo > 0) goTo(leadsTo);
