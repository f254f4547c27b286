/* The position page: moves made on the board or typed, steps along the line, turning, copying. */
import { announce, ask, awaitParts, mended, token } from './desk.js';

const main = /** @type {HTMLElement} */ (document.getElementById('text'));
const board = /** @type {HTMLElement} */ (document.getElementById('board'));
const form = /** @type {HTMLFormElement} */ (document.getElementById('enter'));
const field = /** @type {HTMLInputElement} */ (form.elements.namedItem('move'));
const legal = (board.dataset.legal ?? '').split(' ');
/** @returns {HTMLAnchorElement[]} */
const links = () => [...document.querySelectorAll('[data-onward]')].map(link => /** @type {HTMLAnchorElement} */ (link));
let onward = links(), chosen = 0;

/** @param {string} move */
const play = move => ask(`${main.dataset.play}&move=${encodeURIComponent(move)}`);

board.addEventListener('variorum-move', event => {
  const { from, to } = /** @type {CustomEvent<{from: string, to: string}>} */ (event).detail;
  const moves = legal.filter(move => move.startsWith(from + to));
  if (moves.length === 0) { announce(`${from} to ${to} is not legal`); return; }
  if (moves.length === 1) { play(moves[0]); return; }
  field.value = `${from}${to}=`;            // a pawn promotes: the unit is said
  field.focus();
  announce('The pawn promotes: type Q, R, B or N and press Enter');
});
field.addEventListener('input', mended);
form.addEventListener('submit', event => { event.preventDefault(); play(field.value.replace(/^([a-h][1-8][a-h][1-8])=([QRBN])$/i, (_, way, unit) => way + unit.toLowerCase())); });

const turn = () => { board.toggleAttribute('flip'); try { localStorage.setItem('variorum-turned', board.hasAttribute('flip') ? 'yes' : ''); } catch { /* for this page only */ } };
try { if (localStorage.getItem('variorum-turned')) board.setAttribute('flip', ''); } catch { /* White below */ }
/** @param {HTMLElement} button */
const copy = async button => {
  try { await navigator.clipboard.writeText(button.dataset.copy ?? ''); announce('Copied'); } catch { announce('The browser does not let the page copy'); }
};
const button = (/** @type {string} */ id) => /** @type {HTMLElement} */ (document.getElementById(id));
button('turn').addEventListener('click', turn);
for (const id of ['copy-line', 'copy-fen']) button(id).addEventListener('click', () => copy(button(id)));

/** @param {number} by */
function choose(by) {
  if (!onward.length) return;
  chosen = (chosen + by + onward.length) % onward.length;
  onward.forEach((link, number) => link.classList.toggle('chosen', number === chosen));
  announce(onward[chosen].textContent ?? '');
}
if (onward.length) choose(0);
/** The moves may have come anew: the chosen one stays chosen. */
function again() {
  const before = onward[chosen]?.href;
  onward = links();
  chosen = Math.max(0, onward.findIndex(link => link.href === before));
  onward.forEach((link, number) => link.classList.toggle('chosen', number === chosen));
}
document.addEventListener('variorum-part', again);

/* What the texts say of the position is shown anew when they change, here or elsewhere: moves from here, claims, places of the digest. */
/** The hash of each text as it is shown. @type {Record<string, string>} */
let texts = { manuscript: main.dataset.manuscript ?? '', digest: main.dataset.digest ?? '' };
let renewed = 0;
async function renew() {
  const number = ++renewed, answer = await fetch(location.href).catch(() => null);
  if (!answer?.ok || number !== renewed) return;   // a later change is being fetched
  const fresh = new DOMParser().parseFromString(await answer.text(), 'text/html');
  for (const id of ['from-here', 'margin', 'mentions']) {
    const place = button(id), found = fresh.getElementById(id), focused = place.contains(document.activeElement) ? document.activeElement : null;
    if (!found) continue;
    const now = document.adoptNode(found), href = focused?.getAttribute('href');
    place.replaceWith(now);
    if (href) /** @type {HTMLElement | undefined} */ ([...now.querySelectorAll('a')].find(link => link.getAttribute('href') === href))?.focus();
    awaitParts(now);
  }
  again();
}
document.addEventListener('variorum-written', event => { const { hash } = /** @type {CustomEvent<{hash?: string}>} */ (event).detail; if (hash) texts.manuscript = hash; renew(); });
document.addEventListener('variorum-texts', event => {
  const told = /** @type {CustomEvent<Record<string, string>>} */ (event).detail;
  if (told.manuscript === texts.manuscript && told.digest === texts.digest) return;
  texts = { ...told };
  renew();
});

/* A voice asked now: what it says is shown as it thinks on, and written only when it is kept. */
const asking = document.getElementById('asking');
let inquiry = '', unseen = false;
async function look() {
  if (!inquiry) return;
  const answer = await fetch(inquiry);
  if (!answer.ok) return;
  const parsed = new DOMParser().parseFromString(await answer.text(), 'text/html').body.firstElementChild;
  if (!parsed || !inquiry) return;
  const place = button('answer'), running = /** @type {HTMLElement} */ (parsed).dataset.running === 'yes', said = /** @type {HTMLElement} */ (parsed).dataset.verdict === 'yes';
  place.replaceChildren(parsed);
  button('ask-stop').hidden = !running; button('ask-keep').hidden = !said;
  if (said && unseen) { unseen = false; asking?.scrollIntoView({ block: 'nearest' }); }
  if (running) setTimeout(look, 400); else announce('The voice has stopped');
}
async function begin() {
  if (!asking) return;
  if (inquiry) await ask(inquiry, { act: 'stop' });
  const voice = /** @type {HTMLSelectElement} */ (button('ask-voice')).value, lines = Number(/** @type {HTMLSelectElement} */ (button('ask-lines')).value);
  const begun = document.createElement('p'), name = document.createElement('i');
  name.textContent = voice;   // a program may take its time until it answers for the first time
  begun.append(name, ` is being started: ${lines} ${lines === 1 ? 'line' : 'lines'}, ${asking.dataset.first} nodes at first, then twice as many each time.`);
  button('answer').replaceChildren(begun); button('asked').hidden = true;
  announce(begun.textContent ?? '');
  asking.scrollIntoView({ block: 'nearest' });   // whoever asks by the key may not see the place
  unseen = true;
  const told = await ask(asking.dataset.ask ?? '', { at: asking.dataset.at, voice, lines });
  if (!told) { button('answer').replaceChildren(); return; }
  inquiry = `${asking.dataset.ask}/${told.number}`;
  button('asked').hidden = false; button('ask-keep').hidden = true; button('ask-stop').hidden = false;
  look();
}
async function drop() {
  await ask(inquiry, { act: 'stop' });
  inquiry = '';
  button('answer').replaceChildren(); button('asked').hidden = true;
}
if (asking) {
  button('ask').addEventListener('click', begin);
  button('ask-stop').addEventListener('click', () => ask(inquiry, { act: 'stop' }));
  button('ask-keep').addEventListener('click', async () => { if (await ask(inquiry, { act: 'keep' })) location.reload(); });
  button('ask-drop').addEventListener('click', drop);
  addEventListener('pagehide', () => { if (inquiry) fetch(inquiry, { method: 'POST', keepalive: true, headers: { 'content-type': 'application/json', 'x-variorum-token': token() }, body: '{"act":"stop"}' }); });
}

/* Who steps from position to position finds the board where it was. */
const STEP = 'variorum-step';
addEventListener('pagehide', () => {   // desk.js forgets it where another page comes between
  try { sessionStorage.setItem(STEP, JSON.stringify({ path: location.pathname, top: board.getBoundingClientRect().top })); } catch { /* then not */ }
});
try {
  const step = JSON.parse(sessionStorage.getItem(STEP) ?? 'null');
  sessionStorage.removeItem(STEP);
  const way = /** @type {PerformanceNavigationTiming | undefined} */ (performance.getEntriesByType('navigation')[0]);
  // Going back and reloading the browser does itself.
  if (step?.path === location.pathname && way?.type === 'navigate') scrollBy({ top: board.getBoundingClientRect().top - step.top, behavior: 'instant' });
} catch { /* the page begins at its head */ }

/** @type {Record<string, () => void>} */
const keys = {
  ArrowLeft: () => { if (main.dataset.back) location.assign(main.dataset.back); },
  ArrowRight: () => { if (onward.length) location.assign(onward[chosen].href); },
  ArrowUp: () => choose(-1), ArrowDown: () => choose(1),
  t: turn, c: () => copy(button('copy-line')), f: () => copy(button('copy-fen')), m: () => field.focus(), a: begin,
};
document.addEventListener('keydown', event => {
  const target = /** @type {Element} */ (event.target);
  if (event.ctrlKey || event.metaKey || event.altKey || target.closest('input, textarea, select')) return;
  if (event.key.startsWith('Arrow') && target.closest('.keys')) return;   // on the board arrows go from square to square
  const act = keys[event.key];
  if (act) { event.preventDefault(); act(); }
});
