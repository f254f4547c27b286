"""What files of games are, changed on the page; files taken out of the edition and put back; tables for files in the settings."""

from __future__ import annotations

import datetime
from typing import Any, Final, Literal

import msgspec
from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from variorum.base import InputError, UsageError
from variorum.desk.moves import address
from variorum.desk.pages.frame import editions_of
from variorum.desk.pages.words import texts_of
from variorum.desk.work import State, Works
from variorum.edition import Edition
from variorum.edition.files import ChangedOutsideError
from variorum.edition.folder import SETTINGS
from variorum.edition.settings import Kind, Pace, SourceRule
from variorum.edition.source_rules import change_rule, say_file, take_out_rule
from variorum.edition.taken_out import put_back, take_out

__all__ = ["KINDS", "RuleForm", "act", "form_of", "said_of"]

KINDS: Final = {
    "practice": "practice",
    "correspondence": "by correspondence",
    "engine": "games of engines",
    "analysis": "analysis",
}
"""What games can be, in the page's words."""


class RuleForm(msgspec.Struct, frozen=True, kw_only=True):
    """What a `[[sources]]` table says, as it is typed; "" for what it does not say."""

    path: str = ""
    kind: str = "practice"
    voice: str = ""
    min_rating: str = ""
    since: str = ""
    until: str = ""
    pace: str = "any"
    score_view: str = "mover"
    score_comment: str = ""


class _Wish(msgspec.Struct, kw_only=True):
    """`change`: the file `file`, or the table `number`, is what `rule` says. `drop`: the table goes. `out`, `back`: the file does.

    `hash` is that of the settings the page was made from.
    """

    act: Literal["change", "drop", "out", "back"]
    page: Literal["games", "settings"] = "games"
    hash: str = ""
    file: str = ""
    number: int | None = None
    rule: RuleForm = RuleForm()


def form_of(rule: SourceRule) -> RuleForm:
    """A table as its form shows it."""
    return RuleForm(
        path=rule.path,
        kind=rule.kind,
        voice=rule.voice,
        min_rating=str(rule.min_rating or ""),
        since=str(rule.since or ""),
        until=str(rule.until or ""),
        pace=rule.pace,
        score_view=rule.score_view,
        score_comment="" if rule.score_comment == SourceRule(path="*").score_comment else rule.score_comment,
    )


def said_of(rule: SourceRule) -> str:
    """What a table says, in words: `games of engines, owl; players rated 2400 or more`."""
    who = f", {rule.voice}" if rule.voice else ""
    limits = [
        f"players rated {rule.min_rating} or more" if rule.min_rating else "",
        rule.pace if rule.pace != "any" else "",
        f"since {rule.since}" if rule.since else "",
        f"until {rule.until}" if rule.until else "",
    ]
    only = ", ".join(filter(None, limits))
    return f"{KINDS[rule.kind]}{who}{f'; {only}' if only else ''}"


def act(request: Request, sent: Any) -> Response:
    """Carry out what a page asks of a file or a table; the author's settings are written by nothing else than this."""
    try:
        wish = msgspec.convert(sent, _Wish)
    except msgspec.ValidationError as error:
        raise UsageError(f"the form is not complete: {error}") from None
    name = request.path_params["name"]
    with texts_of(request).writing:
        edition, _ = editions_of(request).settings(name)
        if wish.act == "out":
            take_out(edition, wish.file)
            _no_more_told_of(request, wish.file)
        elif wish.act == "back":
            put_back(edition, wish.file)
        else:
            _say(edition, wish)
    return JSONResponse({"go": address(name, wish.page)})


def _no_more_told_of(request: Request, file: str) -> None:
    """Work that could not do something for this file alone has nothing more to tell."""
    works: Works = request.app.state.works
    for one in works.told():
        mine = one.edition == request.path_params["name"] and one.state is State.DONE
        if mine and one.shortfalls and all(shortfall.startswith(f"{file}: ") for shortfall in one.shortfalls):
            works.put_away(one.number)


def _say(edition: Edition, wish: _Wish) -> None:
    if edition.settings_hash != wish.hash:
        raise ChangedOutsideError(
            edition.path / SETTINGS, expected_hash=wish.hash, found_hash=edition.settings_hash
        )
    number = wish.number
    if number is None:
        if wish.act == "drop" or not wish.file:
            raise UsageError("it is not said of which files")
        say_file(edition, wish.file, _rule(wish.rule, wish.file))
        return
    if not 0 <= number < len(edition.settings.sources):
        raise UsageError("there is no such table any more", remedy="load the page again")
    if wish.act == "drop":
        take_out_rule(edition, number)
    else:
        change_rule(edition, number, _rule(wish.rule, wish.rule.path))


def _rule(form: RuleForm, path: str) -> SourceRule:
    """A form as a table.

    Raises:
        InputError: A date or a number is none, or they contradict each other.
        UsageError: It says what a table cannot say.
    """
    default = SourceRule(path="*")
    if not path.strip():
        raise InputError("the path is empty", remedy="say which files are meant, as in sources/club/*")
    try:
        return SourceRule(
            path=path.strip(),
            kind=msgspec.convert(form.kind, Kind),
            voice=form.voice.strip(),
            min_rating=_rating(form.min_rating),
            since=_day(form.since),
            until=_day(form.until),
            pace=msgspec.convert(form.pace, Pace),
            score_view=msgspec.convert(form.score_view, Literal["mover", "white"]),
            score_comment=form.score_comment.strip() or default.score_comment,
        )
    except msgspec.ValidationError as error:
        raise UsageError(f"games cannot be so: {error}") from None
    except ValueError as error:
        raise InputError(str(error)) from None


def _rating(text: str) -> int:
    digits = text.strip()
    if digits and not (digits.isdecimal() and len(digits) <= 4):
        raise InputError(f"a rating is a number of up to four digits, not {text!r}")
    return int(digits or 0)


def _day(text: str) -> datetime.date | None:
    if not text.strip():
        return None
    try:
        return datetime.date.fromisoformat(text.strip())
    except ValueError:
        raise InputError(f"{text!r} is no day", remedy="write it as 2015-05-31") from None
