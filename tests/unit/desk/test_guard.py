"""Who may speak to the desk. Attacks after OWASP, Cross-Site Request Forgery Prevention Cheat Sheet, and on DNS rebinding."""

from __future__ import annotations

import pytest
from invented_desk import HOST, Desk


@pytest.mark.parametrize("host", ["evil.example", "evil.example:7411", "127.0.0.1", "127.0.0.1:7412", ""])
def test_another_host_is_refused(desk: Desk, host: str) -> None:
    answer = desk.client.get("/", headers={"host": host})
    assert answer.status_code == 403
    assert desk.token not in answer.text


@pytest.mark.parametrize(
    "origin", ["http://evil.example", "null", f"https://{HOST}", "http://127.0.0.1:7412"]
)
@pytest.mark.parametrize("method", ["GET", "POST"])
def test_another_origin_is_refused_even_with_the_token(desk: Desk, method: str, origin: str) -> None:
    headers = {"origin": origin, "x-variorum-token": desk.token}
    assert desk.client.request(method, "/shelf/open", json={}, headers=headers).status_code == 403


def test_the_own_origin_may(desk: Desk) -> None:
    headers = {"origin": f"http://{HOST}", "x-variorum-token": desk.token, "sec-fetch-site": "same-origin"}
    sent = {"folder": str(desk.edition)}
    assert desk.client.post("/shelf/open", json=sent, headers=headers).status_code == 200


@pytest.mark.parametrize("token", [None, "", "x", "x" * 43, "Ü" * 43])
def test_writing_needs_the_token(desk: Desk, token: str | None) -> None:
    headers = {} if token is None else {"x-variorum-token": token.encode("utf-8")}
    answer = desk.client.post("/shelf/remove", json={"name": desk.name}, headers=headers)
    assert answer.status_code == 403
    assert [one.name for one in desk.shelf.all()] == [desk.name]


def test_a_form_of_another_site_is_refused(desk: Desk) -> None:
    headers = {"sec-fetch-site": "cross-site", "sec-fetch-mode": "navigate"}
    assert desk.client.post("/shelf/remove", data={"name": desk.name}, headers=headers).status_code == 403


def test_a_script_of_another_site_cannot_read(desk: Desk) -> None:
    headers = {"sec-fetch-site": "cross-site", "sec-fetch-mode": "no-cors"}
    assert desk.client.get("/works", headers=headers).status_code == 403


def test_a_link_from_another_site_may_lead_here(desk: Desk) -> None:
    headers = {"sec-fetch-site": "cross-site", "sec-fetch-mode": "navigate"}
    assert desk.client.get("/", headers=headers).status_code == 200


@pytest.mark.parametrize("path", ["/", "/static/board.js", "/nowhere", "/works"])
def test_every_answer_carries_the_policy(desk: Desk, path: str) -> None:
    headers = desk.client.get(path).headers
    policy = headers["content-security-policy"]
    assert "default-src 'none'" in policy
    assert "unsafe" not in policy
    assert "frame-ancestors 'none'" in policy
    assert headers["x-content-type-options"] == "nosniff"


@pytest.mark.parametrize(
    "path",
    [
        "/static/../app.py",
        "/static/..%2fapp.py",
        "/static/fonts/../../app.py",
        "/static/%2e%2e/%2e%2e/pyproject.toml",
        "/static/fonts/..",
        "/static/README.md",
        "/static//etc/passwd",
        "/e/../map",
        "/e/nobody/map",
        "/e/..%2f..%2fetc/map",
    ],
)
def test_nothing_outside_can_be_asked_for(desk: Desk, path: str) -> None:
    answer = desk.client.get(path)
    assert answer.status_code in (404, 422)
    assert "root:" not in answer.text
    assert "make_app" not in answer.text


@pytest.mark.parametrize("body", [b"", b"{", b"[1]", b'"x"', b"\xff\xfe", b"[" * 100_000])
def test_what_is_no_json_object_is_refused(desk: Desk, body: bytes) -> None:
    headers = {"x-variorum-token": desk.token, "content-type": "application/json"}
    answer = desk.client.post("/shelf/open", content=body, headers=headers)
    assert answer.status_code == 400
    assert answer.json()["fault"]


def test_a_defect_is_told_in_words(desk: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    def fail(*_: object) -> None:
        raise ZeroDivisionError("nobody thought of it")

    monkeypatch.setattr("variorum.desk.pages.plans.plans_from", fail)
    answer = desk.client.get(f"/e/{desk.name}/plans", params={"at": "qgd"})
    assert answer.status_code == 500
    assert "Defect: ZeroDivisionError: nobody thought of it." in answer.text
    assert "Traceback" not in answer.text


LONG = "9" * 5000


@pytest.mark.parametrize(
    "path",
    [
        f"manuscript?game={LONG}",
        f"manuscript?place={LONG}:1",
        f"manuscript?place=1:{LONG}",
        f"words?node={LONG}",
        f"map?places={LONG}&find={'(' * 3000}",
        f"position?at={'x' * 20_000}",
        "position?at=%00",
        "position?at=%ED%A0%80",
        f"contrast?at={'(' * 3000}&with=%00",
        f"drift/found?since={LONG}",
        f"playouts/game/{LONG[:30]}",
        f"ask/{LONG[:30]}",
        f"out/{'x' * 300}.html",
        "out/C:x.html",
        "out/%5C%5Chost%5Cx.html",
        "claims?q=%00&standing=x",
    ],
)
def test_no_address_is_a_defect(desk: Desk, path: str) -> None:
    # The rows of the words page count for the text that they were made from.
    begun = desk.page("words?at=qgd").split('data-hash="')[1].split('"')[0]
    answer = desk.client.get(f"/e/{desk.name}/{path}{f'&hash={begun}' if path.startswith('words') else ''}")
    assert answer.status_code in (200, 404, 422)


@pytest.mark.parametrize(
    "folder",
    [
        "/tmp/a\0b",
        "~nobody-of-this-name/x",
        "relative",
        "",
        "C:x",
        f"/{'x' * 300}",
        "/dev/null",
        "/dev/null/x",
    ],
)
def test_no_folder_is_a_defect(desk: Desk, folder: str) -> None:
    for path, sent in (
        ("/shelf/open", {"folder": folder}),
        ("/shelf/new", {"folder": folder, "title": "t", "root": "1.e4"}),
    ):
        status, told = desk.post(path, sent)
        assert status == 422, told
        assert told["fault"]
    assert [one.name for one in desk.shelf.all()] == [desk.name]
