"""What all tests share: the one snapshot fixture, and settings that are nobody's own."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

USED = pytest.StashKey[set[Path]]()


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption(
        "--snapshot-update", action="store_true", help="write what the tests print as the snapshots"
    )


def pytest_configure(config: pytest.Config) -> None:
    config.stash[USED] = set()


@pytest.fixture
def snapshot(request: pytest.FixtureRequest, tmp_path: Path) -> Callable[..., None]:
    """Compare a text with `__snapshots__/MODULE/TEST[-NAME].EXT` beside the test; paths, dates, versions are replaced.

    `pytest --snapshot-update` writes them; the change is then read in the diff.
    """
    folder = request.path.parent / "__snapshots__" / request.path.stem
    test_name = re.sub(r"[^A-Za-z0-9_.-]+", "-", request.node.name).strip("-")

    def compare(text: str, name: str = "", extension: str = "txt") -> None:
        path = folder / f"{test_name}{'-' if name else ''}{name}.{extension}"
        request.config.stash[USED].add(path)
        steady = _without_chance(text, tmp_path)
        if request.config.getoption("--snapshot-update"):
            folder.mkdir(parents=True, exist_ok=True)
            path.write_text(steady, encoding="utf-8", newline="\n")
            return
        assert path.exists(), f"no snapshot {path}; write it with --snapshot-update and read it"
        assert steady == path.read_text(encoding="utf-8")

    return compare


def _without_chance(text: str, tmp_path: Path) -> str:
    """The text with what differs from run to run (this test's folder, today, the version) replaced by its name."""
    import datetime

    from variorum import __version__

    today = datetime.datetime.now(tz=datetime.UTC).date().isoformat()
    for chance, name in (
        (str(tmp_path.resolve()), "<folder>"),
        (str(tmp_path), "<folder>"),
        (today, "<today>"),
        (f"variorum {__version__}", "variorum <version>"),
    ):
        text = text.replace(chance, name)
    return text


def pytest_sessionfinish(session: pytest.Session, exitstatus: int) -> None:
    """A snapshot that no test asks for any more fails the run, when the whole of its test module was run."""
    config = session.config
    parts_only = config.option.keyword or config.option.markexpr or any("::" in arg for arg in config.args)
    if parts_only or exitstatus != 0 or config.option.collectonly:
        return
    modules = {item.path for item in session.items}
    stale = [
        path
        for module in sorted(modules)
        for path in sorted((module.parent / "__snapshots__" / module.stem).glob("*"))
        if path not in config.stash[USED]
    ]
    if config.getoption("--snapshot-update"):
        for path in stale:
            path.unlink()
    elif stale:
        session.exitstatus = pytest.ExitCode.TESTS_FAILED
        lines = "\n".join(f"stale snapshot, no test asks for it: {path}" for path in stale)
        config.get_terminal_writer().write(f"\n{lines}\n(--snapshot-update removes it)\n")


@pytest.fixture(autouse=True)
def own_settings(tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """An empty folder for the user's settings and caches, so that no test reads or writes those of whoever runs it."""
    folder = tmp_path_factory.mktemp("user")
    monkeypatch.setenv("VARIORUM_HOME", str(folder))
    yield folder
