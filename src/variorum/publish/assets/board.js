/* <v-board fen="…" marks="…" [flip] [interactive] [coords="off"] [label="…" | alt="…"]>   needs VARIORUM_UNITS (units.json)
 *
 * A diagram in the style of a printed one. Width comes from CSS; everything is laid on whole
 * device pixels, so that the hatching stays even (no moiré) at any size from 160 px up.
 *
 * marks: separated by ";", a trailing "!" prints the mark in rubric
 *   itinerary c4-a2-b1 a   a unit's way, optionally with a letter       key d5       ring
 *   hole d5                weak square, dotted ring                     changed d3   bar under the square
 *   vacated c4             dotted bar under the square
 * label begins the alternative text, units follow; alt is the whole of it, for pages in other languages.
 * interactive: squares are buttons; arrows move, Enter takes up and puts down, Escape drops; a mouse or a pen also
 *   carries a unit (a finger taps: a swipe scrolls the page); fires "variorum-move" with detail {from, to}. Legality is the caller's business.
 */
(() => {
  /**
   * @typedef {Record<string, string>} Units      square to letter of a unit, capital for White
   * @typedef {{ kind: string, way: string, letter?: string, red: string, ringed?: boolean }} Mark
   * @typedef {[number, number]} Point
   */
  /** @type {Record<string, string>} */
  const NAMES = { K: 'king', Q: 'queen', R: 'rook', B: 'bishop', N: 'knight', P: 'pawn' };
  const FILES = 'abcdefgh';
  const MARK = /^(itinerary|key|hole|changed|vacated) ([a-h][1-8](?:-[a-h][1-8])*)(?: ([a-z]{1,2}))?(!)?$/;   // nothing else reaches the markup
  let count = 0;

  const parse = (/** @type {string} */ fen) => {
    /** @type {Units} */
    const units = {};
    fen.split(' ')[0].split('/').forEach((row, i) => {
      let f = 0;
      for (const c of row) { if (c > '0' && c < '9') f += +c; else units[FILES[f++] + (8 - i)] = c; }
    });
    return units;
  };
  const say = (/** @type {Units} */ units) => ['White', 'Black'].map(side => {
    const own = Object.entries(units).filter(([, c]) => (c < 'a') === (side === 'White'));
    own.sort((a, b) => 'KQRBNP'.indexOf(a[1].toUpperCase()) - 'KQRBNP'.indexOf(b[1].toUpperCase()));
    return side + ': ' + own.map(([s, c]) => `${NAMES[c.toUpperCase()]} ${s}`).join(', ');
  }).join('. ') + '.';

  class Board extends HTMLElement {
    static observedAttributes = ['fen', 'marks', 'flip', 'coords'];
    id_ = '';
    /** Width drawn, in pixels; 0 where nothing is. */
    w = 0;
    /** @type {Units} */
    units = {};
    /** The square the keyboard is on, and that of the unit taken up. @type {string | null | undefined} */
    at_ = null;
    /** @type {string | null | undefined} */
    held = null;
    watch = new ResizeObserver(() => {});

    connectedCallback() {
      this.id_ = 'vb' + ++count;
      // Drawing sets the gutter and so the width: in the next frame, or the observer would chase itself.
      this.watch = new ResizeObserver(() => requestAnimationFrame(() => { if (this.isConnected && Math.floor(this.clientWidth) !== this.w) this.draw(); }));
      this.watch.observe(this);
      this.draw();
    }
    disconnectedCallback() { this.watch.disconnect(); }
    attributeChangedCallback() { if (this.w) this.draw(); }

    draw() {
      const w = this.w = Math.floor(this.clientWidth);
      if (w < 80) { this.w = 0; return; }
      const units = this.units = parse(this.getAttribute('fen') || '8/8/8/8/8/8/8/8');
      const coords = this.getAttribute('coords') !== 'off', flip = this.hasAttribute('flip');
      const fs = Math.min(13, Math.max(8.5, w * .028)), gut = coords ? Math.round(fs * (w < 260 ? 1.25 : 1.6)) : 0;
      const frame = w < 300 ? 3 : 5, sq = Math.floor((w - gut - 2 * frame) / 8), side = 8 * sq;
      // The gutter must not depend on what eight squares leave over: it widens the figure, and the two would chase each other.
      const x0 = gut + frame, y0 = frame, h = side + 2 * frame + gut;
      /** @type {HTMLElement} */ (this.closest('.plate') || this.parentElement).style.setProperty('--gutter', x0 - frame + 'px');   // captions align with the frame
      const tile = w < 260 ? 3 : 4, cut = w < 260 ? .55 : .7, id = this.id_;
      const at = (/** @type {string} */ s) => { const f = FILES.indexOf(s[0]), r = +s[1] - 1;
        return /** @type {Point} */ ([x0 + (flip ? 7 - f : f) * sq, y0 + (flip ? r : 7 - r) * sq]); };
      const mid = (/** @type {string} */ s) => /** @type {Point} */ (at(s).map(v => v + sq / 2));
      const squares = [...Array(64)].map((_, i) => FILES[i % 8] + (8 - (i >> 3)));
      const shade = (/** @type {boolean} */ dark) => squares.filter(s => ((FILES.indexOf(s[0]) + +s[1]) % 2 === 1) === dark)
        .map(s => { const [x, y] = at(s); return `M${x} ${y}h${sq}v${sq}h-${sq}z`; }).join('');

      // 1 ground, hatching, double frame
      let o = `<defs><pattern id="${id}h" patternUnits="userSpaceOnUse" x="${x0}" y="${y0}" width="${tile}" height="${tile}">
        <path d="M0 ${tile}L${tile} 0M-1 1L1 -1M${tile - 1} ${tile + 1}L${tile + 1} ${tile - 1}" stroke-width="${cut}"/></pattern></defs>
        <rect class="ground" x="${x0 - frame}" y="0" width="${side + 2 * frame}" height="${side + 2 * frame}"/>
        <path class="dark" d="${shade(true)}" fill="url(#${id}h)"/><path class="light" d="${shade(false)}" fill="url(#${id}h)"/>
        <rect class="frame-in" x="${x0 - .5}" y="${y0 - .5}" width="${side + 1}" height="${side + 1}"/>
        <rect class="frame-out" x="${x0 - frame + .75}" y=".75" width="${side + 2 * frame - 1.5}" height="${side + 2 * frame - 1.5}"/>`;
      if (coords) for (let i = 0; i < 8; i++) {
        const f = flip ? 7 - i : i;
        o += `<text class="co f" font-size="${fs}" x="${x0 + (i + .5) * sq}" y="${h - fs * .18}">${FILES[f]}</text>
              <text class="co" font-size="${fs}" x="${x0 - frame - fs * .62}" y="${y0 + (i + .5) * sq + fs * .33}">${flip ? i + 1 : 8 - i}</text>`;
      }
      // 2 bars and units, 3 marks over them
      const marks = (this.getAttribute('marks') || '').split(';').map(m => m.trim()).filter(Boolean).map(m => {
        const [, kind = '', way = '', letter, red] = MARK.exec(m) || [];
        return /** @type {Mark} */ ({ kind, way, letter, red: red ? ' red' : '' });
      }).filter(m => m.kind);
      const lw = Math.max(1.1, sq * .034);
      const small = sq < 30;                                     // too small for engraved detail: silhouettes
      let bars = '';
      for (const m of marks) if (/changed|vacated/.test(m.kind)) {
        const [x, y] = at(m.way), b = small ? 2 : Math.max(2.4, sq * .055);
        const bar = `M${x + sq * .1} ${y + sq - b * (small ? .5 : .95)}h${sq * .8}`;
        bars += `<path class="case" d="${bar}" stroke-width="${b + (small ? 1 : 1.6)}"/><path class="mk ${m.kind}${m.red}" d="${bar}" stroke-width="${b}"
          ${m.kind === 'vacated' ? `stroke-dasharray="${b} ${b}"` : ''}/>`;
      }
      for (const [s, c] of Object.entries(units)) {
        const [x, y] = at(s), u = VARIORUM_UNITS[c.toUpperCase()], k = sq / 100;
        const bold = Math.max(0, 1.05 / k - 3.3);               // outlines never thinner than a pixel
        o += `<g class="unit ${c < 'a' ? 'w' : 'b'}" transform="translate(${x} ${y}) scale(${k})">
          <path class="halo" d="${u.body}" stroke-width="${Math.max(6, 2.4 / k)}"/>` + (small
          ? `<path class="sil" d="${u.body}" stroke-width="${1 / k}"/></g>`
          : `<path class="line" d="${u.line}" stroke-width="${bold}"/><path class="solid" d="${u.solid}"/></g>`);
      }
      o += bars;
      const rings = new Set(marks.filter(m => /key|hole/.test(m.kind)).map(m => m.way));
      for (const m of marks) {
        if (m.kind === 'key' || m.kind === 'hole') {
          const held = units[m.way], [x, y] = at(m.way), r = Math.max(3, sq * (held ? .11 : .17));
          const c = held ? `cx="${x + sq - r * 1.5}" cy="${y + r * 1.5}"` : `cx="${x + sq / 2}" cy="${y + sq / 2}"`;
          o += `<circle class="case" ${c} r="${r}" stroke-width="${lw + 3.5}"/><circle class="mk ${m.kind}${m.red}" ${c} r="${r}" stroke-width="${lw * (m.kind === 'hole' ? 1.7 : 1.15)}"
            ${m.kind === 'hole' ? `stroke-dasharray="0 ${(2 * Math.PI * r / 9).toFixed(2)}" stroke-linecap="round"` : ''}/>`;
        }
        m.ringed = m.kind === 'itinerary' && rings.has(m.way.slice(-2));
        if (m.kind === 'itinerary') o += this.itinerary(m, units, mid, sq, lw);
      }
      this.innerHTML = `<svg width="${w}" height="${h}" viewBox="0 0 ${w} ${h}" role="img">${o}</svg>`;
      /** @type {Element} */ (this.firstChild).setAttribute('aria-label', this.getAttribute('alt') ?? `${this.getAttribute('label') || 'Diagram'}. ${say(units)}`);
      if (this.hasAttribute('interactive')) this.keys({ x0, y0, side, flip });
    }

    /** @param {Mark} m @param {Units} units @param {(square: string) => Point} mid @param {number} sq side of a square @param {number} lw width of a line */
    itinerary(m, units, mid, sq, lw) {
      const stops = m.way.split('-'), p = stops.map(mid), n = p.length - 1;
      const toward = (/** @type {Point} */ a, /** @type {Point} */ b, /** @type {number} */ d) => { const l = Math.hypot(b[0] - a[0], b[1] - a[1]); return /** @type {Point} */ ([a[0] + (b[0] - a[0]) * d / l, a[1] + (b[1] - a[1]) * d / l]); };
      const from = units[stops[0]] ? toward(p[0], p[1], sq * .47) : p[0];
      const tip = toward(p[n], p[n - 1], units[stops[n]] ? sq * .42 : m.ringed ? sq * .17 + lw * 2 : sq * .04);
      const len = Math.hypot(tip[0] - p[n - 1][0], tip[1] - p[n - 1][1]) - (n === 1 && units[stops[0]] ? sq * .47 : 0);
      const head = Math.max(4.5, Math.min(Math.max(6, sq * .24), len * .5)), r = Math.max(2, Math.min(sq * .075, len * .18));
      const neck = toward(tip, p[n - 1], head * .8), start = toward(from, p[1], r);
      const d = 'M' + [start, ...p.slice(1, n), neck].map(q => q.map(v => v.toFixed(1)).join(' ')).join('L');
      const [ux, uy] = toward([0, 0], [tip[0] - neck[0], tip[1] - neck[1]], 1), b = toward(tip, p[n - 1], head);
      const arrow = `M${tip}L${b[0] - uy * head * .36} ${b[1] + ux * head * .36}L${neck}L${b[0] + uy * head * .36} ${b[1] - ux * head * .36}z`;
      const halt = p.slice(1, n).map(q => `<circle class="stop${m.red}" cx="${q[0]}" cy="${q[1]}" r="${Math.max(1.6, sq * .05)}"/>`).join('');
      let txt = '';
      if (m.letter) {   // the letter sits beside the middle of the first leg
        const a = start, z = n === 1 ? neck : p[1], l = Math.hypot(z[0] - a[0], z[1] - a[1]) || 1, off = sq * .2 + 2;
        txt = `<text class="ltr${m.red}" font-size="${Math.max(10, sq * .27)}" x="${(a[0] + z[0]) / 2 + (z[1] - a[1]) / l * off}"
          y="${(a[1] + z[1]) / 2 - (z[0] - a[0]) / l * off + sq * .08}">${m.letter}</text>`;
      }
      return `<path class="case" d="${d}" stroke-width="${lw + 4}"/><path class="case" d="${arrow}" stroke-width="3"/>
        <path class="mk way${m.red}" d="${d}" stroke-width="${lw}"/><path class="head${m.red}" d="${arrow}"/>
        <circle class="origin${m.red}" cx="${from[0]}" cy="${from[1]}" r="${r}" stroke-width="${lw}"/>${halt}${txt}`;
    }

    /** @param {{ x0: number, y0: number, side: number, flip: boolean }} drawn */
    keys({ x0, y0, side, flip }) {
      const grid = document.createElement('div');
      grid.className = 'keys'; grid.setAttribute('role', 'grid'); grid.setAttribute('aria-label', 'Board: arrows move, Enter takes up and puts down a unit');
      Object.assign(grid.style, { left: x0 + 'px', top: y0 + 'px', width: side + 'px', height: side + 'px' });
      const ranks = flip ? '12345678' : '87654321', files = flip ? [...FILES].reverse() : [...FILES];
      for (const r of ranks) {
        const row = grid.appendChild(document.createElement('div')); row.setAttribute('role', 'row');
        for (const f of files) {
          const s = f + r, c = this.units[s], b = row.appendChild(document.createElement('button'));
          b.type = 'button'; b.dataset.sq = s; b.tabIndex = s === (this.at_ || 'e4') ? 0 : -1; b.setAttribute('role', 'gridcell');
          b.setAttribute('aria-label', c ? `${s}, ${c < 'a' ? 'white' : 'black'} ${NAMES[c.toUpperCase()]}` : `${s}, empty`);
        }
      }
      const cells = [...grid.querySelectorAll('button')];
      const go = (/** @type {HTMLButtonElement} */ b) => { cells.forEach(c => c.tabIndex = -1); b.tabIndex = 0; this.at_ = b.dataset.sq; b.focus(); };
      const drop = () => { this.held = null; cells.forEach(c => c.removeAttribute('aria-selected')); };
      grid.addEventListener('click', e => {
        const b = /** @type {Element} */ (e.target).closest('button'); if (!b) return;
        go(b);
        if (this.held && this.held !== b.dataset.sq) {
          const from = this.held; drop();
          this.play(from, b.dataset.sq ?? '');
        } else if (this.held) drop();
        else if (this.units[b.dataset.sq ?? '']) { this.held = b.dataset.sq; b.setAttribute('aria-selected', 'true'); }
      });
      grid.addEventListener('keydown', e => {
        const i = cells.indexOf(/** @type {HTMLButtonElement} */ (document.activeElement)), x = i % 8, y = i >> 3;
        /** @type {Record<string, number>} */
        const ways = { ArrowLeft: x ? i - 1 : i, ArrowRight: x < 7 ? i + 1 : i, ArrowUp: y ? i - 8 : i, ArrowDown: y < 7 ? i + 8 : i, Home: y * 8, End: y * 8 + 7 };
        if (e.key === 'Escape') drop();
        else if (e.key in ways) { e.preventDefault(); go(cells[ways[e.key]]); }
      });
      this.carry(grid, go);
      this.append(grid);
    }

    /** @param {string} from @param {string} to */
    play(from, to) { this.dispatchEvent(new CustomEvent('variorum-move', { bubbles: true, detail: { from, to } })); }

    /** Units carried by a mouse or a pen. @param {HTMLElement} grid @param {(square: HTMLButtonElement) => void} go */
    carry(grid, go) {
      const under = (/** @type {PointerEvent} */ e) => /** @type {HTMLButtonElement | null} */ (document.elementFromPoint(e.clientX, e.clientY)?.closest('.keys button') ?? null);
      grid.addEventListener('pointerdown', down => {
        const from = /** @type {Element} */ (down.target).closest('button'), unit = this.units[from?.dataset.sq ?? ''];
        if (!from || !unit || down.button !== 0 || down.pointerType === 'touch') return;
        const drawn = this.querySelectorAll('svg .unit')[Object.keys(this.units).indexOf(from.dataset.sq ?? '')];
        const before = drawn.getAttribute('transform') ?? '', next = drawn.nextSibling, still = new AbortController();
        let carried = false;
        const put = () => { still.abort(); drawn.setAttribute('transform', before); drawn.parentNode?.insertBefore(drawn, next); };
        addEventListener('pointermove', e => {
          const x = e.clientX - down.clientX, y = e.clientY - down.clientY;
          carried ||= Math.hypot(x, y) > 5;
          if (!carried) return;
          drawn.parentNode?.append(drawn);                        // over all other units
          drawn.setAttribute('transform', `translate(${x} ${y}) ${before}`);
        }, { signal: still.signal });
        addEventListener('pointerup', e => {
          const to = carried && under(e);
          put();
          if (!carried) return;
          const noClick = new AbortController();                  // what a browser makes of this is not meant as one
          grid.addEventListener('click', click => click.stopImmediatePropagation(), { capture: true, signal: noClick.signal });
          setTimeout(() => noClick.abort());
          if (to && grid.contains(to) && to !== from) { go(to); this.play(from.dataset.sq ?? '', to.dataset.sq ?? ''); }
        }, { signal: still.signal });
        addEventListener('pointercancel', put, { signal: still.signal });
        addEventListener('keydown', e => { if (e.key === 'Escape') put(); }, { signal: still.signal });
      });
    }
  }
  customElements.define('v-board', Board);
})();
