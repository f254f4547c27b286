/* Files of games are copied into the edition one after the other, and then brought in. */
import { ask, begun, erratum, token } from './desk.js';

const form = /** @type {HTMLFormElement} */ (document.getElementById('add-games'));
const state = /** @type {HTMLElement} */ (document.getElementById('adding'));
const kind = /** @type {HTMLSelectElement} */ (form.elements.namedItem('kind'));
const voice = /** @type {HTMLInputElement} */ (form.elements.namedItem('voice'));
const files = /** @type {HTMLInputElement} */ (form.elements.namedItem('files'));
const who = /** @type {HTMLElement} */ (document.getElementById('who'));

const spoken = () => kind.value === 'engine' || kind.value === 'analysis';
const say = () => { who.hidden = !spoken(); voice.required = spoken(); };
kind.addEventListener('change', say);
say();

/** @param {File} file @returns {Promise<boolean>} whether it is there now */
const copy = file => new Promise(done => {
  const request = new XMLHttpRequest(), size = (/** @type {number} */ bytes) => `${(bytes / 1e6).toFixed(1)} MB`;
  request.open('POST', `${form.dataset.add}?${new URLSearchParams({ file: file.name, kind: kind.value, voice: spoken() ? voice.value : '' })}`);
  request.setRequestHeader('x-variorum-token', token());
  request.setRequestHeader('content-type', 'application/octet-stream');
  request.upload.addEventListener('progress', event => { state.textContent = `Copying ${file.name}: ${size(event.loaded)} of ${size(file.size)}.`; });
  request.addEventListener('load', () => {
    if (request.status === 200) { done(true); return; }
    /** @type {{fault: string, remedy?: string}} */
    let told = { fault: request.responseText.trim() };
    try { told = JSON.parse(request.responseText); } catch { /* a refusal in plain words */ }
    erratum(`${file.name}: ${told.fault}`, told.remedy);
    done(false);
  });
  request.addEventListener('error', () => { erratum('the desk does not answer', 'is it still running?'); done(false); });
  request.send(file);
});

/* What was kept of the files is shown too where a piece of work failed at one of them; work that is done makes the page anew. */
let seen = -1;
document.addEventListener('variorum-works', async event => {
  const works = /** @type {CustomEvent<any[]>} */ (event).detail.filter(work => work.kind === 'sift' && location.pathname.startsWith(`/e/${work.edition}/`));
  const failed = works.filter(work => work.state === 'failed' || work.state === 'stopped').map(work => work.number), last = Math.max(0, ...failed);
  if (seen >= 0 && last > seen) {
    const page = await fetch(location.href).then(answer => answer.text()).catch(() => '');
    const fresh = new DOMParser().parseFromString(page, 'text/html').getElementById('files');
    if (fresh) document.getElementById('files')?.replaceWith(fresh);
    state.textContent = '';
  }
  seen = last;
});

form.addEventListener('submit', async event => {
  event.preventDefault();
  let added = 0;
  for (const file of files.files ?? []) if (await copy(file)) added += 1;
  state.textContent = '';
  if (!added) return;
  form.reset();
  say();
  state.textContent = `${added} ${added === 1 ? 'file' : 'files'} added.`;
  const told = await ask((form.dataset.add ?? '').replace(/games\/add$/, 'begin/sift'), {});
  if (!told) return;
  state.textContent += ' They are being brought in.';
  begun(told.number);
});
