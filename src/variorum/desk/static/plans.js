/* Pointing at a plan or focusing it draws its way on the board; a press keeps it until the next press, or Escape. */
const board = /** @type {HTMLElement | null} */ (document.getElementById('board'));
/** @type {HTMLElement | null} */
let kept = null;

/** @param {ParentNode} root */
function prepare(root) {
  for (const plan of /** @type {NodeListOf<HTMLElement>} */ (root.querySelectorAll('[data-marks]'))) {
    const button = /** @type {HTMLButtonElement} */ (plan.querySelector('button'));
    const show = (/** @type {boolean} */ on) => board?.setAttribute('marks', on ? plan.dataset.marks ?? '' : kept?.dataset.marks ?? '');
    for (const name of ['mouseenter', 'focusin']) plan.addEventListener(name, () => show(true));
    for (const name of ['mouseleave', 'focusout']) plan.addEventListener(name, () => show(false));
    button.setAttribute('aria-pressed', 'false');
    plan.addEventListener('click', event => {
      if (/** @type {Element} */ (event.target).closest('.cite')) return;
      const on = kept !== plan;
      kept?.querySelector('button')?.setAttribute('aria-pressed', 'false');
      button.setAttribute('aria-pressed', String(on));
      kept = on ? plan : null;
      show(on);
    });
    plan.addEventListener('keydown', event => { if (event.key === 'Escape' && kept === plan) plan.click(); });
  }
}
document.addEventListener('variorum-part', event => prepare(/** @type {HTMLElement} */ (event.target)));
prepare(document);
