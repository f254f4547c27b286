"""What was published is opened as a stranger to the desk, and nothing else of the disk is."""

from __future__ import annotations

import os
import sys
import time
from pathlib import Path

import html5lib
import pytest
from invented_desk import Desk


@pytest.fixture
def published(desk: Desk) -> Desk:
    out = desk.edition / "out"
    out.mkdir(exist_ok=True)
    (out / "digest.html").write_text("<!doctype html><title>x</title><script>fetch('/')</script>")
    (out / "digest.pdf").write_bytes(b"%PDF-1.7\n")
    (out / "manuscript.pgn").write_text("*\n")
    (out / "publication.json").write_text("{}")
    return desk


def test_results_are_listed_with_their_links(published: Desk) -> None:
    for text in (published.page("digest"), published.page("digest/results")):
        assert f'href="/e/{published.name}/out/digest.html"' in text
        assert "manuscript.pgn" in text
        assert "publication.json" not in text


def test_a_page_is_a_stranger_to_the_desk(published: Desk) -> None:
    answer = published.client.get(f"/e/{published.name}/out/digest.html")
    policy = answer.headers["content-security-policy"]
    assert policy.startswith("sandbox ")
    assert "allow-same-origin" not in policy
    assert "connect-src 'none'" in policy
    assert answer.headers["x-content-type-options"] == "nosniff"
    assert (
        published.client.get(f"/e/{published.name}/out/digest.pdf").headers["content-type"]
        == "application/pdf"
    )
    kept = published.client.get(f"/e/{published.name}/out/manuscript.pgn")
    assert kept.headers["content-disposition"].startswith("attachment")


@pytest.mark.parametrize(
    "path",
    [
        "../edition.toml",
        "..%2Fedition.toml",
        "%2e%2e%2fmanuscript.pgn",
        "publication.json",
        "nothing.html",
        ".html",
        "..",
        "%00.html",
        "link.pgn",
    ],
)
def test_nothing_else_is_served(published: Desk, tmp_path: Path, path: str) -> None:
    secret = tmp_path / "secret.pgn"
    secret.write_text("secret")
    (published.edition / "out" / "link.pgn").symlink_to(secret)
    answer = published.client.get(f"/e/{published.name}/out/{path}")
    assert answer.status_code == 404
    assert "secret" not in answer.text


@pytest.mark.skipif(sys.platform == "win32", reason="links need rights there")
def test_a_folder_that_is_a_link_is_not_looked_into(desk: Desk, tmp_path: Path) -> None:
    outside = tmp_path / "outside"
    outside.mkdir()
    (outside / "letter.pdf").write_bytes(b"%PDF-1.7 secret")
    (desk.edition / "out").symlink_to(outside, target_is_directory=True)
    assert "letter.pdf" not in desk.page("digest/results")
    assert desk.client.get(f"/e/{desk.name}/out/letter.pdf").status_code == 404


@pytest.mark.skipif(sys.platform == "win32", reason="such names cannot be there")
def test_any_name_can_be_fetched_and_none_writes_a_header(published: Desk) -> None:
    out = published.edition / "out"
    for name in ('a"; x="b.pgn', "a?b#c.pgn", "é.pgn"):
        (out / name).write_text("*\n")
    (out / "a\r\nx-evil: 1.pgn").write_text("*\n")
    (out / os.fsdecode(b"\xff.pgn")).write_text("*\n")
    page = html5lib.parse(published.page("digest/results"), namespaceHTMLElements=False)
    links = [one.get("href") for one in page.iter("a") if one.get("href").endswith(".pgn")]
    assert len(links) == 4
    for href in links:
        answer = published.client.get(href)
        assert answer.status_code == 200
        assert "x-evil" not in answer.headers
        assert answer.headers["content-disposition"].startswith("attachment; filename*=utf-8''")


def test_publishing_from_the_desk_writes_the_files(desk: Desk) -> None:
    (desk.edition / "digest.md").write_text("# A title\n\nWords.\n")
    status, told = desk.post(f"/e/{desk.name}/begin/publish", {})
    assert status == 200
    number = int(told["number"])
    while desk.works.running():
        time.sleep(0.02)
    work = next(one for one in desk.works.told() if one.number == number)
    assert (work.state.value, work.fault) == ("done", "")
    assert (desk.edition / "out" / "digest.html").is_file()
    assert "digest.pdf" in desk.page("digest/results")
