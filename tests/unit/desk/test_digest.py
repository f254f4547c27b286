"""The writing desk: nobody's words are lost, the preview is what would be published, and it can run nothing."""

from __future__ import annotations

import sys
from pathlib import Path

import html5lib
import pytest
from invented_desk import HOSTILE, Desk

from variorum.desk.pages.frame import frame
from variorum.edition import History

TEXT = '# A title\n\nThere are [9]{.fact kind=count at="qgd"} games.\n\n[Level]{.claim kind=score at="qgd" says="level"}.\n'


def post(desk: Desk, what: str, sent: object) -> tuple[int, dict[str, object]]:
    return desk.post(f"/e/{desk.name}/digest/{what}", sent)  # type: ignore[return-value]


def test_the_page_holds_the_text(desk: Desk) -> None:
    (desk.edition / "digest.md").write_text("</textarea>" + HOSTILE)
    text = desk.page("digest")
    html5lib.HTMLParser(strict=True).parse(text)
    assert HOSTILE not in text
    assert "&lt;/textarea&gt;&lt;script&gt;" in text


def test_the_preview_tells_faults_and_claims_and_writes_nothing(desk: Desk) -> None:
    before = (desk.edition / "digest.md").read_bytes()
    status, told = post(desk, "preview", {"text": TEXT + ":::nothing\n:::\n"})
    assert status == 200
    faults: list[dict[str, object]] = told["faults"]  # type: ignore[assignment]
    assert {(one["line"], one["severity"]) for one in faults} >= {(3, "warning"), (6, "warning")}
    assert any("“9” was typed; it is “2” now" in str(one["message"]) for one in faults)
    claims: list[dict[str, object]] = told["claims"]  # type: ignore[assignment]
    assert [(one["line"], one["standing"]) for one in claims] == [(5, "undecided")]
    assert "There are 2 games" in html5lib_text(desk.page("digest/preview"))
    assert (desk.edition / "digest.md").read_bytes() == before


def html5lib_text(markup: str) -> str:
    return " ".join("".join(html5lib.parse(markup).itertext()).split())


def test_the_preview_carries_a_policy_and_no_script_of_the_text(desk: Desk) -> None:
    assert desk.client.get(f"/e/{desk.name}/digest/preview").status_code == 422
    assert post(desk, "preview", {"text": HOSTILE})[0] == 200
    answer = desk.client.get(f"/e/{desk.name}/digest/preview")
    policy = answer.headers["content-security-policy"]
    assert policy.startswith("default-src 'none'")
    assert "script-src 'sha256-" in policy
    assert "unsafe" not in policy
    assert policy.endswith("frame-ancestors 'self'")
    assert "http-equiv" in answer.text
    assert HOSTILE not in answer.text


def test_saving_writes_and_saving_over_another_change_does_not(desk: Desk) -> None:
    file = desk.edition / "digest.md"
    page = desk.page("digest")
    begun = page.split('data-hash="')[1].split('"')[0]
    status, told = post(desk, "save", {"text": TEXT, "hash": begun})
    assert status == 200
    assert file.read_text() == TEXT
    file.write_text("somebody else's words\n")
    status, conflict = post(desk, "save", {"text": TEXT + "more\n", "hash": told["hash"], "base": TEXT})
    assert status == 409
    assert file.read_text() == "somebody else's words\n"
    assert conflict["theirs"] == "somebody else's words\n"
    pieces: list[dict[str, str]] = conflict["pieces"]  # type: ignore[assignment]
    assert "".join(one["mine"] for one in pieces) == TEXT + "more\n"
    assert "".join(one["theirs"] for one in pieces) == "somebody else's words\n"
    assert post(desk, "save", {"text": TEXT, "hash": conflict["hash"]})[0] == 200
    assert file.read_text() == TEXT


def test_two_tabs_never_write_over_each_other(desk: Desk) -> None:
    begun = desk.page("digest").split('data-hash="')[1].split('"')[0]
    assert post(desk, "save", {"text": "first tab\n", "hash": begun})[0] == 200
    assert post(desk, "save", {"text": "second tab\n", "hash": begun})[0] == 409
    assert (desk.edition / "digest.md").read_text() == "first tab\n"


def test_a_page_never_has_the_hash_of_another_text_than_its_own(
    desk: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    """An editor outside saves while the page is made: what is saved from the page must not take the place of that."""
    file = desk.edition / "digest.md"
    file.write_text("before\n")

    def changed_meanwhile(*told: object, **said: object) -> dict[str, object]:
        file.write_text("somebody else's words\n")
        return frame(*told, **said)  # type: ignore[arg-type]

    monkeypatch.setattr("variorum.desk.pages.digest.frame", changed_meanwhile)
    page = desk.page("digest")
    assert "\nbefore\n</textarea>" in page
    begun = page.split('data-hash="')[1].split('"')[0]
    assert post(desk, "save", {"text": "before and after\n", "hash": begun, "base": "before\n"})[0] == 409
    assert file.read_text() == "somebody else's words\n"


@pytest.mark.skipif(sys.platform == "win32", reason="links need rights there")
def test_a_digest_that_leads_out_of_the_edition_is_not_shown(desk: Desk, tmp_path: Path) -> None:
    secret = tmp_path / "secret"
    secret.write_text("a secret of the user\n")
    (desk.edition / "digest.md").unlink(missing_ok=True)
    (desk.edition / "digest.md").symlink_to(secret)
    answer = desk.client.get(f"/e/{desk.name}/digest")
    assert answer.status_code == 422
    assert "leads out of the edition" in answer.text.lower()
    for what in ("save", "compare"):
        assert post(desk, what, {"text": "x", "hash": ""})[0] == 422
    assert secret.read_text() == "a secret of the user\n"


def test_a_text_that_is_not_utf8_is_not_touched(desk: Desk) -> None:
    (desk.edition / "digest.md").write_bytes("Zürich".encode("cp1252"))
    answer = desk.client.get(f"/e/{desk.name}/digest")
    assert answer.status_code == 422
    assert "UTF-8" in answer.text


def test_what_is_no_text_is_refused(desk: Desk) -> None:
    for sent in ({}, {"text": 3}, {"text": "x", "hash": 4}):
        assert post(desk, "save", sent)[0] == 422


def test_both_texts_are_compared_and_nothing_is_written(desk: Desk) -> None:
    file = desk.edition / "digest.md"
    file.write_text(TEXT.replace("A title", "Another title"))
    sent = {"text": TEXT + "more\n", "hash": "", "base": TEXT}
    status, told = post(desk, "compare", sent)
    assert status == 409
    assert [one["kind"] for one in told["pieces"]] == ["theirs", "same", "mine"]  # type: ignore[attr-defined, index]
    assert file.read_text() == TEXT.replace("A title", "Another title")


def test_line_ends_and_mark_of_the_file_stay(desk: Desk) -> None:
    file = desk.edition / "digest.md"
    data = b"\xef\xbb\xbf\r\n# A title\r\n\r\nWords.\r\n"
    file.write_bytes(data)
    page = desk.page("digest")
    begun = page.split('data-hash="')[1].split('"')[0]
    document = html5lib.parse(page, namespaceHTMLElements=False)
    text = document.find(".//textarea").text
    assert post(desk, "save", {"text": text, "hash": begun})[0] == 200
    assert file.read_bytes() == data
    assert post(desk, "save", {"text": text + "More.\n", "hash": begun})[0] == 200
    assert file.read_bytes() == data + b"More.\r\n"


def test_what_was_written_over_can_be_had_back(desk: Desk) -> None:
    file = desk.edition / "digest.md"
    file.write_text("another program's words\n")
    status, told = post(desk, "save", {"text": "mine\n", "hash": "0", "base": ""})
    assert status == 409
    assert post(desk, "save", {"text": "mine\n", "hash": told["hash"]})[0] == 200
    History(file).undo()
    assert file.read_text() == "another program's words\n"
