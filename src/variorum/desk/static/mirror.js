/* Where lines and caret of a text field are: its words set a second time, unseen, with the same type and width. */

const LIKE = /** @type {const} */ (['boxSizing', 'width', 'paddingTop', 'paddingRight', 'paddingBottom', 'paddingLeft', 'borderTopWidth', 'borderRightWidth', 'borderBottomWidth', 'borderLeftWidth', 'fontFamily', 'fontSize', 'fontWeight', 'fontVariantNumeric', 'lineHeight', 'letterSpacing', 'tabSize']);

export class Mirror {
  /** @param {HTMLTextAreaElement} field */
  constructor(field) {
    this.field = field;
    this.box = document.createElement('div');
    this.box.className = 'mirror';
    this.box.setAttribute('aria-hidden', 'true');
    field.after(this.box);
    this.text = '';
  }

  set() {
    const style = getComputedStyle(this.field);
    for (const name of LIKE) this.box.style[name] = style[name];
    this.box.style.width = `${this.field.clientWidth + parseFloat(style.borderLeftWidth) + parseFloat(style.borderRightWidth)}px`;
    const lines = this.field.value.split('\n');
    if (this.text === this.field.value && this.box.childElementCount === lines.length) return;
    this.text = this.field.value;
    this.box.replaceChildren(...lines.map(line => {
      const row = document.createElement('div');
      row.textContent = line || '\u200b';
      return row;
    }));
  }

  /** How far below the top of the text a line begins. @param {number} line from 1 @returns {number} pixels */
  top(line) {
    const row = /** @type {HTMLElement | undefined} */ (this.box.children[Math.min(line, this.box.childElementCount) - 1]);
    return row?.offsetTop ?? 0;
  }

  /** Where the caret is, from the field's own corner. @returns {{left: number, top: number, below: number}} pixels */
  caret() {
    this.set();
    const before = this.field.value.slice(0, this.field.selectionEnd).split('\n'), row = /** @type {HTMLElement} */ (this.box.children[before.length - 1]);
    const typed = before.at(-1) ?? '', whole = row.textContent ?? '', spot = document.createElement('span');
    spot.textContent = '\u200b';
    row.replaceChildren(whole.slice(0, typed.length), spot, whole.slice(typed.length));
    const found = { left: spot.offsetLeft, top: spot.offsetTop - this.field.scrollTop, below: spot.offsetTop + spot.offsetHeight - this.field.scrollTop };
    row.textContent = whole;
    return found;
  }
}
