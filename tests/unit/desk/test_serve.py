"""The desk as a program: it answers, it refuses a port that is taken, Ctrl-C closes it."""

from __future__ import annotations

import json
import os
import signal
import socket
import subprocess
import sys
import time
import urllib.request
from pathlib import Path

import pytest
from invented_desk import Desk


@pytest.mark.parametrize("words", [["desk"], []])
@pytest.mark.skipif(os.name == "nt", reason="signals of this kind are those of POSIX")
def test_it_serves_until_it_is_interrupted(
    desk: Desk, words: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(desk.edition)
    monkeypatch.setenv("BROWSER", "true")  # the standard library asks this program to open a page
    options = ["--no-browser", "--json", "--port", "0"] if words else []
    run = [sys.executable, "-m", "variorum", *words, *options]
    with subprocess.Popen(run, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True) as process:
        try:
            assert process.stdout
            told = ""
            while not told.rstrip().endswith(("}", "/map")):
                line = process.stdout.readline()
                assert line, process.communicate()
                told += line
            if words:
                value = json.loads(told)
                address = value["address"] + value["page"]
            else:
                address = told.split()[-1]
            page = made(address)
            assert "Where the lines lead" in page
            # A page is left while it sends: nothing of that reaches the terminal.
            host, token = address.split("/")[2], page.split('name="token" content="')[1].split('"')[0]
            with socket.create_connection((host.split(":")[0], int(host.split(":")[1]))) as broken:
                head = f"POST /notes/again HTTP/1.1\r\nHost: {host}\r\nx-variorum-token: {token}\r\nContent-Length: 9\r\n\r\n"
                broken.sendall(head.encode() + b"{")
            made(address)
            process.send_signal(signal.SIGINT)
            out, err = process.communicate(timeout=60)
            assert (process.returncode, err) == (0, ""), (out, err)
        finally:
            process.kill()  # else a failure would wait for the desk for ever


def made(address: str) -> str:
    """A page once it is made: until then its place tells how far it is."""
    while True:
        with urllib.request.urlopen(address, timeout=60) as answer:
            if answer.status != 202:
                page: str = answer.read().decode()
                return page
        time.sleep(0.05)


def test_a_port_that_is_taken_is_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    from variorum.cli import main

    monkeypatch.setenv("VARIORUM_HOME", str(tmp_path))
    monkeypatch.chdir(tmp_path)
    with socket.create_server(("127.0.0.1", 0)) as taken:
        assert main(["desk", "--no-browser", "--port", str(taken.getsockname()[1])]) == 2
    assert "--port" in capsys.readouterr().err
