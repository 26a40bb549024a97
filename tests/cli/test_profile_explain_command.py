"""`mediacheck profile explain` as a person calls it."""

from __future__ import annotations

from pathlib import Path

import pytest

from mediacheck.cli.app import run
from mediacheck.explain.html import as_html
from mediacheck.explain.page import page_of
from mediacheck.explain.text import as_text
from mediacheck.profile_files import load_profile

Capture = pytest.CaptureFixture[str]


def test_the_page_is_printed_as_it_is(capsys: Capture) -> None:
    assert run(["profile", "explain", "basic-1080p"]) == 0
    out, err = capsys.readouterr()
    assert (out, err) == (as_text(page_of(load_profile("basic-1080p"))), "")


def test_html_is_written_whole_and_nothing_is_printed(tmp_path: Path, capsys: Capture) -> None:
    target = tmp_path / "page.html"
    target.write_text("old")
    assert run(["profile", "explain", "uhd-2160p", "--html", str(target)]) == 0
    assert capsys.readouterr() == ("", "")
    assert target.read_text("utf-8") == as_html(page_of(load_profile("uhd-2160p")))
    assert list(tmp_path.iterdir()) == [target]


def test_an_unknown_profile_is_one_sentence_and_code_2(capsys: Capture) -> None:
    assert run(["profile", "explain", "basic-1080"]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert "did you mean 'basic-1080p'" in err
    assert len(err.splitlines()) == 1


def test_the_profile_itself_is_never_written_over(tmp_path: Path, capsys: Capture) -> None:
    profile = tmp_path / "mine.yaml"
    profile.write_text("id: mine\n")
    assert run(["profile", "explain", str(profile), "--html", str(profile)]) == 2
    assert "it is the profile itself" in capsys.readouterr().err
    assert profile.read_text() == "id: mine\n"


def test_a_place_that_is_not_there_is_one_sentence_and_code_2(tmp_path: Path, capsys: Capture) -> None:
    assert run(["profile", "explain", "basic-1080p", "--html", str(tmp_path / "no" / "page.html")]) == 2
    assert "cannot be written: its folder does not exist" in capsys.readouterr().err


def test_help_has_an_example(capsys: Capture) -> None:
    assert run(["profile", "explain", "--help"]) == 0
    assert "Example: mediacheck profile explain basic-1080p" in capsys.readouterr().out
