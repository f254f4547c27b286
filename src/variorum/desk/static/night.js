/* Before the page is drawn: the reading that was chosen last; where none was, the one that this computer prefers, also when that changes. */
{
  const dark = matchMedia('(prefers-color-scheme: dark)');
  const read = () => {
    let chosen = null;
    try { chosen = localStorage.getItem('variorum-reading'); } catch { /* a browser that keeps nothing */ }
    document.documentElement.dataset.reading = chosen ?? (dark.matches ? 'night' : 'day');
  };
  read();
  dark.addEventListener('change', read);
}
