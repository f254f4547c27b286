"""The reference pages that are made from the program: `--write` makes them, `--check` compares.

The command line from its `--help`, settings from their structs, diagnostics from the table of codes, and the schemas of
`--json` from the result types. A page may have text of its own around a made part, which stands between two marks.
"""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import msgspec
from msgspec import inspect as types

from variorum.base.codes import CODES
from variorum.base.settings import UserSettings
from variorum.base.shape import type_in_words
from variorum.cli.app import command_module
from variorum.cli.commands import COMMANDS
from variorum.cli.failures import ErrorReport
from variorum.cli.output import schema_of
from variorum.edition import EditionSettings

REFERENCE = Path(__file__).resolve().parent.parent / "docs" / "reference"
BEGIN = "<!-- made by tools/docs.py: do not edit below -->\n"
END = "<!-- made by tools/docs.py: do not edit above -->\n"


def main() -> int:
    """Write the pages, or say which differ; 1 when one does."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--write", action="store_true", help="write the pages; without it they are compared")
    parser.add_argument(
        "--check", action="store_true", help="compare the pages (what is done without --write)"
    )
    write = parser.parse_args().write
    pages = dict(made_pages())
    stale = [path for path in (REFERENCE / "json").glob("*.json") if path not in pages]
    for path, text in pages.items():
        old = path.read_text(encoding="utf-8") if path.exists() else None
        if text == old:
            continue
        if write:
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text(text, encoding="utf-8", newline="\n")
        else:
            stale.append(path)
    for path in stale:
        if write:
            path.unlink()
        else:
            print(f"{path.relative_to(REFERENCE.parent.parent)} is out of date: python tools/docs.py --write")
    return 1 if stale and not write else 0


def made_pages() -> Iterator[tuple[Path, str]]:
    """Each page and the text that it should have."""
    yield REFERENCE / "cli.md", _page("cli.md", "".join(_helps()))
    yield REFERENCE / "edition.md", _page("edition.md", "".join(_settings(EditionSettings)))
    yield REFERENCE / "settings.md", _page("settings.md", "".join(_settings(UserSettings)))
    yield REFERENCE / "diagnostics.md", _page("diagnostics.md", "".join(_codes()))
    for name in COMMANDS:
        module = command_module(name)
        if hasattr(module, "result_type"):
            yield REFERENCE / "json" / f"{name.replace(' ', '-')}.json", _schema(module.result_type())
    yield REFERENCE / "json" / "error.json", _schema(ErrorReport)


def _page(name: str, made: str) -> str:
    """The page with its made part replaced."""
    text = (REFERENCE / name).read_text(encoding="utf-8")
    before, begin, rest = text.partition(BEGIN)
    _, end, after = rest.partition(END)
    if not begin or not end:
        raise SystemExit(f"{name} lacks the marks around its made part")
    return f"{before}{BEGIN}\n{made}\n{END}{after}"


def _helps() -> Iterator[str]:
    environment = os.environ | {"COLUMNS": "80", "PYTHONUTF8": "1"}
    for name in ("", *COMMANDS):
        arguments = [*name.split(" "), "--help"] if name else ["--help"]
        done = subprocess.run(
            [sys.executable, "-m", "variorum", *arguments],
            capture_output=True,
            text=True,
            encoding="utf-8",
            env=environment,
            check=True,
        )
        heading = f"## `variorum {name}`" if name else "## `variorum`"
        yield f"{heading}\n\n```text\n{done.stdout.rstrip()}\n```\n\n"


def _settings(shape: type[msgspec.Struct]) -> Iterator[str]:
    struct = types.type_info(shape)
    assert isinstance(struct, types.StructType)
    tables: list[tuple[str, types.StructType, str]] = [("", struct, "")]
    while tables:
        name, table, description = tables.pop(0)
        yield f"### `{name}`\n\n{description}\n\n" if name else "### Before any table\n\n"
        yield "| key | takes | default | meaning |\n| --- | --- | --- | --- |\n"
        for field in table.fields:
            kind, text = _unwrapped(field.type)
            inner = _inner_table(f"{name.strip('[]')}.{field.encode_name}".lstrip("."), kind)
            if inner:
                tables.append((inner[0], inner[1], text))
            else:
                yield f"| `{field.encode_name}` | {_cell(type_in_words(kind))} | {_default(field)} | {_cell(text)} |\n"
        yield "\n"


def _inner_table(name: str, kind: types.Type) -> tuple[str, types.StructType] | None:
    match kind:
        case types.StructType():
            return f"[{name}]", kind
        case types.VarTupleType(item_type=types.StructType() as item):
            return f"[[{name}]]", item
        case types.DictType(value_type=types.StructType() as item):
            return f"[{name}.NAME]", item
    return None


def _unwrapped(kind: types.Type) -> tuple[types.Type, str]:
    if isinstance(kind, types.Metadata):
        return kind.type, str((kind.extra_json_schema or {}).get("description", ""))
    return kind, ""


def _default(field: types.Field) -> str:
    if field.required:
        return "(needed)"
    if field.default_factory is not msgspec.NODEFAULT:
        return ""
    value: Any = field.default
    if value is None or value in ("", ()):
        return ""
    return f"`{_cell(json.dumps(value, ensure_ascii=False))}`"


def _cell(text: str) -> str:
    return text.replace("|", "\\|")


def _codes() -> Iterator[str]:
    for file, codes in CODES.items():
        yield f"### {file}\n\n| code | meaning |\n| --- | --- |\n"
        yield "".join(f"| `{code}` | {_cell(meaning)} |\n" for code, meaning in codes.items())
        yield "\n"


def _schema(result_type: type[msgspec.Struct]) -> str:
    return json.dumps(schema_of(result_type), indent=2, ensure_ascii=False) + "\n"


if __name__ == "__main__":
    sys.exit(main())
