/* What is written and not saved outlives a page that is closed, reloaded or lost: the browser keeps it until it is saved or the text is as on the disk again. */

/** @typedef {{text: string, base: string, hash: string}} Draft the text, and what the disk held when it was written */

const KEY = `variorum-draft-${location.pathname}`;

/** @param {Draft} draft */
export function keepDraft(draft) {
  try { if (draft.text === draft.base) localStorage.removeItem(KEY); else localStorage.setItem(KEY, JSON.stringify(draft)); } catch { /* then only the warning before a page is left */ }
}

/** @returns {Draft | null} */
export function keptDraft() {
  try { return JSON.parse(localStorage.getItem(KEY) ?? 'null'); } catch { return null; }
}
