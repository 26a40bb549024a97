"""The demo makes what it promises, and leaves nothing half done."""

from __future__ import annotations

import os
import shlex
from pathlib import Path

import pytest

from mediacheck.cli.app import run
from mediacheck.cli.demo import demo_command
from mediacheck.demo import run as demo_run
from mediacheck.demo.cards import AISLE, FACES, WINDOW, DemoFace
from mediacheck.demo.run import check_face, make_display
from mediacheck.errors import OutputError, ProgramError, WrongUse
from mediacheck.survey import NoWatcher
from tests.demo.recipes import short, small_face


def no_bar(done: int, of: int) -> None:
    """Nothing is shown."""


def everything(folder: Path) -> set[str]:
    return {path.relative_to(folder).as_posix() for path in folder.rglob("*")}


def test_both_cards_are_made_and_checked_as_they_were_meant(tmp_path: Path) -> None:
    """Full size and all rules, with clips of one second: the one long test of the demo."""
    out = tmp_path / "my garden"
    faces = tuple(short(face, 1) for face in FACES)
    cards = make_display(out, os.cpu_count() or 2, no_bar, faces)
    assert everything(out) == {
        *(face.folder for face in faces),
        *(f"{face.folder}/{file.path}" for face in faces for file in face.files),
        f"{AISLE.folder}/new",
    }
    aisle, window = (check_face(face, cards[face.name], 2, NoWatcher()) for face in faces)
    assert {(finding.rule, finding.path) for finding in aisle.report.findings} == AISLE.flaws
    assert window.report.findings == ()
    assert (aisle.report.verdict, window.report.verdict) == ("fail", "pass")
    assert all(gap.expected for face in (aisle, window) for gap in face.report.not_checked)
    assert [item.path for item in window.report.items] == [item.path for item in WINDOW.items]
    assert window.report.loop_seconds == len(WINDOW.items)
    for face in (aisle, window):
        assert face.json.read_bytes().startswith(b"{")
        assert face.html.read_text("utf-8").lower().startswith("<!doctype html")
        assert face.sheet.read_bytes().startswith(b"\x89PNG")
        assert (face.report.display, face.report.face) == (demo_run.DISPLAY, face.face.name)


def test_the_command_says_where_things_are_and_what_to_type_next(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Every command that it prints can be typed as it stands: a path with a space in it is quoted."""
    out = tmp_path / "my garden"
    faces = (small_face(), _only(short(AISLE, 1), "03-rain-on-request.mp4"))
    monkeypatch.setattr("mediacheck.demo.cards.FACES", faces)
    monkeypatch.setattr("mediacheck.cli.demo.program_words", lambda: ("mediacheck",))
    demo_command(out)
    said = capsys.readouterr()
    assert said.err == ""
    for name in ("card-small", "small-side.html", "small-side.png", "small-side.json", "card-aisle"):
        assert str(out / name) in said.out
        assert (out / name).exists()
    assert "1 of the 1 files on its card were spoilt on purpose" in said.out
    commands = [shlex.split(line) for line in said.out.splitlines() if line.startswith("    mediacheck ")]
    assert [command[1] for command in commands] == ["check", "check", "rules", "profile"]
    assert [run(command[1:]) for command in commands] == [1, 1, 0, 0]
    capsys.readouterr()


def _only(face: DemoFace, path: str) -> DemoFace:
    items = tuple(item for item in face.items if item.path == path)
    return DemoFace(face.name, face.folder, face.profile, items)


@pytest.mark.parametrize("name", ["holiday.jpg", ".hidden"])
def test_a_folder_that_holds_anything_is_refused_and_left_as_it_is(tmp_path: Path, name: str) -> None:
    (tmp_path / name).write_bytes(b"mine")
    with pytest.raises(WrongUse, match=f"is not empty .it holds {name}., "):
        make_display(tmp_path, 1, no_bar, (small_face(),))
    assert everything(tmp_path) == {name}
    assert (tmp_path / name).read_bytes() == b"mine"


def test_a_file_in_place_of_the_folder_is_refused(tmp_path: Path) -> None:
    place = tmp_path / "demo"
    place.write_bytes(b"mine")
    with pytest.raises(WrongUse, match="is a file"):
        make_display(place, 1, no_bar, (small_face(),))
    assert place.read_bytes() == b"mine"


def test_a_place_that_cannot_be_written_is_told_in_one_sentence(tmp_path: Path) -> None:
    (tmp_path / "file").write_bytes(b"")
    with pytest.raises(OutputError, match="The demo cannot be written to"):
        make_display(tmp_path / "file" / "demo", 1, no_bar, (small_face(),))


@pytest.mark.parametrize("was_there", [True, False])
def test_breaking_off_leaves_the_folder_as_it_was(tmp_path: Path, was_there: bool) -> None:
    out = tmp_path / "demo"
    if was_there:
        out.mkdir()
    seen: list[set[str]] = []

    def break_off(done: int, of: int) -> None:
        if done == 1:
            seen.append({path.name for path in out.iterdir() if not path.name.startswith(".making-")})
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        make_display(out, 2, break_off, (small_face(),))
    assert seen == [set()]
    assert everything(tmp_path) == ({"demo"} if was_there else set())


def test_a_failing_encoder_leaves_the_folder_as_it_was(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(demo_run, "find_encoder", lambda: tmp_path / "no such ffmpeg")
    with pytest.raises(ProgramError, match="no such ffmpeg"):
        make_display(tmp_path / "demo", 1, no_bar, (small_face(),))
    assert everything(tmp_path) == set()


def test_no_clip_is_made_by_more_processes_than_memory_allows(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    jobs: list[int] = []

    def workers(count: int, limit_s: float) -> object:
        jobs.append(count)
        raise ProgramError("far enough")

    monkeypatch.setattr(demo_run, "FileWorkers", workers)
    for wanted in (1, 64):
        with pytest.raises(ProgramError, match="far enough"):
            make_display(tmp_path / "demo", wanted, no_bar, (small_face(),))
    assert jobs == [1, 4]
