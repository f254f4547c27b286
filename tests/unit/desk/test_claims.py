from __future__ import annotations

import html
import json
import re

import chess
from desk_works import AFTER_NC3, AGAINST, say, until
from invented_desk import Desk

from variorum.board import Position
from variorum.desk.pages.claims import _rewording
from variorum.desk.replay import replay_of_text
from variorum.desk.work import State
from variorum.voices.verdict_files import read_verdicts, verdict_path


def test_a_contradicted_claim_leads_to_its_evidence_and_its_sentence(desk: Desk) -> None:
    say(desk.edition, -250)
    text = desk.page("claims")
    entry = re.search(r'<section class="group contradicted".*?</section>', text, re.DOTALL)
    assert entry
    links = [html.unescape(link) for link in re.findall(r'href="([^"]+)"', entry[0])]
    assert any(link.startswith(f"/e/{desk.name}/manuscript?place=6%3A") for link in links)
    position = next(link for link in links if "/position?" in link)
    assert AFTER_NC3 in desk.client.get(position).text
    assert "it lies between ∓ (clear Black) and −+ (winning Black)" in entry[0]


def test_what_would_stand_can_be_copied_into_the_text_it_is_for() -> None:
    assert _rewording("= (level) holds", True) == ("= (level) would hold", "=")
    assert _rewording("= (level) holds", False) == ("= (level) would hold", "level")
    assert _rewording("'no tempi' holds", False) == ("“no tempi” would hold", "no tempi")
    assert _rewording("?! holds", True) == ("?! would hold", "?!")
    assert _rewording("a4 is no better than a3", False) == ("a4 is no better than a3", "")


def test_the_line_against_it_has_the_position_behind_each_move(desk: Desk) -> None:
    say(desk.edition, -300)
    moves = re.findall(
        r'class="mv" data-fen="([^"]+)" data-mark="itinerary ([a-h1-8-]+)"', desk.page("claims")
    )
    board = chess.Board(AFTER_NC3)  # the reference library
    assert len(moves) == len(AGAINST)
    for (fen, way), uci in zip(moves, AGAINST, strict=True):
        board.push_uci(uci)
        assert fen.split()[:4] == board.fen(en_passant="legal").split()[:4]
        assert way == f"{uci[:2]}-{uci[2:]}"


def test_a_line_that_is_none_is_not_played_through() -> None:
    assert replay_of_text("3...Qxf2", AFTER_NC3) is None
    assert replay_of_text("", AFTER_NC3) is None
    line = replay_of_text("14...Nf6 15.Nf3", AFTER_NC3)
    assert line is not None
    assert [move.text for move in line.moves] == ["14…♘f6", "15\u00a0♘f3"]


def test_claims_are_found_by_standing_by_text_and_by_words(desk: Desk) -> None:
    (desk.edition / "digest.md").write_text(
        '[White is winning]{.claim kind=score at="qgd" says="winning White"}\n'
    )
    say(desk.edition, -300)
    both = desk.page("claims")
    assert both.count('class="entry-claim"') == 2
    assert desk.page("claims?standing=undecided").count('class="entry-claim"') == 1
    assert "White is winning" not in desk.page("claims?in=manuscript.pgn")
    assert desk.page("claims?q=winning").count('class="entry-claim"') == 1
    assert "No sentence has these words" in desk.page("claims?q=endgame")


def key_of(text: str) -> dict[str, object]:
    sent = re.search(r'data-with="deciding" data-send="([^"]+)"', text)
    assert sent
    found: dict[str, object] = json.loads(html.unescape(sent[1]))
    return found


def test_one_claim_is_decided_in_the_background(desk: Desk) -> None:
    settings = desk.edition / "edition.toml"
    settings.write_text(settings.read_text() + "\n[budget]\nnodes_per_verdict = 1000\n")
    (desk.edition / "digest.md").write_text(
        '[White is winning]{.claim kind=score at="qgd" says="winning White"}\n'
    )
    sent = key_of(desk.page("claims?in=manuscript.pgn"))
    status, told = desk.post(f"/e/{desk.name}/claims/decide", {"minutes": "5", **sent})
    assert status == 200
    work = until(desk.works, int(told["number"]), State.DONE, State.FAILED)
    assert (work.state, work.result) == (State.DONE, f"/e/{desk.name}/claims")
    asked = read_verdicts(verdict_path(desk.edition / "verdicts", "resident")).verdicts
    assert {verdict.epd for verdict in asked} == {
        Position.from_fen(AFTER_NC3).epd
    }  # and nothing of the digest's
    assert "Asked last" in desk.page("claims")


def test_what_was_asked_as_deep_as_it_goes_is_not_asked_again(desk: Desk) -> None:
    settings = desk.edition / "edition.toml"
    settings.write_text(
        settings.read_text() + "\n[budget]\nnodes_per_verdict = 1000\nminimum_effort = 1000\n"
    )
    say(desk.edition, 40, nodes=16_000)
    text = desk.page("claims?standing=undecided")
    assert "Decide this" not in text
    assert "as deep as a build asks" in text


def test_what_asking_takes_is_said_in_time_where_the_speed_is_known(desk: Desk) -> None:
    settings = desk.edition / "edition.toml"
    settings.write_text(settings.read_text() + "\n[budget]\nnodes_per_verdict = 1_000_000\n")
    assert "1,000,000 nodes" in desk.page("claims?standing=undecided")
    say(desk.edition, 40, nodes=1_000_000, elapsed_ms=20_000)
    assert "about a minute" in desk.page("claims?standing=undecided")


def test_a_wish_that_cannot_be_met_is_refused(desk: Desk) -> None:
    for wish in ({"minutes": "0"}, {"minutes": "soon"}, {"claim": {"path": 3}}):
        assert desk.post(f"/e/{desk.name}/claims/decide", wish)[0] == 422
    answer = desk.client.post(f"/e/{desk.name}/claims/decide", json={"minutes": 1})
    assert answer.status_code == 403  # without the token nothing is begun
    settings = desk.edition / "edition.toml"
    settings.write_text(settings.read_text() + '\n[budget]\nvoices = ["absent"]\n')
    assert "absent" in desk.page("claims")
    status, told = desk.post(f"/e/{desk.name}/claims/decide", {"minutes": 1})
    assert (status, "on this computer" in told["fault"]) == (422, True)
