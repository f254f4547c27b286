/* Two texts that differ: side by side, a choice at each difference, and the text that comes of it, to be put right by hand. */

/** @typedef {{kind: 'same' | 'mine' | 'theirs' | 'clash', mine: string, theirs: string}} Piece */

let shown = 0;

/** @template {keyof HTMLElementTagNameMap} K @param {K} name @param {string} [text] @param {string} [kind] @returns {HTMLElementTagNameMap[K]} */
export function element(name, text = '', kind = '') {
  const made = document.createElement(name);
  if (kind) made.className = kind;
  if (text) made.textContent = text;
  return made;
}

/** @param {string} words @param {() => void} run @returns {HTMLButtonElement} */
export function act(words, run) {
  const button = element('button', words, 'act');
  button.type = 'button';
  button.addEventListener('click', run);
  return button;
}

const MOST_WORDS = 600;

/** Words of a text that another one has as well, in the same order: the longest such row. @param {string[]} one @param {string[]} other @returns {Set<number>} their places in the first */
function shared(one, other) {
  const found = new Set(), long = one.map(() => new Uint16Array(other.length + 1)).concat([new Uint16Array(other.length + 1)]);
  for (let i = one.length - 1; i >= 0; i--) for (let j = other.length - 1; j >= 0; j--) long[i][j] = one[i] === other[j] ? long[i + 1][j + 1] + 1 : Math.max(long[i + 1][j], long[i][j + 1]);
  for (let i = 0, j = 0; i < one.length && j < other.length;) {
    if (one[i] === other[j]) { found.add(i); i++; j++; } else if (long[i + 1][j] >= long[i][j + 1]) i++; else j++;
  }
  return found;
}

/** A text with what differs from the other one marked, word by word. @param {string} text @param {string} other */
function marked(text, other) {
  const box = element('pre');
  if (!text) { box.append(element('span', '(nothing)', 'soft')); return box; }
  const words = text.split(/(\s+)/), others = other.split(/\s+/), bare = words.filter((_, place) => place % 2 === 0);
  if (!other || bare.length > MOST_WORDS || others.length > MOST_WORDS) { box.append(element('mark', text)); return box; }
  const same = shared(bare, others);
  words.forEach((word, place) => box.append(place % 2 || same.has(place / 2) || !word ? word : element('mark', word)));
  return box;
}

/** What lies between two differences, shortened. @param {string} text @param {boolean} first @param {boolean} last */
function between(text, first, last) {
  const lines = text.split('\n'), box = element('pre', '', 'between');
  const end = lines.at(-1) === '' ? lines.length - 1 : lines.length;
  const head = first ? 0 : 2, tail = last ? 0 : 2;
  box.textContent = end <= head + tail + 1 ? text : [...lines.slice(0, head), '…', ...lines.slice(end - tail, end)].join('\n');
  return box;
}

/**
 * Show both texts. The author keeps his, takes theirs, or puts them together: piece by piece, or by hand.
 * @param {HTMLElement} box where
 * @param {Piece[]} pieces
 * @param {{fault: string, write: (text: string) => void, theirs: () => void}} how what to do with the text that is chosen
 */
export function differences(box, pieces, how) {
  const name = `difference-${++shown}`;
  /** @type {('mine' | 'theirs' | 'both')[]} */
  const choices = pieces.map(piece => piece.kind === 'theirs' ? 'theirs' : 'mine');
  const hand = element('textarea'), byHand = element('div', '', 'byhand');
  const text = () => pieces.map((piece, number) => choices[number] === 'both' ? piece.theirs + (piece.theirs.endsWith('\n') || !piece.theirs ? '' : '\n') + piece.mine : choices[number] === 'theirs' ? piece.theirs : piece.mine).join('');
  const whole = (/** @type {'mine' | 'theirs'} */ whose) => pieces.map(piece => piece[whose]).join('');
  const rows = element('div', '', 'differences');
  pieces.forEach((piece, number) => {
    if (piece.kind === 'same') {
      const context = between(piece.mine, number === 0, number === pieces.length - 1);
      if (context.textContent) rows.append(context);
      return;
    }
    const row = element('div', '', 'difference'), cells = /** @type {const} */ (['mine', 'theirs']).map(whose => {
      const cell = element('div'), label = element('label'), choice = element('input');
      choice.type = 'radio'; choice.name = `${name}-${number}`; choice.checked = choices[number] === whose;
      label.append(choice, ` ${whose === 'mine' ? 'Yours' : 'On the disk'}${piece.kind === whose ? ', changed' : ''}`);
      choice.addEventListener('change', () => { choices[number] = whose; settle(); });
      cell.append(label, marked(piece[whose], piece[whose === 'mine' ? 'theirs' : 'mine']));
      return cell;
    });
    row.append(...cells);
    if (piece.kind === 'clash' && piece.mine && piece.theirs) {
      const label = element('label'), choice = element('input');
      choice.type = 'radio'; choice.name = `${name}-${number}`;
      choice.addEventListener('change', () => { choices[number] = 'both'; settle(); });
      label.append(choice, ' Both, one after the other');
      label.className = 'between';
      row.append(label);
    }
    const settle = () => {
      cells.forEach((cell, side) => cell.classList.toggle('left-out', choices[number] === (side ? 'mine' : 'theirs')));
      if (!byHand.hidden) hand.value = text();
    };
    settle();
    rows.append(row);
  });
  const clashes = pieces.filter(piece => piece.kind === 'clash').length;
  const said = clashes ? `${clashes === 1 ? 'At one place' : `At ${clashes} places`} both texts were changed: choose there.` : 'The two changes do not touch each other.';
  const acts = element('p', '', 'acts');
  acts.append(
    act(clashes ? 'Write it as chosen' : 'Write both changes', () => how.write(byHand.hidden ? text() : hand.value)),
    act('Keep mine', () => how.write(whole('mine'))),
    act('Take what is on the disk', how.theirs),
    act('Put it together by hand', () => { byHand.hidden = false; hand.value = text(); hand.focus(); }));
  hand.setAttribute('aria-label', 'The text that will be written');
  hand.spellcheck = false;
  byHand.append(hand, element('p', '“Write” above writes these words.', 'soft'));
  byHand.hidden = true;
  box.replaceChildren(element('p', `Erratum: ${how.fault}. Nothing was written; your words are still here. ${said}`), acts, rows, byHand);
  box.hidden = false;
  box.classList.add('erratum');
  box.scrollIntoView({ block: 'nearest' });
  acts.querySelector('button')?.focus({ preventScroll: true });
}
