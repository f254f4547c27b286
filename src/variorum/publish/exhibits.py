"""Blocks that were looked up, as they are printed: cited games, orders, plans, contrasts, the apparatus of a place."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

from variorum.claims.exhibits import OrderRow, ShownContrast, ShownGame, ShownOrders, ShownPlans
from variorum.edition.digest import ListOrder
from variorum.insight.plans_report import BodyPlans
from variorum.publish.apparatus import Part
from variorum.publish.notation import NO_BREAK, Notation, roman, set_line
from variorum.publish.page import Block, Inline, Listing, Moves, Paragraph, Style, Styled, Table, Words
from variorum.publish.wording import Wording

__all__ = ["contrast_blocks", "entry_words", "game_label", "game_paragraph", "orders_blocks", "plans_blocks"]

Text = Callable[[str], tuple[Inline, ...]]
"""A sentence with the moves in it set."""


def game_label(shown: ShownGame) -> str:
    """A game as an index lists it: `Orlo – Vesk, 2019`."""
    game = shown.game
    year = f", {game.date // 10_000}" if game.date else ""
    return f"{game.white} – {game.black}{year}"


def game_paragraph(shown: ShownGame, notation: Notation) -> tuple[Inline, ...]:
    """Who played, where and when; the moves; the result, behind `…` where the game goes on."""
    game = shown.game
    played = [
        game.event,
        game.site if game.site != game.event else "",
        str(game.date // 10_000) if game.date else "",
    ]
    about = ", ".join(part for part in played if part and part != "?")
    moves = Moves(tuple(set_line(shown.part, notation).split(" ")), as_line=True)
    goes_on = shown.part.end != game.line.end
    result = game.result.replace("1/2", "½").replace("-", "–")
    told = "" if game.result == "*" else f" ({result})" if goes_on else f" {result}"
    return (
        Styled(Style.STRONG, (Words(f"{game.white} – {game.black}"),)),
        Words(f"{f', {about}' if about else ''}: "),
        moves,
        Words(f"{' …' if goes_on else ''}{told}"),
    )


def orders_blocks(shown: ShownOrders, words: Wording, notation: Notation) -> Iterator[Block]:
    """The orders as a table, the most travelled first: share, risk, price; and what these are."""
    judged = any(row.risk is not None for row in shown.rows)
    heads = [words.order, words.share, *([words.risk, words.price] if judged else [])]
    rows = tuple(_order(row, number, judged, words, notation) for number, row in enumerate(shown.rows, 1))
    note = (Words(words.risk_and_price),) if judged else ()
    yield Table(((), *((Words(head),) for head in heads)), rows, len(heads) - 1, note)


def _order(
    row: OrderRow, number: int, judged: bool, words: Wording, notation: Notation
) -> tuple[tuple[Inline, ...], ...]:
    share = f"{row.share:.0f} %" if row.share >= 1 else "< 1 %"
    figures = [share.replace(" ", NO_BREAK)]
    if judged:
        figures += [_points(figure, words) for figure in (row.risk, row.price)]
    moves = Moves(tuple(set_line(row.line, notation).split(" ")), as_line=True)
    numeral = Styled(Style.EMPHASIS, (Words(roman(number).upper()),))
    return (numeral,), (moves,), *((Words(figure),) for figure in figures)


def _points(figure: tuple[float, float | None] | None, words: Wording) -> str:
    """Points that may be known in part only; a dash where nothing is known, and "at least 0.0" says nothing."""
    if figure is None or (figure[1] is None and figure[0] < 0.05):
        return "–"
    least, most = figure
    low = words.figures_in(f"{least:.1f}")
    if most is None:
        return words.at_least.format(points=low)
    high = words.figures_in(f"{most:.1f}")
    return low if low == high else f"{low}–{high}"


def plans_blocks(shown: ShownPlans, words: Wording, text: Text) -> Iterator[Block]:
    """The plans of each body of games, most frequent first, under how many games speak."""
    for body in shown.bodies:
        name = {"practice": words.practice, "playouts": words.playouts}.get(body.name, body.name)
        of_games = words.counted(body.games, words.games).replace(" ", NO_BREAK)
        heads = (f"{name}, {of_games}", words.plan_games, words.plan_move)
        yield Table(tuple((Words(head),) for head in heads), tuple(_plans(body, words, text)), 2)


def _plans(body: BodyPlans, words: Wording, text: Text) -> Iterator[tuple[tuple[Inline, ...], ...]]:
    for plan in body.plans:
        side = plan.side.value if plan.side else None
        whose = {None: "", "white": f"{words.white}: ", "black": f"{words.black}: "}[side]
        of = words.plan_count.format(count=plan.count, games=plan.games)
        first, *rest = text(plan.plan)
        if side is None and isinstance(first, Words):
            first = Words(first.text[0].upper() + first.text[1:])
        yield (Words(whose), first, *rest), (Words(of),), (Words(str(plan.move)),)


def contrast_blocks(shown: ShownContrast, text: Text) -> Iterator[Block]:
    """The sentences as a list."""
    yield Listing(ListOrder.PLAIN, tuple((Paragraph(text(sentence)),) for sentence in shown.sentences))


def entry_words(groups: Sequence[Sequence[Part]]) -> tuple[Inline, ...]:
    """An entry of the apparatus in running text; sigla are set in italic."""
    inlines: list[Inline] = []
    for number, group in enumerate(groups):
        for at, part in enumerate(group):
            if part.role == "stop":
                inlines.append(Words(part.text))
            elif part.role == "colon":
                inlines.append(Words("\u00a0:"))
            else:
                space = "" if number == at == 0 else " "
                styled = part.role in ("sig", "lemma", "rival")
                style = Style.EMPHASIS if part.role == "sig" else Style.STRONG
                word = Words(part.text)
                inlines += [Words(space), Styled(style, (word,)) if styled else word]
    return tuple(inlines)
