"""Findings in other languages: every form of sentence that the program makes has its counterpart, and nothing English stays."""

from __future__ import annotations

import re
import string
import tomllib

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from variorum.board import DEFAULT_BANDS, Line, Position, Score, Verdict, VerdictLine
from variorum.edition import Place
from variorum.insight.contrast_report import Colours, contrast_report
from variorum.insight.structures import catalogue
from variorum.publish import assets
from variorum.publish.phrases import Phrases, phrases_of
from variorum.publish.wording import ENGLISH, LANGUAGES
from variorum.voices.verdicts import Verdicts

OTHERS = sorted(set(LANGUAGES) - {"en"})
DATA = tomllib.loads(assets.read_text("phrases.toml"))
ENGLISH_LEFT = re.compile(
    r"\b(the|is|and|with|without|in|of|on|both|move|moves|position|units|differ|plays|points|may|castled|knight|bishop|rook|queen|king|pawn"
    r"|White|Black|two|three|first|second|short|long)\b"
)


SHARED = {"de": {"in"}, "es": set(), "fr": {"position", "points"}}
"""Words that read so in both languages."""


def holes(text: str) -> set[str]:
    names = {name for _, name, _, _ in string.Formatter().parse(text) if name}
    return {name.removeprefix("in_").removeprefix("to_") for name in names}


@pytest.mark.parametrize("language", OTHERS)
def test_the_tables_are_complete_and_filled_in_alike(language: str) -> None:
    first, own = DATA[OTHERS[0]], DATA[language]
    assert own.keys() == first.keys()
    for part in own:
        assert own[part].keys() == first[part].keys() or part == "colours", part
    for part in ("sentences", "phrases", "remarks", "changes"):
        for english, said in own[part].items():
            assert holes(said) <= holes(english), english
            assert holes(english) - holes(said) <= {"v", "c", "t", "i"}, english


def test_every_structure_has_a_name_in_every_language() -> None:
    assert set(catalogue().names()) == set(DATA["structures"])
    assert all(len(said) == len(OTHERS) and all(said) for said in DATA["structures"].values())


def test_english_needs_no_phrases() -> None:
    assert phrases_of(ENGLISH.language) is None


@pytest.mark.parametrize(
    ("english", "german", "spanish", "french"),
    [
        ("isolated queen’s pawn", "Isolani", "peón de dama aislado", "pion-dame isolé"),
        (
            "hanging pawns (Black's)",
            "hängende Bauern (Schwarz)",
            "peones colgantes (negras)",
            "pions pendants (Noirs)",
        ),
        ("knight for bishop", "Springer gegen Läufer", "caballo por alfil", "cavalier contre fou"),
        ("castles short", "kurze Rochade", "enroque corto", "petit roque"),
        ("three units at d4", "drei Steine gegen d4", "tres unidades contra d4", "trois unités contre d4"),
        ("knight on b1", "Springer auf b1", "caballo en b1", "cavalier en b1"),
        ("49 of 171", "49 von 171", "49 de 171", "49 sur 171"),
        ("0.4 to 1.2", "0,4 bis 1,2", "0,4 a 1,2", "0,4 à 1,2"),
        ("Nf3–e5xg6", "Nf3–e5xg6", "Nf3–e5xg6", "Nf3–e5xg6"),
        (
            "The first is as the second, but with a3 and …h6 put in, without White's queen on d1.",
            "Die erste ist wie die zweite, aber mit a3 und …h6 dazu, ohne die weiße Dame auf d1.",
            "La primera es como la segunda, pero intercalando a3 y …h6, sin la dama blanca en d1.",
            "La première est comme la seconde, mais en intercalant a3 et …h6, sans la dame blanche en d1.",
        ),
        (
            "iqp is as bishop-c4, but with Black's bishop on d7 instead of b7.",
            "iqp ist wie bishop-c4, aber mit dem schwarzen Läufer auf d7 statt b7.",
            "iqp es como bishop-c4, pero con el alfil negro en d7 en vez de b7.",
            "iqp est comme bishop-c4, mais avec le fou noir en d7 au lieu de b7.",
        ),
        ("what an author wrote", *["what an author wrote"] * 3),
    ],
)
def test_what_is_said(english: str, german: str, spanish: str, french: str) -> None:
    said = [Phrases(LANGUAGES[language]).say(english) for language in ("de", "es", "fr")]
    assert said == [german, spanish, french]


@pytest.mark.parametrize(
    ("remark", "german"),
    [
        (
            "0 of 1,200 games there, within the 8,100 games given, to 2026-11-01; 9...Nc6 in 45",
            "0 von 1\u202f200 Partien dort, unter den gegebenen 8\u202f100 Partien bis 2026-11-01; 9...Nc6 in 45",
        ),
        (
            "played once within the 12 games given; first Orlo – Vesk, 2019",
            "einmal gespielt unter den gegebenen 12 Partien; zuerst Orlo – Vesk, 2019",
        ),
        ("White has lost no tempi", "Weiß hat kein Tempo verloren"),
        ("it has: isolated queen's pawn (White's)", "sie hat: Isolani (Weiß)"),
        ("40 of 61 games of practice, 53 to 77 %", "40 von 61 Partien (practice), 53 bis 77 %"),
        ("it hinges on knight on b1 (+12.4 points)", "es hängt an: Springer auf b1 (+12,4 Punkte)"),
        (
            "bishop-c4 is it with White's bishop on c4 instead of d3",
            "bishop-c4 ist es mit dem weißen Läufer auf c4 statt d3",
        ),
        ("nothing that the table knows", ""),
    ],
)
def test_remarks_beside_a_claim(remark: str, german: str) -> None:
    assert Phrases(LANGUAGES["de"]).remark(remark) == german


@st.composite
def pairs(draw: st.DrawFn) -> tuple[list[Place], Verdicts, Colours]:
    """Two positions from like lines, with or without names, verdicts and colours reversed."""
    lines = []
    shared = draw(st.integers(0, 6))
    first: list[int] = draw(st.lists(st.integers(0, 200), min_size=14, max_size=14))
    for _ in range(2):
        position, moves = Position.start(), []
        own = draw(st.lists(st.integers(0, 200), min_size=14, max_size=14))
        for ply in range(draw(st.integers(0, 14))):
            legal = position.legal_moves()
            if not legal:
                break
            moves.append(legal[(first if ply < shared else own)[ply] % len(legal)])
            position = position.play(moves[-1])
        lines.append(Line(Position.start(), tuple(moves)))
    named = draw(st.booleans())
    without_line = draw(st.integers(0, 3))
    places = [
        Place(
            text="",
            position=line.end,
            line=None if without_line == at else line,
            name=("iqp", "retreat")[at] if named else None,
        )
        for at, line in enumerate(lines)
    ]
    verdicts = Verdicts(
        Verdict(
            key=line.end.key,
            epd=line.end.epd,
            voice="owl",
            version="1",
            lines=(VerdictLine((line.end.legal_moves()[0].uci,), Score.of_cp(draw(st.integers(-300, 300)))),),
            nodes=100_000,
        )
        for line in lines
        if draw(st.booleans()) and line.end.legal_moves()
    )
    return places, verdicts, draw(st.sampled_from(Colours))


@settings(deadline=None, max_examples=80)
@given(pairs())
def test_no_sentence_of_a_contrast_stays_english(pair: tuple[list[Place], Verdicts, Colours]) -> None:
    (here, there), verdicts, colours = pair
    sentences = contrast_report(here, there, verdicts, {"owl": "O"}, DEFAULT_BANDS, colours).sentences
    for language in OTHERS:
        phrases = Phrases(LANGUAGES[language])
        for sentence in sentences:
            said = phrases.say(sentence)
            left = [word[0] for word in ENGLISH_LEFT.finditer(said)]
            assert said != sentence and said[0].isupper() == sentence[0].isupper(), (language, sentence)
            assert set(left) <= SHARED[language], (language, sentence, said)
