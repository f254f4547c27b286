/* Games that were played out come when they are opened. */
import { prepareLines } from './replay.js';

for (const game of /** @type {NodeListOf<HTMLDetailsElement>} */ (document.querySelectorAll('details[data-game]'))) {
  game.addEventListener('toggle', async () => {
    if (!game.open || game.dataset.there) return;
    game.dataset.there = 'yes';
    const answer = await fetch(game.dataset.game ?? '').catch(() => null);
    if (!answer?.ok) { delete game.dataset.there; return; }
    game.append(...new DOMParser().parseFromString(await answer.text(), 'text/html').body.childNodes);
    prepareLines(game);
    /** @type {HTMLElement | null} */ (game.querySelector('.replay button'))?.click();
  });
}
