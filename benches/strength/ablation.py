"""What each part of the search is worth: the resident is built without it and asked the same questions.

    python benches/strength/ablation.py [NAME…]        all parts, or those named; run from the root of the repository

Each part is taken out of a copy of the source by one small replacement; a replacement that no longer fits is an error, so
the list cannot fall behind the code. Printed for each part: how many positions of `wac` are solved at 20,000 nodes, and how
many nodes all positions of `bratko_kopec` take to depth 11. Both depend on nothing but the source. The product itself has no
switches.
"""

import re
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).parents[2]
DATA = ROOT / "tests" / "external" / "data"
SOURCE = "crates/resident/src"
#: Only results are compared, not speed: a quicker build will do.
QUICK = [
    "--config",
    'profile.release.lto="off"',
    "--config",
    "profile.release.package.variorum-resident.codegen-units=16",
]

#: Part -> (file, text, what stands there without the part).
PARTS: dict[str, tuple[str, str, str]] = {
    "nothing left out": ("lib.rs", "mod board;", "mod board;"),
    "aspiration windows": (
        "search/root.rs",
        "depth >= ASPIRATION_DEPTH && before.abs()",
        "depth > 1000 && before.abs()",
    ),
    "values from the table": (
        "search/node.rs",
        "&& !is_pv\n            && entry.depth >= depth",
        "&& !is_pv\n            && entry.depth > 1000",
    ),
    "move from the table": (
        "search/node.rs",
        "known.map_or(Move::NONE, |entry| entry.best);\n        let mut estimate",
        "Move::NONE;\n        let mut estimate",
    ),
    "exchange evaluation in the order of captures": (
        "picker.rs",
        "Some(m) if !gains_at_least(board, m, self.threshold)",
        "Some(m) if self.scope != Scope::All && !gains_at_least(board, m, self.threshold)",
    ),
    "exchange evaluation in leaving out": (
        "search/node.rs",
        "|| depth <= SACRIFICE_DEPTH && !gains_at_least(board, m, -30 - 35 * left * left)\n        } else {\n            !gains_at_least(board, m, -60 - 110 * depth)",
        "\n        } else {\n            false",
    ),
    "null move": (
        "search/pruning.rs",
        "if depth < 2\n            || estimate < beta",
        "if depth < 1000\n            || estimate < beta",
    ),
    "verification of the null move": (
        "search/pruning.rs",
        "if officers.more_than_one() && depth < 12 {",
        "if depth < 1000 {",
    ),
    "late move reductions": (
        "search/node.rs",
        "reduction = (sixteenths / 16).clamp(0, (full - 1).max(0));",
        "reduction = 0 * sixteenths;",
    ),
    "late move pruning": (
        "search/node.rs",
        "if quiet && count > quiet_limit(depth, improving) &&",
        "if quiet && count > 1000 + quiet_limit(depth, improving) &&",
    ),
    "futility of moves": (
        "search/node.rs",
        "!board.is_check() && evaluation + quiet_margin(left)",
        "!board.is_check() && 100_000 + evaluation + quiet_margin(left)",
    ),
    "futility of nodes": ("search/pruning.rs", "depth <= AHEAD_DEPTH\n", "depth <= AHEAD_DEPTH - 1000\n"),
    "razoring": ("search/pruning.rs", "if depth <= RAZOR_DEPTH &&", "if depth <= RAZOR_DEPTH - 1000 &&"),
    "captures that gain much for a deep search": (
        "search/pruning.rs",
        "if depth < GAIN_DEPTH ||",
        "if depth < 1000 + GAIN_DEPTH ||",
    ),
    "internal iterative reductions": (
        "search/node.rs",
        "if depth >= UNPREPARED_DEPTH &&",
        "if depth >= 1000 + UNPREPARED_DEPTH &&",
    ),
    "singular extensions": (
        "search/node.rs",
        "if depth < SINGULAR_DEPTH\n",
        "if depth < 1000 + SINGULAR_DEPTH\n",
    ),
    "check extensions": (
        "search/node.rs",
        "depth + i32::from(in_check &&",
        "depth + i32::from(false && in_check &&",
    ),
    "checks in quiescence": (
        "search/quiescence.rs",
        "} else if rest == Rest::WithChecks {",
        "} else if rest == Rest::WithChecks && ply > 1000 {",
    ),
    "killers": (
        "history.rs",
        "let [first, second] = self.killers[ply];",
        "let [first, second] = self.killers[ply].map(|_| Move::NONE);",
    ),
    "counter moves": (
        "history.rs",
        "[first, second, self.counters[last.index()]]",
        "[first, second, self.counters[last.index() & 0]]",
    ),
    "history of quiet moves": (
        "history.rs",
        "i32::from(self.quiet[quiet_index(board.turn(), m)])",
        "0 * i32::from(self.quiet[quiet_index(board.turn(), m)])",
    ),
    "continuation histories": (
        "history.rs",
        "+ i32::from(self.answers[pair_index(contexts.last, place)])\n            + i32::from(self.plans[pair_index(contexts.own, place)])\n            + i32::from(self.plans[pair_index(contexts.own_before, place)]) / 2",
        "+ 0 * place as i32 * contexts.own.index() as i32",
    ),
    "capture history": (
        "picker.rs",
        "(victim + promoted) * 8 + memory.of_noisy(board, m) / 8",
        "(victim + promoted) * 8 + 0 * memory.of_noisy(board, m)",
    ),
    "correction of the static evaluation": (
        "correction.rs",
        "(2 * pawns + 2 * pieces) / (3 * UNIT)",
        "0 * (pawns + pieces)",
    ),
}


def without(part: str, tree: Path) -> None:
    """Takes one part out of the copy at `tree`."""
    name, text, instead = PARTS[part]
    file = tree / SOURCE / name
    source = file.read_text(encoding="utf-8")
    if source.count(text) != 1:
        sys.exit(
            f"{part}: the text to replace stands {source.count(text)} times in {name}; ablation.py has to be mended"
        )
    file.write_text(source.replace(text, instead), encoding="utf-8")


def run(*words: str | Path, tree: Path) -> str:
    """Runs a command in the copy and gives what it prints."""
    done = subprocess.run(
        [str(word) for word in words], cwd=tree, text=True, capture_output=True, check=False
    )
    if done.returncode:
        sys.exit(f"{' '.join(map(str, words))}\n{done.stderr}")
    return done.stdout


def measure(tree: Path) -> tuple[int, int]:
    """Positions of `wac` solved at 20,000 nodes; nodes to depth 11 over `bratko_kopec`."""
    run(
        "cargo",
        "build",
        "--release",
        "-q",
        "-p",
        "variorum-resident",
        "-p",
        "variorum-strength",
        *QUICK,
        tree=tree,
    )
    strength, resident = (
        tree / "target" / "release" / f"variorum-{name}" for name in ("strength", "resident")
    )
    solved = re.search(
        r": (\d+) of", run(strength, "suite", resident, DATA / "wac.epd", "nodes", "20000", tree=tree)
    )
    nodes = re.search(
        r"(\d+) nodes", run(strength, "nodes", resident, DATA / "bratko_kopec.epd", "11", tree=tree)
    )
    assert solved and nodes
    return int(solved[1]), int(nodes[1])


def main() -> None:
    """Prints one line for each part as it is measured."""
    parts = sys.argv[1:] or list(PARTS)
    unknown = [part for part in parts if part not in PARTS]
    if unknown:
        sys.exit(f"no such part: {', '.join(unknown)}; there are {', '.join(PARTS)}")
    print("| without | wac at 20,000 nodes | nodes to depth 11 |\n|---|---|---|", flush=True)
    with tempfile.TemporaryDirectory() as directory:
        tree = Path(directory)
        for name in ("crates", "benches/strength", "training", ".cargo"):
            shutil.copytree(ROOT / name, tree / name)
        for name in ("Cargo.toml", "Cargo.lock"):
            shutil.copy(ROOT / name, tree / name)
        for part in parts:
            file = tree / SOURCE / PARTS[part][0]
            kept = file.read_text(encoding="utf-8")
            without(part, tree)
            solved, nodes = measure(tree)
            file.write_text(kept, encoding="utf-8")
            print(f"| {part} | {solved} | {nodes:,} |", flush=True)


if __name__ == "__main__":
    main()
