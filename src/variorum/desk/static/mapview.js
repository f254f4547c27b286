/* What of the map is seen: moved by drag, touch or key, drawn nearer or farther. The page itself still scrolls by wheel and finger. */

const NEAREST = 3, FAR = .62, EDGE = 24, SMALLEST = .88;

export class View {
  /** @param {HTMLElement} box @param {SVGSVGElement} svg @param {{ width: number, height: number }} sheet */
  constructor(box, svg, sheet) {
    this.box = box; this.svg = svg; this.sheet = sheet;
    this.scale = 1; this.x = 0; this.y = 0; this.asked = this.dragged = false;
    this.rest = 0;
    /** @type {Map<number, { x: number, y: number }>} */
    this.fingers = new Map();
    this.watch = new ResizeObserver(() => { this.fit(); });
    this.watch.observe(box);
    box.addEventListener('pointerdown', event => this.down(event));
    box.addEventListener('pointermove', event => this.moved(event));
    for (const kind of ['pointerup', 'pointercancel']) box.addEventListener(kind, event => this.up(/** @type {PointerEvent} */ (event)));
    // A drag that ends on a link is no press on it.
    box.addEventListener('click', event => { if (this.dragged) { event.preventDefault(); event.stopPropagation(); this.dragged = false; } }, true);
    box.addEventListener('dragstart', event => event.preventDefault());
    box.addEventListener('wheel', event => {
      if (event.ctrlKey || event.metaKey) { event.preventDefault(); this.zoom(Math.exp(-event.deltaY / 300), ...this.point(event)); }
      else if (event.shiftKey || Math.abs(event.deltaX) > Math.abs(event.deltaY)) { event.preventDefault(); this.move(-(event.deltaX || event.deltaY), 0); }
    }, { passive: false });
    this.fit();
  }

  close() { this.watch.disconnect(); }

  /** As much height as the sheet needs, and the beginning of the lines in sight. */
  fit() {
    const wide = this.box.clientWidth;
    if (!wide) return;
    this.wide = wide;
    if (!this.begun) { this.begun = true; const fits = wide / this.sheet.width; this.scale = fits < 1 && fits > SMALLEST ? fits : 1; }
    this.tall();
    this.least = Math.min(1, wide / this.sheet.width, (this.high ?? 0) / this.sheet.height) * .9;
    this.move(0, 0);
  }

  /** As high as what is drawn, within the window. */
  tall() {
    this.high = Math.min(Math.max(this.sheet.height * Math.min(1, this.scale), 200), Math.max(360, innerHeight * .8));
    this.box.style.height = `${Math.round(this.high)}px`;
  }

  /** @param {number} dx @param {number} dy */
  move(dx, dy) {
    this.x += dx; this.y += dy;
    const hold = (/** @type {number} */ at, /** @type {number} */ seen, /** @type {number} */ all) => all <= seen ? Math.min(Math.max(at, 0), seen - all) : Math.min(EDGE, Math.max(at, seen - all - EDGE));
    this.x = hold(this.x, this.wide ?? 0, this.sheet.width * this.scale);
    this.y = hold(this.y, this.high ?? 0, this.sheet.height * this.scale);
    if (!this.asked) { this.asked = true; requestAnimationFrame(() => this.show()); }
  }

  show() {
    this.asked = false;
    // The drawn sheet is moved as a picture; at rest it is drawn anew, sharp at its size.
    this.svg.style.willChange = 'transform';
    this.svg.style.transform = `translate(${this.x.toFixed(1)}px, ${this.y.toFixed(1)}px) scale(${this.scale.toFixed(4)})`;
    this.svg.classList.toggle('far', this.scale < FAR);
    const beyond = { left: this.x < -1, right: this.x + this.sheet.width * this.scale > (this.wide ?? 0) + 1, top: this.y < -1, bottom: this.y + this.sheet.height * this.scale > (this.high ?? 0) + 1 };
    const more = Object.entries(beyond).filter(([, is]) => is).map(([side]) => side).join(' ');
    if (this.box.dataset.more !== more) this.box.dataset.more = more;
    clearTimeout(this.rest);
    this.rest = setTimeout(() => { this.svg.style.willChange = ''; }, 200);
  }

  /** @param {number} by @param {number} [x] @param {number} [y] around which point of the window of the map */
  zoom(by, x = (this.wide ?? 0) / 2, y = (this.high ?? 0) / 2) {
    const scale = Math.min(NEAREST, Math.max(this.least ?? .1, this.scale * by)), real = scale / this.scale;
    this.scale = scale;
    this.move((this.x - x) * (real - 1), (this.y - y) * (real - 1));
  }

  whole() {
    this.scale = Math.max(this.least ?? .1, Math.min(1, (this.wide ?? 0) / this.sheet.width, Math.max(360, innerHeight * .8) / this.sheet.height));
    this.x = this.y = 0;
    this.tall();
    this.move(0, 0);
  }

  /** Bring a spot of the sheet into sight. @param {number} x @param {number} y */
  see(x, y) {
    const margin = 90, px = this.x + x * this.scale, py = this.y + y * this.scale, wide = this.wide ?? 0, high = this.high ?? 0;
    const need = (/** @type {number} */ at, /** @type {number} */ size) => at < margin ? Math.min(size / 2, margin * 2) - at : at > size - margin ? Math.max(size / 2, size - margin * 2) - at : 0;
    this.move(need(px, wide), need(py, high));
  }

  /** @param {MouseEvent} event @returns {[number, number]} */
  point(event) { const at = this.box.getBoundingClientRect(); return [event.clientX - at.left, event.clientY - at.top]; }

  /** @param {PointerEvent} event */
  down(event) {
    if (event.button) return;
    this.fingers.set(event.pointerId, { x: event.clientX, y: event.clientY });
    if (this.fingers.size === 1) { this.dragged = false; this.way = 0; }
  }

  /** @param {PointerEvent} event */
  moved(event) {
    const before = this.fingers.get(event.pointerId);
    if (!before) return;
    const now = { x: event.clientX, y: event.clientY }, other = [...this.fingers].find(([id]) => id !== event.pointerId)?.[1];
    this.fingers.set(event.pointerId, now);
    if (other) {
      const apart = (/** @type {{ x: number, y: number }} */ one) => Math.hypot(one.x - other.x, one.y - other.y);
      this.dragged = true;
      const at = this.box.getBoundingClientRect();
      this.zoom(apart(now) / Math.max(1, apart(before)), (now.x + other.x) / 2 - at.left, (now.y + other.y) / 2 - at.top);
      return;
    }
    this.way = (this.way ?? 0) + Math.abs(now.x - before.x) + Math.abs(now.y - before.y);
    if (this.way < 6) return;
    if (!this.dragged) { this.dragged = true; this.box.setPointerCapture(event.pointerId); this.box.classList.add('held'); }
    this.move(now.x - before.x, now.y - before.y);
  }

  /** @param {PointerEvent} event */
  up(event) {
    this.fingers.delete(event.pointerId);
    if (!this.fingers.size) this.box.classList.remove('held');
  }
}
