"""A desk with one invented edition, and a browser before it."""

from __future__ import annotations

from pathlib import Path

from starlette.testclient import TestClient

from variorum.desk.shelf import Shelf
from variorum.desk.work import Works

__all__ = ["GAME", "HOST", "HOSTILE", "Desk"]

HOST = "127.0.0.1:7411"
GAME = (
    '[Event "x"]\n[White "Orlo, Tam"]\n[Black "Vesk, Ina"]\n[Date "2020.02.03"]\n[Result "1-0"]\n\n'
    "1. d4 d5 2. c4 e6 3. Nc3 Nf6 4. Nf3 Be7 1-0\n\n"
)
HOSTILE = '<script>alert(1)</script><img src=x onerror="alert(2)">'


class Desk:
    """A desk with one edition on its shelf, and a browser before it."""

    def __init__(self, client: TestClient, shelf: Shelf, works: Works, edition: Path) -> None:
        self.client, self.shelf, self.works, self.edition = client, shelf, works, edition
        self.name = shelf.add(edition).name

    def page(self, path: str) -> str:
        answer = self.client.get(f"/e/{self.name}/{path}")
        assert answer.status_code == 200, answer.text
        return answer.text

    def part(self, of: str, at: str) -> str:
        """A part of the page of a position, as soon as it is made."""
        for _ in range(600):
            answer = self.client.get(f"/e/{self.name}/part/{of}", params={"at": at})
            if answer.status_code != 202:
                assert answer.status_code == 200, answer.text
                return answer.text
        raise AssertionError(f"the part {of} was not made")

    @property
    def token(self) -> str:
        token: str = self.client.app.state.token  # type: ignore[attr-defined]
        return token

    def post(self, path: str, sent: object) -> tuple[int, dict[str, str]]:
        answer = self.client.post(path, json=sent, headers={"x-variorum-token": self.token})
        return answer.status_code, answer.json()
