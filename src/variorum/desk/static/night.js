/* Before the page is drawn: the reading that was chosen last. */
try { if (localStorage.getItem('variorum-reading') === 'night') document.documentElement.dataset.reading = 'night'; } catch { /* a browser that keeps nothing reads by day */ }
