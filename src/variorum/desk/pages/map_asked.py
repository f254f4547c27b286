"""What the reader asked of the map: how much of it, what is unfolded, what is sought. All of it stands in the address."""

from __future__ import annotations

import re
from typing import Final, Self
from urllib.parse import urlencode

import msgspec
from starlette.datastructures import QueryParams

__all__ = ["MOST_PLACES", "PLACES", "MapAsked"]

PLACES: Final = 8
"""Places that are drawn unless more or fewer are asked for."""
MOST_PLACES: Final = 160
_STRETCH: Final = re.compile(r"[0-9a-f]{16}-[0-9a-f]{16}")
_MOST_OPEN: Final = 40
_ONLY: Final = ("unanswered", "disputed")


class MapAsked(msgspec.Struct, frozen=True, kw_only=True):
    """`places` of the chart, stretches that are unfolded (two keys each), the place it begins at, the voice of its scores."""

    places: int = PLACES
    open: tuple[str, ...] = ()
    under: str = ""
    voice: str = ""
    find: str = ""
    only: str = ""

    @classmethod
    def of(cls, query: QueryParams) -> Self:
        """What an address asks; what makes no sense there is left out."""
        places = query.get("places", "")
        stretches = dict.fromkeys(query.get("open", "").split("."))
        only = query.get("only", "")
        return cls(
            places=max(1, min(MOST_PLACES, int(places)))
            if places.isdecimal() and len(places) < 6
            else PLACES,
            open=tuple(one for one in stretches if _STRETCH.fullmatch(one))[:_MOST_OPEN],
            under=query.get("under", "").strip(),
            voice=query.get("voice", "").strip(),
            find=query.get("find", "").strip(),
            only=only if only in _ONLY else "",
        )

    def address(self, page: str, **changes: object) -> str:
        """The address of a page that asks the same but for some changes."""
        wish = msgspec.structs.replace(self, **changes)
        query = {
            "places": "" if wish.places == PLACES else str(wish.places),
            "under": wish.under,
            "voice": wish.voice,
            "only": wish.only,
            "find": wish.find,
            "open": ".".join(wish.open),
        }
        asked = urlencode({key: value for key, value in query.items() if value})
        return f"{page}?{asked}" if asked else page

    def unfolding(self, page: str, stretch: str) -> str:
        """The address at which one more stretch is unfolded."""
        return self.address(page, open=(*self.open, stretch))

    def folding(self, page: str, stretch: str) -> str:
        """The address at which a stretch is folded again, with what was unfolded after it left as it is."""
        return self.address(page, open=tuple(one for one in self.open if one != stretch))
