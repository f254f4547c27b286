from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from invented_desk import GAME, HOST, HOSTILE, Desk
from starlette.testclient import TestClient

from variorum.cli import main
from variorum.desk.app import make_app
from variorum.desk.shelf import Shelf
from variorum.desk.work import Works


@pytest.fixture
def desk(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Desk]:
    monkeypatch.setenv("VARIORUM_HOME", str(tmp_path / "home"))
    edition = tmp_path / "An Edition"
    root = "qgd: 1.d4 d5 2.c4 e6"
    assert main(["new", str(edition), "--title", "Queen's Gambit", "--side", "white", "--root", root]) == 0
    (edition / "sources" / "a.pgn").write_text(GAME + GAME.replace("3. Nc3 Nf6 4. Nf3", "3. Nf3 Nf6 4. Nc3"))
    (edition / "manuscript.pgn").write_text(
        f'[Event "e"]\n[White "w"]\n[Black "b"]\n[Result "*"]\n\n1. d4 d5 2. c4 e6 {{{HOSTILE}}} 3. Nc3 $14 (3. Nf3 Nf6 4. Nc3) Nf6 4. Nf3 *\n'
    )
    assert main(["sift", str(edition)]) == 0
    shelf, works = Shelf(), Works()
    app = make_app(hosts=frozenset({HOST}), shelf_list=shelf, works=works, patience=60)
    with TestClient(app, base_url=f"http://{HOST}") as client:
        yield Desk(client, shelf, works, edition)
