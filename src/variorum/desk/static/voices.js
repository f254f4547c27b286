/* While a voice is tried, its answers come one by one. */
/** @type {Map<number, string>} */
const seen = new Map();
document.addEventListener('variorum-works', event => {
  for (const work of /** @type {CustomEvent<any[]>} */ (event).detail) {
    if (work.kind !== 'trial') continue;
    const before = seen.get(work.number), list = /** @type {HTMLElement | null} */ (document.querySelector(`[data-trial="${CSS.escape(work.subject)}"]`));
    seen.set(work.number, work.state);
    if (list && ['waiting', 'running', 'stopping'].includes(work.state)) {
      list.hidden = false;
      list.replaceChildren(...['It is asked.', ...work.said].map(text => { const item = document.createElement('li'); item.textContent = text; return item; }));
    } else if (before && before !== work.state && work.state === 'done') location.reload();
    else if (list && work.state === 'failed' && before && before !== work.state) { list.hidden = false; list.replaceChildren(); list.append(`Erratum: ${work.fault}`); }
  }
});
