"""The wheel works where nothing else is: no Rust, no Node, no make, no source tree."""

from __future__ import annotations

import os
import subprocess
import sys
import venv
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]

pytestmark = [pytest.mark.slow, pytest.mark.timeout(900)]


def run(*command: str | Path, **more: object) -> subprocess.CompletedProcess[str]:
    done = subprocess.run([str(part) for part in command], capture_output=True, text=True, **more)  # type: ignore[call-overload]
    assert done.returncode == 0, f"{command}\n{done.stdout}\n{done.stderr}"
    return done


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    out = tmp_path_factory.mktemp("wheel")
    run(sys.executable, "-m", "maturin", "build", "--release", "--locked", "--out", out, cwd=ROOT)
    (built,) = out.glob("*.whl")
    return built


def test_holds_what_it_should_and_no_test_data(wheel: Path) -> None:
    names = zipfile.ZipFile(wheel).namelist()
    assert any(name.startswith("variorum/_core") for name in names)
    assert "variorum/py.typed" in names
    assert "variorum/publish/assets/book.typ" in names
    assert "variorum/publish/assets/fonts/print/text-regular.ttf" in names
    assert any(name.endswith("licenses/LICENSE") for name in names)
    assert any(name.endswith("licenses/LICENSE-MIT-0") for name in names)
    # Test data without a stated licence stay out of the wheel.
    assert not [name for name in names if name.endswith((".epd", ".pgn", ".rs")) or name.startswith("tests")]


def test_runs_in_an_empty_environment_without_rust(wheel: Path, tmp_path: Path) -> None:
    home = tmp_path / "environment"
    venv.create(home, with_pip=True)
    scripts = home / ("Scripts" if os.name == "nt" else "bin")
    run(scripts / "python", "-m", "pip", "install", "--quiet", wheel)

    bare = {
        key: value for key, value in os.environ.items() if not key.startswith(("CARGO", "RUST", "PYTHON"))
    }
    bare["PATH"] = str(scripts)
    bare["HOME"] = bare["XDG_CONFIG_HOME"] = str(tmp_path)
    version = run(scripts / "variorum", "--version", env=bare, cwd=tmp_path).stdout
    assert version.split()[-1] == wheel.name.split("-")[1]

    edition = tmp_path / "panov"
    root = "1.e4 c6 2.d4 d5 3.exd5 cxd5 4.c4"
    run(
        scripts / "variorum", "new", edition, "--title", "Panov", "--root", root, "--side", "white",
        env=bare, cwd=tmp_path,
    )  # fmt: skip
    assert (edition / "edition.toml").is_file()
    assert (edition / "manuscript.pgn").is_file()
    assert (edition / "digest.md").is_file()
    (edition / "manuscript.pgn").write_text("1. e4 c6 {A book needs its fonts.} *\n", encoding="utf-8")
    run(scripts / "variorum", "publish", edition, env=bare, cwd=tmp_path)
    assert (edition / "out" / "manuscript.pdf").read_bytes().startswith(b"%PDF")
