"""`mediacheck compare` as a person calls it: exit codes, what goes where, and that no card is touched."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest
from PIL import Image

from mediacheck.cli.app import run
from tests.cli.test_check_command import FRAME, snapshot
from tests.report.make import one_line

Capture = pytest.CaptureFixture[str]


def picture(path: Path, colour: str, *, progressive: bool = False) -> None:
    Image.new("RGB", (1024, 600), colour).save(path, progressive=progressive)


@pytest.fixture
def good(tmp_path: Path) -> Path:
    """A card with two stills."""
    folder = tmp_path / "good"
    folder.mkdir()
    for number, colour in enumerate(("green", "brown"), 1):
        picture(folder / f"{number}.jpg", colour)
    return folder


@pytest.fixture
def bad(good: Path, tmp_path: Path) -> Path:
    """A copy of it."""
    return Path(shutil.copytree(good, tmp_path / "bad"))


@pytest.fixture
def profile(tmp_path: Path) -> str:
    path = tmp_path / "frame.yaml"
    path.write_text(FRAME)
    return str(path)


def test_a_copy_has_no_difference_and_nothing_is_touched(good: Path, bad: Path, capsys: Capture) -> None:
    before = snapshot(good), snapshot(bad)
    assert run(["compare", str(good), str(bad)]) == 0
    out, err = capsys.readouterr()
    assert one_line(out).startswith(
        "Nothing was found in what was compared that could stop the bad card from playing;"
    )
    assert err == ""
    assert (snapshot(good), snapshot(bad)) == before


def test_what_could_stop_it_gives_code_1_and_names_the_file(good: Path, bad: Path, capsys: Capture) -> None:
    picture(bad / "2.jpg", "brown", progressive=True)
    assert run(["compare", str(good), str(bad), "--depth", "quick"]) == 1
    out = capsys.readouterr().out
    assert one_line(out).startswith(
        '1 difference could stop the bad card from playing; first: "2.jpg": It is stored in progressive steps'
    )
    assert "\x1b" not in out


def test_what_could_only_change_it_gives_code_0(good: Path, bad: Path) -> None:
    (bad / "2.jpg").unlink()
    assert run(["compare", str(good), str(bad)]) == 0


def test_what_could_not_be_compared_gives_code_3(
    good: Path, bad: Path, monkeypatch: pytest.MonkeyPatch, capsys: Capture
) -> None:
    """At quick depth bytes of stills of one size are read after the survey: here, they cannot be."""

    def refused(location: object) -> str:
        raise OSError("worn out")

    monkeypatch.setattr("mediacheck.compare.run.sha256_of", refused)
    for folder in (good, bad):
        (folder / "1.jpg").unlink()
    assert run(["compare", str(good), str(bad), "--depth", "quick"]) == 3
    assert capsys.readouterr().out.startswith("Not sure what stops the bad card;")


def test_json_to_standard_output_is_nothing_but_json(
    good: Path, bad: Path, profile: str, capsys: Capture
) -> None:
    picture(bad / "3.jpg", "red")
    assert run(["compare", str(good), str(bad), "-p", profile, "--json", "-"]) == 0
    record = json.loads(capsys.readouterr().out)
    assert (record["schema"], record["profile"]["id"]) == ("mediacheck/compare/1", "frame")
    assert [each["bad_path"] for each in record["differences"]] == ["3.jpg"]


def test_all_results_are_written_where_they_are_wanted(good: Path, bad: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    out.mkdir()
    options = ["--json", str(out / "c.json"), "--html", str(out / "c.html"), "--jobs", "1", "--no-cache"]
    assert run(["compare", str(good), str(bad), *options]) == 0
    assert json.loads((out / "c.json").read_text("utf-8"))["differences"] == []
    assert (out / "c.html").read_text("utf-8").startswith("<!DOCTYPE html>")


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["{good}", "{good}"], "are the same place"),
        (["{good}", "{good}/../good"], "are the same place"),
        (["{good}", "{tmp}/gone"], "there is nothing at"),
        (["{tmp}/gone", "{bad}"], "there is nothing at"),
        (["{good}"], "Missing argument"),
        (["{good}", ""], "Two cards are needed"),
        (["{good}", "{bad}", "-p", "basic-1080"], "did you mean 'basic-1080p'"),
        (["{good}", "{bad}", "--json", "{bad}/c.json"], "is only read"),
        (["{good}", "{bad}", "--html", "{good}/1.jpg"], "is only read"),
        (["{good}", "{bad}", "--html", "{tmp}/gone/c.html"], "there is no folder"),
        (["{good}", "{bad}", "--depth", "deep"], "'quick', 'full'"),
    ],
)
def test_wrong_use_is_one_sentence_and_code_2(
    arguments: list[str], says: str, good: Path, bad: Path, tmp_path: Path, capsys: Capture
) -> None:
    before = snapshot(tmp_path)
    assert run(["compare", *(each.format(good=good, bad=bad, tmp=tmp_path) for each in arguments)]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert says in err
    assert err.count("\n") == 1
    assert snapshot(tmp_path) == before
