"""An opened edition that is renewed: what did not change is taken over, what grew is read on, what was dear is kept."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from invented_build import make_edition
from invented_verdicts import PANOV, verdicts

from variorum.base.settings import UserSettings
from variorum.board import Score, Verdict, VerdictLine
from variorum.build.kept_graph import kept_graph
from variorum.build.kept_verdicts import kept_verdicts
from variorum.build.opened import OpenEdition
from variorum.cli import main
from variorum.edition import Edition, load_edition
from variorum.edition.folder import VERDICTS
from variorum.voices.verdict_files import append_verdicts, read_verdicts, verdict_path
from variorum.voices.verdicts import Verdicts


@pytest.fixture
def edition(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Edition:
    monkeypatch.setenv("VARIORUM_HOME", str(tmp_path / "home"))
    folder = make_edition(tmp_path / "edition")
    assert main(["sift", str(folder)]) == 0
    found, _ = load_edition(folder)
    assert found is not None
    return found


def test_what_did_not_change_is_taken_over(edition: Edition) -> None:
    with OpenEdition(edition, UserSettings()) as opened:
        first = opened.manuscript, opened.digest, opened.verdicts, opened.graph, opened.values
        fresh = opened.renewed(edition, UserSettings())
    with fresh:
        again = fresh.manuscript, fresh.digest, fresh.verdicts, fresh.graph, fresh.values
        assert all(one is other for one, other in zip(first, again, strict=True))
        text = edition.path / "digest.md"
        text.write_text(text.read_text() + "\nMore.\n")
        with fresh.renewed(edition, UserSettings()) as later:
            assert later.digest is not fresh.digest
            assert later.graph is fresh.graph


@given(st.lists(verdicts(), max_size=5), st.integers(0, 5))
@settings(max_examples=40, deadline=None)
def test_a_file_that_grew_is_read_on_as_if_it_were_read_whole(
    tmp_path_factory: pytest.TempPathFactory, written: list[Verdict], first: int
) -> None:
    path = tmp_path_factory.mktemp("verdicts") / "voice.epd"
    path.touch()
    append_verdicts(path, written[:first])
    before = read_verdicts(path)
    append_verdicts(path, written[first:])
    after, whole = read_verdicts(path, before), read_verdicts(path)
    assert after.verdicts == whole.verdicts == written
    known = Verdicts(before.verdicts)
    assert set(known.with_more(written[first:]).all()) == set(Verdicts(written).all())
    assert set(known.all()) == set(Verdicts(written[:first]).all())


@pytest.mark.parametrize("cut", [1, 40, 200])
def test_a_file_that_was_cut_short_or_changed_is_read_anew(tmp_path: Path, cut: int) -> None:
    path = tmp_path / "voice.epd"
    said = [a_verdict(nodes) for nodes in (100, 200)]
    append_verdicts(path, said)
    whole = path.read_bytes()
    path.write_bytes(whole[:-cut])
    torn = read_verdicts(path)
    assert bool(torn.diagnostics) == (cut > 1)  # without its last line end a record is whole
    path.write_bytes(whole)
    assert read_verdicts(path, torn).verdicts == said
    before = read_verdicts(path)
    path.write_bytes(whole.replace(b"acn 100;", b"acn 101;"))
    assert [one.nodes for one in read_verdicts(path, before).verdicts] == [101, 200]


def a_verdict(nodes: int) -> Verdict:
    end = PANOV.end
    move = end.legal_moves()[0].uci
    return Verdict(
        key=end.key,
        epd=end.epd,
        voice="first",
        version="1",
        lines=(VerdictLine((move,), Score.of_cp(20)),),
        nodes=nodes,
        asked=nodes,
    )


def test_verdicts_that_took_long_to_read_are_kept_for_the_file_as_it_is(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    import variorum.build.kept_verdicts as module

    monkeypatch.setenv("VARIORUM_HOME", str(tmp_path / "home"))
    monkeypatch.setattr(module, "_WORTH_KEEPING", -1.0)
    path = verdict_path(tmp_path / VERDICTS, "first")
    append_verdicts(path, [a_verdict(100), a_verdict(200)])
    first = kept_verdicts(path)
    with monkeypatch.context() as patch:
        patch.setattr(module, "read_verdicts", never)
        again = kept_verdicts(path)
    assert again.verdicts == first.verdicts == [a_verdict(100), a_verdict(200)]
    append_verdicts(path, [a_verdict(300)])
    assert kept_verdicts(path, again).verdicts[2:] == [a_verdict(300)]
    assert len(kept_verdicts(path).verdicts) == 3
    for file in (tmp_path / "home" / "cache" / "verdicts").iterdir():
        file.write_bytes(b"damaged")
    assert len(kept_verdicts(path).verdicts) == 3


def never(*_: object, **__: object) -> None:
    raise AssertionError("made a second time")


def test_a_kept_graph_is_the_graph(edition: Edition, monkeypatch: pytest.MonkeyPatch) -> None:
    import variorum.build.kept_graph as module

    monkeypatch.setattr(module, "_WORTH_KEEPING", -1.0)
    with OpenEdition(edition, UserSettings()) as opened:
        given = {"manuscript": opened.manuscript, "store": opened.store, "verdicts": opened.said}
        grown = kept_graph(edition, **given)  # type: ignore[arg-type]
        with monkeypatch.context() as patch:
            patch.setattr(module, "edition_graph", never)
            found = kept_graph(edition, **given)  # type: ignore[arg-type]
            with pytest.raises(AssertionError, match="second time"):
                kept_graph(edition, manuscript=None, store=opened.store, verdicts=opened.said)
    for name in module._COLUMNS:
        assert np.array_equal(getattr(found, name), getattr(grown, name)), name
        assert getattr(found, name).dtype == getattr(grown, name).dtype
    for name in module._COUNTS:
        one, other = getattr(found, name), getattr(grown, name)
        assert np.array_equal(one.games, other.games)
        assert np.array_equal(one.places, other.places)
        assert np.array_equal(one.channels, other.channels)
    assert (found.channels, found.min_games, found.unreached) == (
        grown.channels,
        grown.min_games,
        grown.unreached,
    )


def test_the_graph_of_many_games_is_kept_when_they_are_brought_in(
    edition: Edition, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("variorum.build.kept_graph._WORTH_KEEPING", -1.0)
    assert main(["sift", str(edition.path)]) == 0
    with OpenEdition(edition, UserSettings()) as opened:
        assert not opened.graph_is_kept  # so few games are grown in no time
    monkeypatch.setattr("variorum.cli.commands.sift._MANY_GAMES", 0)
    monkeypatch.setattr("variorum.build.first_look._GAMES", 1)
    assert main(["sift", str(edition.path)]) == 0
    with OpenEdition(edition, UserSettings()) as opened:
        assert opened.graph_is_kept
        monkeypatch.setattr("variorum.build.kept_graph.edition_graph", None)
        assert opened.graph.nodes
