"""Invented verdicts: one by its words, and any for property tests."""

from __future__ import annotations

from hypothesis import strategies as st

from variorum.board import Iteration, Line, Position, Score, Verdict, VerdictLine

PANOV = Line.parse("1.e4 c6 2.d4 d5 3.exd5 cxd5 4.c4")

names = st.text(
    st.characters(exclude_characters='";', exclude_categories=["C", "Z"]), min_size=1, max_size=12
)
scores = st.one_of(
    st.integers(-3000, 3000).map(Score.of_cp),
    st.integers(1, 40).map(Score.of_mate),
    st.integers(1, 40).map(lambda n: Score.of_mate(-n)),
)

odds = st.tuples(st.integers(-3000, 3000), st.integers(0, 500), st.integers(0, 500)).map(
    lambda said: Score(cp=said[0], wdl=(said[1], 1000 - said[1] - said[2], said[2]))
)


@st.composite
def verdicts(draw: st.DrawFn) -> Verdict:
    position = PANOV.end if draw(st.booleans()) else Position.start()
    lines = []
    for _ in range(draw(st.integers(1, 4))):
        moves, here = [], position
        for _ in range(draw(st.integers(1, 5))):
            move = draw(st.sampled_from(here.legal_moves()))
            moves.append(move.uci)
            here = here.play(move)
            if here.outcome is not None:
                break
        lines.append(VerdictLine(tuple(moves), draw(st.one_of(scores, odds))))
    iterations = tuple(
        Iteration(depth, 10**depth, lines[0].moves[0], draw(scores))
        for depth in range(1, draw(st.integers(1, 8)))
    )
    return Verdict(
        key=position.key,
        epd=position.epd,
        voice=draw(names),
        version=draw(names),
        lines=tuple(lines),
        multipv=draw(st.integers(len(lines), 6)),
        nodes=draw(st.integers(0, 10**12)),
        depth=draw(st.integers(0, 60)),
        elapsed_ms=draw(st.integers(0, 10**7)),
        threads=draw(st.integers(1, 64)),
        options=tuple(f"{name}=1" for name in draw(st.lists(names, max_size=3))),
        date=draw(st.sampled_from(["", "2026-11-25"])),
        iterations=iterations,
    )


def said(
    voice: str, at: str | Position, *scored: tuple[str, int], nodes: int = 262_144, date: str = "2026-05-01"
) -> Verdict:
    """What a voice says of a position (given itself or by its line): lines as SAN, best first, with White's centipawns."""
    position = Line.parse(at).end if isinstance(at, str) else at
    lines = tuple(
        VerdictLine(tuple(move.uci for move in Line.parse(moves, start=position).moves), Score.of_cp(cp))
        for moves, cp in scored
    )
    return Verdict(
        key=position.key,
        epd=position.epd,
        voice=voice,
        version="1",
        lines=lines,
        multipv=len(lines),
        nodes=nodes,
        depth=12,
        date=date,
    )
