"""An edition may come from somebody else: its pages run nothing of it, tell nothing of the desk's, and lead nowhere else.

Attacks after OWASP, Cross Site Scripting Prevention Cheat Sheet (from memory): markup, attributes, addresses, ends of elements.
"""

from __future__ import annotations

import os
import re
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import html5lib
import pytest
from desk_works import until
from invented_desk import HOSTILE, Desk

from variorum.desk.later import _TOKEN
from variorum.desk.work import State

PAGES = [
    "state",
    "map",
    "map/sheet",
    "position",
    "position?at=qgd",
    "words",
    "words?at=qgd+3.Nc3",
    "orders",
    "orders?at=qgd",
    "plans",
    "structures",
    "contrast",
    "contrast?at=qgd&with=start",
    "digest",
    "digest/results",
    "manuscript",
    "manuscript/book",
    "manuscript/tidy",
    "manuscript/steps",
    "claims",
    "drift",
    "drift/found",
    "games",
    "playouts",
    "settings",
    "part/onward?at=qgd",
    "part/near?at=qgd",
    "part/orders?at=qgd+3.Nc3",
    "part/values?at=qgd",
]
NAMES = (
    "<img src=x onerror=alert(1)>",
    "javascript:alert(1)",
    "</script><script>alert(2)</script>",
    "'onmouseover=alert(3) x='",
    _TOKEN,
    _TOKEN.strip("<>"),
)
MOVES = ("3.Nc3", "3.Nf3", "3.e3", "3.Bf4", "3.cxd5", "3.Nc3 Nf6")


@pytest.fixture
def hostile(desk: Desk) -> Desk:
    """The edition of a desk with markup wherever words can stand."""
    settings = desk.edition / "edition.toml"
    names = "".join(f'"{name}" = "qgd {moves}"\n' for name, moves in zip(NAMES, MOVES, strict=True))
    text = re.sub("title = .*", lambda _: f"title = '''{HOSTILE} {_TOKEN}'''", settings.read_text())
    text = text.replace("[names]\n", f"[names]\n{names}")
    settings.write_text(
        f'{text}\n[sigla]\n"<svg onload=alert(4)>" = "S"\n[budget]\nvoices = ["<b>", "resident"]\n'
    )
    (desk.edition / "digest.md").write_text(
        f"</textarea># {HOSTILE}\n\n[a](javascript:alert(5)) [b](data:text/html,<script>) [c](file:///etc/passwd) ![d](//evil.example/x)\n\n"
        f'<svg onload=alert(6)><p style="position:fixed" onclick="x">\n\n[{_TOKEN} {HOSTILE}]{{.claim kind=score at="qgd" says="level"}}\n\n'
        f':::diagram qgd\ncaption: {HOSTILE}\nmarks: key d4 "onload=x\n:::\n'
    )
    (desk.edition / "manuscript.pgn").write_text(
        f'[Event "{HOSTILE.replace(chr(34), "")}"]\n[White "</title><script>x</script>"]\n[Black "javascript:x"]\n[Result "*"]\n\n'
        f"1. d4 d5 2. c4 e6 {{{_TOKEN} ? {HOSTILE}}} 3. Nc3! $14 {{? {HOSTILE}}} (3. Nf3 {{N {HOSTILE}}}) 3... Nf6 *\n"
    )
    (desk.edition / "verdicts").mkdir(exist_ok=True)
    (desk.edition / "verdicts" / "stranger.epd").write_text(
        'rnbqkbnr/ppp2ppp/4p3/3p4/2PP4/2N5/PP2PPPP/R1BQKBNR b KQkq - bm Nf6; ce 12; acd 9; acn 900; pv Nf6; c0 "<script>x</script>"; '
        'c1 "<b>"; c2 "<i>=1"; c3 "line 1 of 1, threads 1, 5 ms, 2026-01-02";\n'
    )
    return desk


def answer(desk: Desk, path: str) -> tuple[int, str]:
    """A page or part once it is made."""
    deadline = time.monotonic() + 60
    while (found := desk.client.get(f"/e/{desk.name}/{path}")).status_code == 202:
        assert time.monotonic() < deadline, path
    return found.status_code, found.text


def at_fault(markup: str) -> Iterator[str]:
    """What could run or load something, or lead away from the desk."""
    for element in html5lib.parse(markup, namespaceHTMLElements=False).iter():
        tag = str(element.tag)
        if tag == "script" and not element.get("src", "").startswith("/static/"):
            yield f"script {element.attrib}"
        if tag in ("img", "object", "embed", "style", "base") or (tag == "iframe" and element.get("src")):
            yield tag
        for name, value in element.attrib.items():
            if str(name).startswith("on") or name in ("style", "srcdoc"):
                yield f"{tag} {name}={value}"
            if name in ("href", "src", "action", "formaction", "poster", "background") and not re.match(
                r"/(?!/)|#|\?|data:,$", value
            ):
                yield f"{tag} {name}={value}"


@pytest.mark.parametrize("build", [False, True])
def test_no_page_runs_or_loads_anything_or_leads_away(hostile: Desk, build: bool) -> None:
    if build:
        status, told = hostile.post(f"/e/{hostile.name}/begin/sift", {})
        assert status == 200
        until(hostile.works, int(told["number"]), State.DONE)
    for path in PAGES:
        status, text = answer(hostile, path)
        assert status == 200, text
        assert list(at_fault(text)) == [], path
        tokens = text.count(hostile.token)
        assert tokens == text.count(f'<meta name="token" content="{hostile.token}">'), path
    for path in ("/", "/voices", f"/e/{hostile.name}/nowhere", f"/e/{hostile.name}/position?at=%3Cscript%3E"):
        assert list(at_fault(hostile.client.get(path).text)) == [], path


def test_nor_does_the_page_that_would_be_published(hostile: Desk) -> None:
    text = (hostile.edition / "digest.md").read_text()
    assert hostile.post(f"/e/{hostile.name}/digest/preview", {"text": text})[0] == 200
    page = hostile.client.get(f"/e/{hostile.name}/digest/preview").text
    assert sorted(one.split()[0] for one in at_fault(page)) == [
        "script",
        "style",
    ]  # its own, which the policy names
    assert hostile.token not in page


def test_opening_it_asks_nobody(hostile: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    """Neither programs nor the resident: a voice that an edition names is a name."""

    def started(*_: object, **__: object) -> None:
        raise AssertionError("something was started")

    monkeypatch.setattr("subprocess.Popen.__init__", started)
    monkeypatch.setattr("asyncio.create_subprocess_exec", started)
    monkeypatch.setattr("variorum.voices.resident.Resident.ask", started)
    for path in PAGES:
        assert answer(hostile, path)[0] == 200, path
    for voice in ("<b>", "/bin/sh", "../../bin/sh", "stranger"):
        assert hostile.post(f"/e/{hostile.name}/ask", {"at": "qgd", "voice": voice})[0] == 422
        assert hostile.post("/voices/try", {"name": voice})[0] == 422


@pytest.mark.skipif(sys.platform == "win32", reason="there are no such files")
@pytest.mark.parametrize(
    "name",
    [
        "digest.md",
        "manuscript.pgn",
        ".history/manuscript.pgn.jsonl",
        ".history/digest.md.jsonl",
        "verdicts/x.epd",
        "playouts/x.pgn",
    ],
)
def test_a_pipe_in_place_of_a_file_holds_nothing_up(desk: Desk, name: str) -> None:
    file = desk.edition / name
    file.parent.mkdir(exist_ok=True)
    file.unlink(missing_ok=True)
    os.mkfifo(file)
    for path in PAGES:
        assert answer(desk, path)[0] in (200, 422), path


@pytest.mark.skipif(sys.platform == "win32", reason="links need rights there")
@pytest.mark.parametrize(
    "link", [".history", ".history/manuscript.pgn.jsonl", "manuscript.pgn", "edition.toml"]
)
def test_no_change_is_written_through_a_link(desk: Desk, tmp_path: Path, link: str) -> None:
    outside = tmp_path / "outside"
    file = desk.edition / link
    file.parent.mkdir(exist_ok=True)
    if link == ".history":
        outside.mkdir()
    elif file.exists():
        file.rename(outside)
    else:
        outside.write_text("precious\n")
    before = outside.read_bytes() if outside.is_file() else b""
    file.symlink_to(outside)
    page = desk.client.get(f"/e/{desk.name}/settings").text
    begun = page.split('data-hash="')[1].split('"')[0]
    status, told = desk.post(
        f"/e/{desk.name}/settings/change", {"hash": begun, "values": {"title": "Another"}}
    )
    if link in (".history", "edition.toml"):
        assert status == 422
        assert "leads out of the edition" in told["fault"]
    page = desk.client.get(f"/e/{desk.name}/words?at=qgd").text
    begun = page.split('data-hash="')[1].split('"')[0] if 'data-hash="' in page else ""
    status, told = desk.post(
        f"/e/{desk.name}/words", {"act": "comment", "hash": begun, "node": 4, "words": "Mine."}
    )
    if link != "edition.toml":
        assert status == 422, told
        assert "leads out of the edition" in told["fault"]
    assert (outside.read_bytes() if outside.is_file() else b"") == before
    assert outside.is_file() or not list(outside.iterdir())
