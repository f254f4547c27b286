"""The claims in the margin of a position: as `variorum check` finds them, those of this position, as the texts are now."""

from __future__ import annotations

import html
import re
from pathlib import Path
from urllib.parse import parse_qs, urlsplit

import html5lib
import pytest
from invented_build import make_edition
from invented_desk import HOSTILE, Desk

from variorum.base.settings import UserSettings
from variorum.board import Position
from variorum.build.checking import check_opened, check_position
from variorum.build.opened import OpenEdition
from variorum.claims.ground import CheckedClaim
from variorum.edition import content_hash, load_edition

DIGEST = """# A text

[Black has lost no move]{.claim kind=tempo at="qgd" says="none" side=black}, and
[White has lost one]{.claim kind=tempo at="qgd" says="one"}. [All play it]{.claim kind=popularity at="qgd" move="3.Nc3"}.
"""


def margin(desk: Desk, at: str) -> str:
    return desk.part("claims", at)


def states(text: str) -> list[tuple[str, str]]:
    """How each claim stands, and its sentence."""
    found = re.findall(r'class="state"[^>]*>([^<]+)</a><q>(.*?)</q>', text)
    return [(state, html.unescape(said)) for state, said in found]


def test_each_claim_says_how_it_stands_and_leads_to_its_sentence_and_its_evidence(desk: Desk) -> None:
    (desk.edition / "digest.md").write_text(DIGEST)
    text = margin(desk, "qgd")
    assert states(text) == [
        ("contradicted", "White has lost one"),
        ("holds", "Black has lost no move"),
        ("not checkable", "All play it"),
    ]
    assert "Tempo: one. White has lost no tempi. “no tempi” would hold." in text
    assert "It cannot be read: see the message on it." in text
    assert f'href="/e/{desk.name}/digest?line=4"' in text
    html5lib.HTMLParser(strict=True).parse(f"<!doctype html><title>x</title>{text}")
    for link in re.findall(r'class="state" href="([^"]+)"', text):
        address = urlsplit(html.unescape(link))
        page = desk.client.get(html.unescape(link)).text
        assert page.count('class="entry-claim"') == 1, parse_qs(address.query)


def test_a_sign_stands_at_its_move_and_a_judged_move_also_where_it_is_chosen(desk: Desk) -> None:
    file = desk.edition / "manuscript.pgn"
    file.write_text(file.read_text().replace("(3. Nf3 Nf6", "(3. Nf3 $6 Nf6 $1"))
    assert states(margin(desk, "qgd 3.Nc3")) == [("not enough evidence", "3\u00a0♘c3 ⩲")]
    assert states(margin(desk, "qgd")) == [("not enough evidence", "3\u00a0♘f3 ?!")]
    assert states(margin(desk, "qgd 3.Nf3 Nf6")) == []
    assert "Neither text claims anything about this position." in margin(desk, "qgd 3.Nf3 Nf6")


def test_the_words_of_an_author_let_nothing_run(desk: Desk) -> None:
    words = HOSTILE.replace("[", "").replace("]", "")
    (desk.edition / "digest.md").write_text(
        f'[`{words}`]{{.claim kind=tempo at="qgd" says="none" side=black}}\n'
    )
    text = margin(desk, "qgd")
    assert "<script" not in text
    assert "<img" not in text
    assert "&lt;script&gt;" in text


def lag(desk: Desk) -> None:
    """The graph of the edition stays as it is, as that of a large one does for a while."""
    editions = desk.client.app.state.editions  # type: ignore[attr-defined]
    editions.grown(desk.name)
    view = editions._of(desk.name)[1]
    view.pause, view.since = 1e9, 1e12


def test_moves_and_claims_are_those_of_the_text_as_it_is_now_also_while_the_graph_is_older(
    desk: Desk,
) -> None:
    assert "♘c3" in margin(desk, "qgd 3.Nc3")
    lag(desk)
    mark = content_hash((desk.edition / "manuscript.pgn").read_bytes())
    status, _ = desk.post(f"/e/{desk.name}/words", {"hash": mark, "act": "add", "at": "qgd 3.g3"})
    assert status == 200
    file = desk.edition / "manuscript.pgn"
    file.write_text(file.read_text().replace("3. g3", "3. g3 $6"))
    page = desk.page("position?at=qgd")
    assert "3\u00a0g3" in page.split('id="from-here"')[1].split("</section>")[0]
    assert states(margin(desk, "qgd")) == [("not enough evidence", "3\u00a0g3 ?!")]
    assert "3\u00a0g3" in desk.part("onward", "qgd")


@pytest.fixture(scope="module")
def checked(tmp_path_factory: pytest.TempPathFactory) -> OpenEdition:
    folder: Path = make_edition(tmp_path_factory.mktemp("checked") / "edition")
    edition, _ = load_edition(folder)
    assert edition is not None
    return OpenEdition(edition, UserSettings())


def test_a_position_has_the_claims_that_the_whole_check_has_there(checked: OpenEdition) -> None:
    with checked as opened:
        report, _ = check_opened(opened)
        everything = [claim for claim in report.claims if claim.epd and claim.standing != "not checkable"]
        assert len(everything) >= 4
        for claim in everything:
            position = Position.from_fen(f"{claim.epd} 0 1")
            here = check_position(opened, position)
            assert claim in here
            about = [one for one in everything if one.epd == claim.epd]
            assert [one for one in here if one.epd == claim.epd] == about
            beside = [one for one in here if one.epd != claim.epd]
            assert all(_moves_from(one, position) for one in beside)


def _moves_from(claim: CheckedClaim, position: Position) -> bool:
    after = {position.play(move).epd for move in position.legal_moves()}
    return claim.epd in after and claim.kind != "score"
