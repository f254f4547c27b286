"""`variorum orders`: by which move orders a place is reached, and what each one allows on the way."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Annotated

import msgspec
import typer

from variorum.cli.options import AsJson, edition_and_place, user_settings
from variorum.cli.output import exit_if_faulty, in_letters, print_diagnostics, show, words_in_letters
from variorum.cli.progress import progress_for
from variorum.cli.values import value_texts

if TYPE_CHECKING:
    from variorum.insight.orders_report import (
        AuditedOrder,
        BestOrder,
        Deviation,
        Figure,
        ForSide,
        OrderForSide,
        OrderRisk,
        OrdersReport,
        Taken,
    )

Arguments = Annotated[
    list[str],
    typer.Argument(
        metavar="[EDITION] PLACE", help="A name of the edition, a typed line, or a FEN.", show_default=False
    ),
]

_GROUPS, _CHOICES = 14, 8
"""So many moves of the opponent, and of the side's own choices, are printed; `--json` has all."""


def result_type() -> type[msgspec.Struct]:
    """What `--json` prints."""
    from variorum.insight.orders_report import OrdersReport

    return OrdersReport


def command(
    arguments: Arguments,
    avoid: Annotated[
        list[str] | None,
        typer.Option(
            "--avoid",
            metavar="MOVE|PLACE",
            help="Only orders in which the opponent never gets this chance; may be repeated.",
        ),
    ] = None,
    keep: Annotated[
        list[str] | None,
        typer.Option(
            "--keep",
            metavar="MOVE|PLACE",
            help="Only orders on which this could still be played; may be repeated.",
        ),
    ] = None,
    legal: Annotated[
        bool, typer.Option("--legal", help="Add the legal orders of the same moves that nobody has played.")
    ] = False,
    nodes: Annotated[
        int | None,
        typer.Option("--nodes", min=1, help="Ask for what is missing first, with so many nodes a verdict."),
    ] = None,
    voice: Annotated[str, typer.Option("--voice", help="Whom to ask.")] = "resident",
    minutes: Annotated[
        float | None, typer.Option("--minutes", min=0.01, help="Ask for so many minutes at most.")
    ] = None,
    total_nodes: Annotated[
        int | None, typer.Option("--total-nodes", min=1, help="Ask for so many nodes at most, in all.")
    ] = None,
    limit: Annotated[int, typer.Option("--limit", min=1, help="List so many orders at most.")] = 12,
    as_json: AsJson = False,
) -> None:
    """Show by which move orders a place is reached, what each allows the opponent on the way, and what that costs.

    Risk is what the opponent's best way of leaving takes, in points of expected score; price is how much of it the best order would have spared. What no voice has judged is said, not guessed: --nodes has it asked.
    """
    from variorum.base import UsageError
    from variorum.build.audits import Asking, OrderWishes, audit_orders, condition_of
    from variorum.voices.registry import voice_opener
    from variorum.voices.voice import Budget

    edition, place = edition_and_place(arguments)
    user = user_settings()
    if nodes is None and (minutes is not None or total_nodes is not None):
        raise UsageError("a budget needs --nodes: how deep each verdict is to be")
    wishes = OrderWishes(
        avoid=tuple(condition_of(edition, text) for text in avoid or ()),
        keep=tuple(condition_of(edition, text) for text in keep or ()),
        legal=legal,
        limit=limit,
    )
    asking = None
    if nodes is not None:
        budget = Budget(seconds=None if minutes is None else 60 * minutes, total_nodes=total_nodes)
        asking = Asking(nodes=nodes, voice=voice, open_voice=voice_opener(voice, user), budget=budget)
    report, diagnostics = audit_orders(edition, user, place, wishes, progress_for(as_json=as_json), asking)
    print_diagnostics(diagnostics)
    show(report, lambda report: _as_text(report, user.pieces), as_json=as_json)
    exit_if_faulty(diagnostics)


def _as_text(report: OrdersReport, letters: str) -> Iterable[str]:
    line = in_letters(report.line, letters)
    yield f"{report.name}: {line}" if report.name else line or report.fen
    yield _how_many(report)
    yield from value_texts(report.values, report.range, letters)
    if not any(order.moves for order in report.orders) and report.order_count == 1:
        yield "It is a root of the edition, and no other order leads to it."
        return
    if not report.values:
        yield "No voice has judged the position, so risks cannot be told."
    for side in report.sides:
        for line in _side(report, side):
            yield words_in_letters(line, letters)
    if report.missing:
        yield ""
        yield (
            f"{_number(report.missing, 'position')} on or beside these orders not judged yet: "
            "--nodes N has the resident asked, --voice another."
        )


def _how_many(report: OrdersReport) -> str:
    if report.order_count is None:
        count = "More move orders than can be counted lead here"
    else:
        count = (
            f"{_number(report.order_count, 'move order')} lead{'s' if report.order_count == 1 else ''} here"
        )
    kinds = " (legal ones of the same moves included)" if report.legal else ""
    conditions = [f"without {one}" for one in report.avoid] + [f"with {one} kept open" for one in report.keep]
    if not conditions:
        return f"{count}{kinds}. Traffic: {report.mix}."
    met = "too many to count" if report.met is None else f"{report.met:,}"
    return f"{count}{kinds}, {met} of them {', '.join(conditions)}."


def _side(report: OrdersReport, side: ForSide) -> Iterable[str]:
    who, opponent = side.side.capitalize(), _other(side.side)
    deviations = {one.number: one for one in side.deviations}
    yield ""
    yield f"The orders, as {who} sees them, the most travelled first"
    if not report.orders:
        yield "  None."
    for order, meaning in zip(report.orders, side.orders, strict=True):
        yield from _order(order, meaning, side, report, deviations)
    if side.avoidable is not None:
        can = "can keep to this whatever" if side.avoidable else "cannot keep to this against everything"
        yield f"  {who} {can} {opponent} plays."
    yield from _deviations(side, opponent)
    yield from _best(side, who, opponent)


def _order(
    order: AuditedOrder,
    meaning: OrderForSide,
    side: ForSide,
    report: OrdersReport,
    deviations: dict[int, Deviation],
) -> Iterable[str]:
    root = f"from {order.root}: " if order.root else ""
    yield f"  {order.number}. {root}{order.moves or 'it is that root itself'}"
    share = (
        f"{order.share:.1f} % of what arrives here."
        if order.walked
        else "Legal, but not played or written throughout."
    )
    yield f"     {share}{_turns(order)}"
    for risk in meaning.risks:
        yield f"     {_risk(risk, deviations, side)}"
    keeps = _particular(meaning, side, report)
    if keeps:
        yield f"     {side.side.capitalize()} keeps the choice of {_listed(keeps)}, which not every order does."
    if meaning.shuts:
        yield f"     It gives up {_listed(meaning.shuts)}."
    for one in meaning.open_until:
        yield f"     {one.name} can still be reached until {one.until}, which {one.side.capitalize()} chooses."


def _turns(order: AuditedOrder) -> str:
    told = []
    for side in ("white", "black"):
        turns = [
            f"{turn.move} (or {_listed(turn.instead, 'or')})" for turn in order.turns if turn.side == side
        ]
        if turns:
            told.append(f" {side.capitalize()} chooses {', '.join(turns)}.")
    return "".join(told)


def _risk(risk: OrderRisk, deviations: dict[int, Deviation], side: ForSide) -> str:
    voice = f"{risk.voice}: " if len(side.orders[0].risks) > 1 else ""
    worst = None if risk.worst is None else deviations[risk.worst]
    apart = None if risk.worst_apart is None else deviations[risk.worst_apart]
    opponent = _other(side.side)
    if worst is None:
        told = f"{opponent} gains nothing by leaving this order"
    else:
        every = ", as he can in every order" if worst.in_every_order else ""
        told = (
            f"At worst {opponent} plays {worst.move}{every}, which takes {_points(risk.risk)}{_noise(risk)}"
        )
    gaps = [
        _number(number, word)
        for number, word in ((risk.unknown, "deviation"), (risk.unwatched, "position"))
        if number
    ]
    if gaps:
        told += f", as far as it is judged ({' and '.join(gaps)} on the way not yet)"
    price = risk.price
    if price.at_most is None:
        cost = "The price against the best order is not known yet" + (
            f", {price.at_least:.1f} at least." if price.at_least > 0 else "."
        )
    elif f"{price.at_most:.1f}" == "0.0":
        cost = "No order is known to be cheaper." if gaps else "No order is cheaper."
    else:
        by = f", for {apart.move}" if apart is not None and apart is not worst else ""
        cost = f"Price {_span(price)}: so much less the best order risks{by}."
    return f"{voice}{told}. {cost}"


def _noise(risk: OrderRisk) -> str:
    if risk.noise is None or risk.risk.at_least > risk.noise:
        return ""
    return f", no more than the noise (± {risk.noise:.1f})"


def _particular(meaning: OrderForSide, side: ForSide, report: OrdersReport) -> tuple[str, ...]:
    """What an order keeps and not every listed order from its root does."""
    root = report.orders[meaning.order - 1].root
    same = [one for one in side.orders if report.orders[one.order - 1].root == root]
    return tuple(move for move in meaning.keeps if not all(move in one.keeps for one in same))


def _deviations(side: ForSide, opponent: str) -> Iterable[str]:
    yield ""
    if not side.deviations:
        yield f"No way in which {opponent} leaves these orders is known."
        return
    yield f"How {opponent} can leave these orders, the dearest first"
    groups: dict[str, list[Deviation]] = {}
    for one in side.deviations:
        if one.orders:
            groups.setdefault(one.unit_to, []).append(one)
    dots = "..." if opponent == "Black" else ""
    shown = list(groups.items())[:_GROUPS]
    for unit_to, rows in shown:
        yield f"  {dots}{unit_to}"
        for one in rows:
            yield f"    {_told(one, side.side.capitalize())}"
    left = sum(map(len, groups.values())) - sum(len(rows) for _, rows in shown)
    if left:
        yield f"  and {left:,} more, which take less or are not judged (--json has all)"
    beside = sum(not one.orders for one in side.deviations)
    if beside:
        yield f"  and {beside:,} on orders that are not listed above (--json has all)"


def _told(one: Deviation, who: str) -> str:
    values = [_taken(value, who, many=len(one.values) > 1) for value in one.values] or ["not judged"]
    answer = {
        "answered": "the manuscript answers it",
        "mentioned": "the manuscript has it, without an answer",
        "no": "the manuscript has no answer",
    }[one.manuscript]
    parts = [*values, _games(one.games), answer]
    if one.may_return:
        parts.append("it may come back by another order")
    listed = [str(number) for number in one.orders]
    verb = "allows" if len(listed) == 1 else "allow"
    orders = "order" if len(listed) == 1 else "orders"
    allowing = f"{orders} {_listed(listed)} {verb} it"
    parts.append("every order allows it" if one.in_every_order else allowing)
    where = " ".join(filter(None, (one.root, one.after))) or "the start"
    return f"{one.move} after {where}: {'; '.join(parts)}."


def _taken(value: Taken, who: str, *, many: bool) -> str:
    voice = f"{value.voice}: " if many else ""
    if value.expected is None:
        return f"{voice}not judged"
    if value.takes is None:
        return f"{voice}{value.expected:.1f}"
    low, high = value.takes.at_least, value.takes.at_most or 0.0
    noise = "" if value.noise is None else f" ± {value.noise:.1f}"
    if low == high:
        if low > 0:
            return f"{voice}takes {low:.1f}{noise} ({value.expected:.1f})"
        gain = (
            f"{who} stands {-low:.1f}{noise} better than in the target"
            if low < 0
            else "it is as good as the target"
        )
        return f"{voice}takes nothing: {gain} ({value.expected:.1f})"
    if low <= 0 and high <= 0:
        return f"{voice}takes nothing"
    return f"{voice}takes {'between ' + format(max(low, 0), '.1f') + ' and ' if low > 0 else 'at most '}{high:.1f}"


def _best(side: ForSide, who: str, opponent: str) -> Iterable[str]:
    if not side.best:
        return
    yield ""
    yield f"The best order for {who}"
    many = len({one.voice for one in side.best}) > 1
    for one in side.best:
        yield f"  {_promise(one, opponent, many=many)}"
        yield f"    The usual course: {one.moves}"
        if one.guaranteed.at_most is None:
            continue
        for choice in one.choices[:_CHOICES]:
            after = f"After {choice.after}" if choice.after else "At once"
            yield f"    {after}: {choice.move}, rather than {_listed(choice.instead, 'or')}."
        if len(one.choices) > _CHOICES:
            yield f"    and {len(one.choices) - _CHOICES} more choices (--json has all)"
        if not one.choices:
            yield f"    The forks on the way are {opponent}'s; {who} has no choice of order."


def _promise(one: BestOrder, opponent: str, *, many: bool) -> str:
    begin = f"{one.voice}, from {one.root}" if many else f"From {one.root}"
    figure = one.guaranteed
    if figure.at_most is None:
        least = f"; {figure.at_least:.1f} points at least can be lost" if figure.at_least > 0 else ""
        return f"{begin}: no promise, since not all that {opponent} can play is judged{least}."
    if f"{figure.at_most:.1f}" == "0.0":
        return f"{begin}: whatever {opponent} plays on the way, it takes nothing."
    return (
        f"{begin}: whatever {opponent} plays on the way, it takes no more than {figure.at_most:.1f} points."
    )


def _span(figure: Figure) -> str:
    if figure.at_most is None:
        return f"{figure.at_least:.1f} at least" if figure.at_least > 0 else "not known"
    if f"{figure.at_least:.1f}" == f"{figure.at_most:.1f}":
        return f"{figure.at_least:.1f}"
    return f"{figure.at_least:.1f} to {figure.at_most:.1f}"


def _points(figure: Figure) -> str:
    if figure.at_most is None:
        return f"at least {figure.at_least:.1f} points"
    return f"{_span(figure)} points"


def _games(games: dict[str, int]) -> str:
    words = {
        "practice": "of practice",
        "engine": "of engines",
        "correspondence": "by correspondence",
        "analysis": "of analysis",
    }
    told = [f"{_number(number, 'game')} {words.get(kind, kind)}" for kind, number in sorted(games.items())]
    return ", ".join(told) or "no games"


def _listed(words: Sequence[str], link: str = "and") -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} {link} {words[-1]}"


def _other(side: str) -> str:
    return "Black" if side == "white" else "White"


def _number(number: int, word: str) -> str:
    return f"{number:,} {word}{'' if number == 1 else 's'}"
