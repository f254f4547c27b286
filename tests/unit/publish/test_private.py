"""Nothing that the author marked private reaches the page, in whatever form."""

from __future__ import annotations

import base64
import datetime
import html
import re
from pathlib import Path

from invented_evidence import InventedEvidence

from variorum.edition import EditionSettings, PrivateMarks
from variorum.edition.digest_reader import parse_digest
from variorum.publish.compose import compose_digest
from variorum.publish.html import html_of
from variorum.publish.page import PageSetting
from variorum.publish.private import publishable

SETTINGS = EditionSettings(
    title="T", side="white", roots={"main": "1.e4"}, private=PrivateMarks(names=("Hammer",))
)
TEXT = """\
# Title

*Standfirst.*

Private: needle one.

Public text stays. <!-- needle two -->

- private needle three
- an entry

> The hammer: needle four.

:::diagram iqp-main
caption: private needle five
:::

```
Private needle six
```

## Private line needle seven

Text under it: needle eight.

### Deeper needle nine

- needle ten

## Open

TODO needle eleven?

Hammers are no name. [61.8]{.fact kind=score at="iqp-main"} is printed.
"""


def test_private_needles_are_in_no_output_also_not_inside_fonts() -> None:
    digest, faults = parse_digest(TEXT, Path("digest.md"))
    assert faults == []
    kept, left_out = publishable(digest, SETTINGS)
    setting = PageSetting(edition="E", made_on=datetime.date(2026, 11, 25))
    page = html_of(compose_digest(kept, InventedEvidence(), setting).page)
    embedded = [base64.b64decode(data) for data in re.findall(r"base64,([A-Za-z0-9+/=]+)", page)]
    assert len(embedded) == 4
    for output in (page.encode(), html.unescape(page).encode(), *embedded):
        assert b"needle" not in output.lower()
        assert not re.search(rb"(?i)\bhammer\b", output)
    assert (
        "ublic text stays." in page
        and "Hammers are no name" in page
        and "an entry" in page
        and ">Open<" in page
    )
    assert [(left.what, left.line) for left in left_out] == [
        ("private comment", 5),
        ("private comment", 9),
        ("private name", 12),
        ("private comment", 14),
        ("private comment", 18),
        ("private section", 22),
        ("question to yourself", 32),
    ]


def test_what_is_left_out_is_told_without_its_words() -> None:
    digest, _ = parse_digest(TEXT, Path("digest.md"))
    _, left_out = publishable(digest, SETTINGS)
    assert str(left_out[0]) == "digest.md:5:1: private comment"
    assert "needle" not in " ".join(map(str, left_out))
