"""How the demo speaks: the program by the name that works, and progress only to a terminal."""

from __future__ import annotations

import shutil
import sys
from pathlib import Path

import pytest

from mediacheck.cli.demo import _counting, program_words


def found_at(place: str | None, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(shutil, "which", lambda name: place)


@pytest.mark.parametrize(
    ("started", "on_path", "words"),
    [
        ("/opt/venv/bin/mediacheck", "/opt/venv/bin/mediacheck", ("mediacheck",)),
        ("/opt/venv/bin/mediacheck", "/opt/venv/bin/mediacheck.EXE", ("mediacheck",)),
        (".venv/bin/mediacheck", None, (str(Path(".venv/bin/mediacheck")),)),
        (".venv/bin/mediacheck", "/usr/bin/mediacheck", (str(Path(".venv/bin/mediacheck")),)),
        ("/opt/lib/mediacheck/__main__.py", "/usr/bin/mediacheck", (sys.executable, "-m", "mediacheck")),
    ],
)
def test_the_program_is_called_as_it_was_started(
    started: str, on_path: str | None, words: tuple[str, ...], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sys, "argv", [started, "demo"])
    found_at(on_path, monkeypatch)
    assert program_words() == words


def test_no_bar_is_drawn_where_standard_error_is_no_terminal(capsys: pytest.CaptureFixture[str]) -> None:
    with _counting("Making clips") as on_clip:
        on_clip(1, 2)
    assert capsys.readouterr() == ("", "")


def test_a_terminal_sees_how_many_clips_are_made(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(sys.stderr, "isatty", lambda: True, raising=False)
    monkeypatch.setenv("TERM", "xterm")
    with _counting("Making clips") as on_clip:
        on_clip(1, 2)
    said = capsys.readouterr()
    assert said.out == ""
    assert "Making clips" in said.err
    assert "1/2" in said.err
