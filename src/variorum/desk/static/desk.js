/* What every page does: day or night, forms and buttons that write, work under way. */

/** @returns {string} the token that writing asks for */
export const token = () => /** @type {HTMLMetaElement} */ (document.querySelector('meta[name="token"]')).content;

/** @param {string} text @param {string} [remedy] */
export function erratum(text, remedy = '') {
  const place = /** @type {HTMLElement} */ (document.getElementById('erratum'));
  place.textContent = `Erratum: ${text}${remedy ? `; ${remedy}` : ''}.`;
  place.hidden = false;
  place.scrollIntoView({ block: 'nearest' });
}

/** What was amiss is in order again. */
export function mended() {
  /** @type {HTMLElement} */ (document.getElementById('erratum')).hidden = true;
}

/** @param {string} words */
export function announce(words) {
  /** @type {HTMLElement} */ (document.getElementById('live')).textContent = words;
}

/**
 * Send to the desk; an answer that says where to go is followed.
 * @param {string} address @param {object} [sent] with it the request writes
 * @returns {Promise<any>} the answer, null where there was a fault (which has been told)
 */
export async function ask(address, sent) {
  const headers = { accept: 'application/json', ...(sent ? { 'content-type': 'application/json', 'x-variorum-token': token() } : {}) };
  let answer, told;
  try {
    answer = await fetch(address, { method: sent ? 'POST' : 'GET', headers, body: sent && JSON.stringify(sent) });
    told = (answer.headers.get('content-type') || '').includes('json') ? await answer.json() : { fault: (await answer.text()).trim() };
  } catch {
    erratum('the desk does not answer', 'is it still running? Start it again with “variorum desk”');
    return null;
  }
  if (!answer.ok) { erratum(told.fault, told.remedy); return null; }
  mended();
  if (told.go) location.assign(told.go);
  return told;
}

for (const button of /** @type {NodeListOf<HTMLElement>} */ (document.querySelectorAll('.reading'))) {
  const root = document.documentElement, night = () => root.dataset.reading === 'night';
  const say = () => { button.textContent = night() ? button.dataset.day ?? '' : button.dataset.night ?? ''; };
  button.addEventListener('click', () => {
    root.dataset.reading = night() ? 'day' : 'night';
    try { localStorage.setItem('variorum-reading', root.dataset.reading); } catch { /* kept for this page only */ }
  });
  new MutationObserver(say).observe(root, { attributeFilter: ['data-reading'] });
  say();
}

document.addEventListener('submit', event => {
  const form = /** @type {HTMLFormElement} */ (event.target);
  if (!form.dataset.post) return;
  event.preventDefault();
  ask(form.dataset.post, Object.fromEntries(new FormData(form))).then(told => { if (told?.number) begun(told.number); });
});
document.addEventListener('click', event => {
  const button = /** @type {HTMLElement | null} */ (/** @type {Element} */ (event.target).closest('button[data-post]'));
  const beside = /** @type {HTMLFormElement | null} */ (document.getElementById(button?.dataset.with ?? ''));   // fields that count for several buttons
  if (button) ask(button.dataset.post ?? '', { ...(beside ? Object.fromEntries(new FormData(beside)) : {}), ...JSON.parse(button.dataset.send || '{}') }).then(told => { if (told?.number) begun(told.number); });
});

/** The page is made anew after work, unless somebody writes on it. */
function anew() {
  if (document.dispatchEvent(new CustomEvent('variorum-done', { cancelable: true }))) location.reload();
}

/** Work that this page began may have ended before the page heard of it. @param {number} number */
export function begun(number) {
  if (states.get(number) === 'done') anew();
  else if (!states.has(number)) states.set(number, 'waiting');
}

/* What takes longer comes when it is made; until then its place tells how far it is. */
/**
 * Ask again until the answer is there.
 * @param {string} address @param {(words: string) => void} waiting is told how far it is
 * @returns {Promise<Response | null>} the answer, which may tell a fault; null where the desk does not answer
 */
export async function made(address, waiting) {
  for (let pause = 120; ; pause = Math.min(1.4 * pause, 1500)) {
    const answer = await fetch(address, { headers: { accept: 'application/json' } }).catch(() => null);
    if (answer?.status !== 202) return answer;
    waiting((await answer.json()).words);
    await new Promise(go => setTimeout(go, pause));
  }
}
/** @param {HTMLElement} part @param {string} words */
function note(part, words) {
  let place = /** @type {HTMLElement | null} */ (part.querySelector(':scope > .awaited'));
  if (!place) {
    place = part.appendChild(document.createElement('p'));
    place.className = 'awaited note soft';
  }
  place.textContent = words;
  part.hidden = false;
}
/** Parts that could not be had. @type {Set<HTMLElement>} */
const faulty = new Set();
/** @param {HTMLElement} part */
async function arrive(part) {
  const label = part.getAttribute('aria-label') ?? '';
  let asked = 0;   // what is there at once is not announced
  faulty.delete(part);
  const answer = await made(part.dataset.part ?? '', words => { if (++asked > 3) note(part, `${label && `${label}: `}${words}…`); });
  if (!answer || !part.isConnected) return;
  if (!answer.ok) {
    const told = await answer.json().catch(() => ({ fault: 'this part cannot be had' }));
    note(part, `${label && `${label}: `}Erratum: ${told.fault}${told.remedy ? `; ${told.remedy}` : ''}.`);
    faulty.add(part);
    return;
  }
  const text = (await answer.text()).trim();
  part.replaceChildren(...new DOMParser().parseFromString(text, 'text/html').body.childNodes);
  part.hidden = !text;
  part.dispatchEvent(new CustomEvent('variorum-part', { bubbles: true }));
}
/** Have the parts in a place come that are not there yet, itself among them. @param {HTMLElement} root */
export function awaitParts(root) {
  const missing = '[data-part]:not([data-made])';
  for (const part of /** @type {HTMLElement[]} */ ([...(root.matches(missing) ? [root] : []), ...root.querySelectorAll(missing)])) arrive(part);
}
awaitParts(document.body);
/* Who mended what was amiss, in another window perhaps, comes back to a page that says so no more. */
const lookAgain = async () => {
  for (const part of [...faulty]) if (part.isConnected) arrive(part); else faulty.delete(part);
  if (!document.querySelector('main[data-amiss]')) return;
  const answer = await fetch(location.href, { headers: { accept: 'application/json' } }).catch(() => null);
  if (answer?.ok) location.reload();
};
addEventListener('focus', lookAgain);
document.addEventListener('variorum-texts', lookAgain);
const awaited = /** @type {HTMLElement | null} */ (document.querySelector('[data-awaited]'));
if (awaited) made(location.href, words => { /** @type {HTMLElement} */ (awaited.querySelector('[data-words]')).textContent = words; }).then(answer => { if (answer) location.reload(); });

/* Work under way: one rule each, told by the server as it goes on. */
const place = /** @type {HTMLElement} */ (document.getElementById('works'));
const words = { sift: 'Bringing in', build: 'Building', publish: 'Publishing', consult: 'Asking about', scout: 'Scouting', playout: 'Playing out', decide: 'Deciding', trial: 'Trying' };
/** @type {Map<number, string>} */
const states = new Map();
/** @param {number | null} seconds */
const left = seconds => seconds === null ? '' : seconds < 90 ? `, about ${Math.ceil(seconds)} s more` : `, about ${Math.round(seconds / 60)} minutes more`;

/** @param {any} work */
const isUnderWay = work => ['waiting', 'running', 'stopping'].includes(work.state);

/** @param {any[]} works */
function tell(works) {
  const ours = works.filter(work => !edition || !work.edition || work.edition === edition || isUnderWay(work));   // what failed elsewhere is told there
  const shown = ours.filter(work => isUnderWay(work) || (work.edition ? work.state !== 'done' || work.shortfalls.length : states.has(work.number) && work.state !== 'done'));   // what ended otherwise than wished is told until it is put away
  for (const work of works) {
    const before = states.get(work.number);
    if (before && before !== work.state && work.state === 'done') {
      announce(`${words[/** @type {keyof words} */ (work.kind)] ?? work.kind} ${work.subject} is done`);
      if (work.edition && location.pathname.startsWith(`/e/${work.edition}/`)) anew();
    }
    states.set(work.number, work.state);
  }
  document.dispatchEvent(new CustomEvent('variorum-works', { detail: works }));
  place.replaceChildren(...shown.map(line));
  place.hidden = shown.length === 0;
}

/** @param {any} work */
function line(work) {
  const box = document.createElement('div'), task = work.tasks.at(-1);
  box.className = 'work';
  if (task?.total) {
    const bar = box.appendChild(document.createElement('span'));
    bar.className = 'bar';
    bar.style.setProperty('--done', `${Math.min(100, 100 * task.done / task.total)}%`);
    box.setAttribute('role', 'progressbar');
    box.setAttribute('aria-valuenow', String(Math.round(100 * task.done / task.total)));
    box.setAttribute('aria-label', work.subject);
  }
  const name = words[/** @type {keyof words} */ (work.kind)] ?? work.kind;
  if (work.edition && work.edition !== edition) {
    const link = box.appendChild(document.createElement('a'));
    link.href = `/e/${work.edition}/map`; link.textContent = work.edition.replace(/-[0-9a-f]{8}$/, '');
    box.append(': ');
  }
  box.append(`${name} ${work.subject}${ended(work) ?? far(work.tasks)}${work.state === 'done' ? ':' : '.'} `);
  if (work.shortfalls.length) {
    const list = box.appendChild(document.createElement('ul'));
    for (const shortfall of work.shortfalls) list.appendChild(document.createElement('li')).textContent = `${shortfall}.`;
  }
  if (['sift', 'build'].includes(work.kind) && work.shortfalls.length && !location.pathname.endsWith('/games')) {
    const files = box.appendChild(document.createElement('a'));
    files.className = 'act'; files.href = `/e/${work.edition}/games`; files.textContent = 'See the files';
    box.append(' ');
  }
  /** @param {string} label @param {string} address @param {object} sent */
  const button = (label, address, sent) => {
    const made = box.appendChild(document.createElement('button'));
    made.type = 'button'; made.className = 'act'; made.textContent = label;
    made.addEventListener('click', () => ask(address, sent).then(told => { if (told?.number) begun(told.number); }));
    box.append(' ');
  };
  const again = /** @type {Record<string, string>} */ ({ stopped: 'Go on', interrupted: 'Go on', failed: 'Try again' })[work.state];
  if (again && work.again) button(again, work.again.address, work.again.sent);
  if (work.state === 'running' || work.state === 'waiting') button('Stop', `/works/${work.number}/stop`, {});
  else if (work.state !== 'stopping') button('Put away', `/works/${work.number}/put-away`, {});
  return box;
}

/** How work ended, or why it does not go on; null while it does. @param {any} work @returns {string | null} */
function ended(work) {
  const all = { done: ' is done, except for this', failed: ` failed. Erratum: ${work.fault}`, stopped: ' was stopped; what was finished is kept', interrupted: ' was interrupted when the desk ended; what was finished is kept', waiting: ' waits for its turn', stopping: ' is stopping' };
  return all[/** @type {keyof all} */ (work.state)] ?? null;
}

/** How far work is: the parts it is in, the innermost with its own time, and the budget it is spent from. @param {any[]} tasks */
function far(tasks) {
  const task = tasks.at(-1), purse = tasks.find(one => one.name === 'budget' && !(one !== task && one.total === task?.total));   // one round may take all of it
  if (!task) return '';
  /** @param {any} one */
  const count = one => {
    const [size, unit] = one.unit === 'bytes' ? [1e6, 'MB'] : [1, one.unit], number = (/** @type {number} */ of) => Math.round(of / size).toLocaleString('en');
    return `${number(one.done)}${one.total ? ` of ${number(one.total)}` : ''} ${unit}`;
  };
  const around = tasks.slice(0, -1).filter(one => one.total && ['steps', 'files'].includes(one.unit)).map(one => `, ${one.unit === 'files' ? 'file' : 'part'} ${Math.min(one.done + 1, one.total).toLocaleString('en')} of ${one.total.toLocaleString('en')}`).join('');
  const time = left(task.left), inner = task === purse ? '' : `: ${task.name === task.unit ? '' : `${task.name}, `}${count(task)}${time && tasks.length > 1 ? `${time} for this part` : time}${task.note ? `, ${task.note}` : ''}`;
  return `${around}${inner}${purse ? `; budget: ${count(purse)}${left(purse.left).replace('about', 'at most')}` : ''}`;
}

/* The server tells what is under way, and that a text was changed. A page that nobody sees does not listen: a browser keeps few lines open. */
/** @type {EventSource | null} */
let source = null;
const edition = location.pathname.startsWith('/e/') ? location.pathname.split('/')[2] : '';
function listen() {
  if (document.visibilityState === 'hidden') { source?.close(); source = null; return; }
  if (source) return;
  source = new EventSource(`/works${edition ? `?edition=${edition}` : ''}`);
  source.addEventListener('message', event => tell(JSON.parse(event.data)));
  source.addEventListener('texts', event => document.dispatchEvent(new CustomEvent('variorum-texts', { detail: JSON.parse(event.data) })));
}
listen();
document.addEventListener('visibilitychange', listen);
addEventListener('pageshow', listen);
addEventListener('pagehide', () => { source?.close(); source = null; });

/* Where the board stood is remembered from one position to the next (position.js), not across other pages. */
try { if (JSON.parse(sessionStorage.getItem('variorum-step') ?? 'null')?.path !== location.pathname) sessionStorage.removeItem('variorum-step'); } catch { /* nothing is remembered */ }
