/* The shelf: the first position of a new edition is made on the board or typed; both say the same. */
import { announce } from './desk.js';

const form = /** @type {HTMLFormElement} */ (document.getElementById('new-edition'));
const board = /** @type {HTMLElement} */ (document.getElementById('pick'));
const field = /** @type {HTMLInputElement} */ (form.elements.namedItem('root'));
const title = /** @type {HTMLInputElement} */ (form.elements.namedItem('title'));
const folder = /** @type {HTMLInputElement} */ (form.elements.namedItem('folder'));
const fault = /** @type {HTMLElement} */ (document.getElementById('pick-fault'));
const byId = (/** @type {string} */ id) => /** @type {HTMLElement} */ (document.getElementById(id));
/** @type {string[]} */
let legal = [];
let asked = 0, timer = 0;

/** @param {string} [move] a move to make, or "back" */
async function go(move = '') {
  const number = ++asked, answer = await fetch(`/shelf/line?${new URLSearchParams({ line: field.value, move })}`, { headers: { accept: 'application/json' } }).catch(() => null);
  if (!answer || number !== asked) return;
  const told = await answer.json();
  fault.hidden = answer.ok;
  if (!answer.ok) { fault.textContent = `${told.fault[0].toUpperCase()}${told.fault.slice(1)}.`; return; }
  legal = told.legal;
  if (move) field.value = told.line;
  const within = board.contains(document.activeElement);
  board.setAttribute('fen', told.fen);
  if (within) /** @type {HTMLElement | null} */ (board.querySelector('button[tabindex="0"]'))?.focus();
  byId('pick-mover').textContent = `${told.mover} to move.`;
  byId('pick-line').textContent = told.printed || 'Make the moves that lead to its first position.';
  if (move) announce(told.printed || 'The start');
}

board.addEventListener('variorum-move', event => {
  const { from, to } = /** @type {CustomEvent<{from: string, to: string}>} */ (event).detail;
  const moves = legal.filter(move => move.startsWith(from + to));
  if (moves.length) go(moves.find(move => move.endsWith('q')) ?? moves[0]);   // another unit than a queen is typed
  else announce(`${from} to ${to} is not legal`);
});
byId('pick-back').addEventListener('click', () => go('back'));
byId('pick-turn').addEventListener('click', () => board.toggleAttribute('flip'));
field.addEventListener('input', () => { clearTimeout(timer); timer = window.setTimeout(go, 300); });
let own = false;   // whether the author typed a folder himself
folder.addEventListener('input', () => { own = true; });
title.addEventListener('input', () => { if (!own) folder.value = (folder.dataset.home ?? '') + title.value.trim().toLowerCase().replace(/[^\p{L}\p{N}]+/gu, '-').replace(/^-|-$/g, ''); });
go();
