"""What all tests share: the one snapshot fixture, and settings that are nobody's own."""

from __future__ import annotations

import datetime
import re
import signal
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from variorum import __version__

REPOSITORY = Path(__file__).parent.parent
FOLDER = "__snapshots__"
USED = pytest.StashKey[set[Path]]()
SKIPPED = pytest.StashKey[set[Path]]()


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption(
        "--snapshot-update", action="store_true", help="write what the tests print as the snapshots"
    )


def pytest_configure(config: pytest.Config) -> None:
    config.stash[USED] = set()
    config.stash[SKIPPED] = set()


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(item: pytest.Item) -> Iterator[None]:
    report = yield
    if report.skipped:
        item.config.stash[SKIPPED].add(snapshots_of(item.path))
    return report


def pytest_sessionstart() -> None:
    """Programs that the tests start must hear Ctrl-C, though the tests run in the background and ignore it themselves."""
    if signal.getsignal(signal.SIGINT) is signal.SIG_IGN:
        signal.signal(signal.SIGINT, signal.default_int_handler)


def snapshots_of(module: Path) -> Path:
    return module.parent / FOLDER / module.stem


@pytest.fixture
def snapshot(request: pytest.FixtureRequest, tmp_path: Path) -> Callable[..., None]:
    """Compare a text with `__snapshots__/MODULE/TEST[-NAME].EXT` beside the test.

    Paths, today's date, instants, the version, timings and rates are replaced first; other dates are data.

    `pytest --snapshot-update` writes them; the change is then read in the diff.
    """
    folder = snapshots_of(request.path)
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
    """The text with what differs from run to run and from machine to machine replaced by its name."""
    places = {
        tmp_path: "<folder>",
        Path(tempfile.gettempdir()): "<temporary>",
        REPOSITORY: "<repository>",
        Path.home(): "<home>",
    }
    for place, name in places.items():
        for spelling in {str(place.resolve()), str(place)}:
            text = re.sub(rf"{re.escape(spelling)}(?![\w-])", lambda _, name=name: name, text)
    text = re.sub(r"<(?:folder|repository)>[\w.\\-]+", lambda match: match[0].replace("\\", "/"), text)
    text = text.replace(f"variorum {__version__}", "variorum <version>")
    text = re.sub(r"\d{4}-\d\d-\d\d[T ]\d\d:\d\d(:\d\d(\.\d+)?)?(Z|[+-]\d\d:?\d\d)?", "<instant>", text)
    for now in (datetime.datetime.now(tz=datetime.UTC), datetime.datetime.now().astimezone()):
        text = text.replace(f"{now:%Y-%m-%d}", "<today>").replace(f"{now:%Y.%m.%d}", "<today>")
    number = r"(?<![\w.,+−-])\d[\d,]*(?:\.\d+)?"
    text = re.sub(rf"{number}( ?)(\w+/s)\b", r"<rate>\1\2", text)
    return re.sub(rf"{number}( ?)(ms|µs|s|seconds?)\b", r"<time>\1\2", text)


def pytest_sessionfinish(session: pytest.Session, exitstatus: int) -> None:
    """A snapshot that no test asks for any more fails the run, when the whole of its test module was run.

    Of folders given to pytest, the snapshots of modules that are gone count too.
    """
    config = session.config
    parts_only = config.option.keyword or config.option.markexpr or any("::" in arg for arg in config.args)
    if parts_only or exitstatus != 0 or config.option.collectonly:
        return
    folders = {snapshots_of(item.path) for item in session.items}
    for given in (Path(argument).resolve() for argument in config.args):
        folders |= set(given.glob(f"**/{FOLDER}/*")) if given.is_dir() else set()
    known = {path for folder in folders - config.stash[SKIPPED] for path in folder.glob("*")}
    stale = sorted(known - config.stash[USED])
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
