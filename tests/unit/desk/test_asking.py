"""A voice asked from the position page: it thinks on until it is stopped, and its verdict is written only when it is kept."""

from __future__ import annotations

import time

from invented_desk import Desk

from variorum.voices.verdicts import read_edition_verdicts


def ask(desk: Desk, **more: object) -> str:
    status, told = desk.post(f"/e/{desk.name}/ask", {"at": "qgd 3.Nc3"} | more)
    assert status == 200, told
    return f"/e/{desk.name}/ask/{told['number']}"


def until(desk: Desk, inquiry: str, sign: str) -> str:
    deadline = time.monotonic() + 60
    while sign not in (text := desk.client.get(inquiry).text):
        assert time.monotonic() < deadline, text
        time.sleep(0.02)
    return text


def test_a_kept_verdict_is_written_and_a_dropped_one_is_not(desk: Desk) -> None:
    dropped = ask(desk, lines=2)
    text = until(desk, dropped, 'data-verdict="yes"')
    assert text.count("<li>") == 2
    assert desk.post(dropped, {"act": "stop"})[0] == 200
    until(desk, dropped, 'data-running=""')
    verdicts, _ = read_edition_verdicts(desk.edition / "verdicts")
    assert verdicts.all() == ()
    kept = ask(desk)
    until(desk, kept, 'data-verdict="yes"')
    assert desk.post(kept, {"act": "keep"}) == (200, {"kept": True})
    assert desk.post(kept, {"act": "keep"}) == (200, {"kept": False})
    verdicts, faults = read_edition_verdicts(desk.edition / "verdicts")
    assert [(one.voice, len(one.lines)) for one in verdicts.all()] == [("resident", 3)]
    assert verdicts.all()[0].asked in [50_000 * 2**power for power in range(20)]
    assert not faults
    assert '<i class="sig">R</i>' in desk.page("position?at=qgd+3.Nc3")


def test_what_cannot_be_asked_is_told(desk: Desk) -> None:
    for wrong in (
        {"at": "nowhere"},
        {"voice": "nobody"},
        {"lines": "x"},
        {"at": "8/8/8/8/8/5k2/5q2/5K2 w - - 0 1"},
    ):
        status, told = desk.post(f"/e/{desk.name}/ask", {"at": "qgd"} | wrong)
        assert (status, bool(told["fault"])) == (422, True), wrong
    assert desk.client.get(f"/e/{desk.name}/ask/999").status_code == 422
    inquiry = ask(desk)
    assert desk.post(inquiry, {"act": "dance"})[0] == 422
    assert desk.post(inquiry, {"act": "stop"})[0] == 200


def test_lines_begin_with_the_number_of_the_move(desk: Desk) -> None:
    text = until(desk, ask(desk, at="qgd 3.Nc3"), 'data-verdict="yes"')
    assert '</span>&ensp;<span class="nb">3…' in text.replace("\u2002", "&ensp;")
