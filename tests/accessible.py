"""What is wrong with a page by the rules of WCAG: checked by axe (Deque's checker)."""

from __future__ import annotations

from pathlib import Path

from playwright.sync_api import Page

__all__ = ["faults"]

AXE = (Path(__file__).parent / "browser" / "axe" / "axe.min.js").read_text(encoding="utf-8")
RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
# What the page shows in a frame is the published page, which has a check of its own below.
# One rule, which its makers call experimental, wants all that is drawn at a place of the map said in the same order: a place is
# drawn in fragments and said as a sentence, which begins with its name.
FIND = """async rules => (await axe.run(document, {
    runOnly: rules, rules: { 'label-content-name-mismatch': { enabled: false } }, iframes: false, resultTypes: ['violations'],
  })).violations
  .filter(one => ['serious', 'critical'].includes(one.impact))
  .map(one => `${one.impact} ${one.id}: ${one.nodes.map(node => node.html.slice(0, 160) + ' ' + node.failureSummary).join(' | ')}`)"""


def faults(page: Page) -> list[str]:
    page.evaluate(AXE)
    found: list[str] = page.evaluate(FIND, RULES)
    return found
