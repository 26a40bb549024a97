"""`mediacheck check` as a person calls it: exit codes, what goes where, and that nothing is half done."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import psutil
import pytest
from PIL import Image

from mediacheck.cli.app import run

Capture = pytest.CaptureFixture[str]
FRAME = """
id: frame
player: {order: name}
stills: {formats: [JPEG], width_max: 1024, height_max: 600, seconds: 5}
loop: {items_min: 1}
"""


@pytest.fixture
def profile(tmp_path: Path) -> str:
    """A profile of a frame that shows stills, as a file."""
    path = tmp_path / "frame.yaml"
    path.write_text(FRAME)
    return str(path)


@pytest.fixture
def card(tmp_path: Path) -> Path:
    """A card with two good stills."""
    folder = tmp_path / "card"
    folder.mkdir()
    for number, colour in enumerate(("green", "brown"), 1):
        Image.new("RGB", (1024, 600), colour).save(folder / f"{number}.jpg")
    return folder


def snapshot(folder: Path) -> dict[str, tuple[bytes, int]]:
    """Content and time of every file, to show that nothing was touched."""
    return {str(p): (p.read_bytes(), p.stat().st_mtime_ns) for p in folder.rglob("*") if p.is_file()}


def test_a_good_card_passes_and_is_not_touched(card: Path, profile: str, capsys: Capture) -> None:
    before = snapshot(card)
    assert run(["check", str(card), "--profile", profile]) == 0
    out, err = capsys.readouterr()
    assert out.startswith("WILL PLAY")
    assert err == ""
    assert snapshot(card) == before


def test_a_defect_gives_code_1_and_names_the_file(card: Path, profile: str, capsys: Capture) -> None:
    Image.new("RGB", (1024, 600)).save(card / "3.jpg", progressive=True)
    assert run(["check", str(card), "-p", profile]) == 1
    out = capsys.readouterr().out
    assert "3.jpg" in out
    assert "still-progressive" in out


def test_strict_makes_a_warning_count(card: Path, profile: str, capsys: Capture) -> None:
    Image.new("RGB", (1200, 600)).save(card / "3.jpg")
    assert run(["check", str(card), "-p", profile]) == 0
    assert run(["check", str(card), "-p", profile, "--strict"]) == 1


def test_json_to_standard_output_is_nothing_but_json(card: Path, profile: str, capsys: Capture) -> None:
    assert run(["check", str(card), "-p", profile, "--json", "-"]) == 0
    record = json.loads(capsys.readouterr().out)
    assert record["schema"] == "mediacheck/report/1"
    assert record["play_order"] == ["1.jpg", "2.jpg"]
    assert record["loop_seconds"] == 10.0


def test_all_results_are_written_where_they_are_wanted(card: Path, profile: str, tmp_path: Path) -> None:
    out = tmp_path / "out"
    out.mkdir()
    options = ["--json", str(out / "r.json"), "--html", str(out / "r.html"), "--sheet", str(out / "s.png")]
    assert run(["check", str(card), "-p", profile, *options]) == 0
    assert sorted(path.name for path in out.iterdir()) == ["r.html", "r.json", "s.png"]
    assert json.loads((out / "r.json").read_text("utf-8"))["verdict"] == "pass"
    assert (out / "r.html").read_text("utf-8").count("data:image/jpeg") == 2
    with Image.open(out / "s.png") as sheet:
        assert sheet.size == (1240, 1754)


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["{tmp}/gone"], "there is nothing at"),
        (["{tmp}/frame.yaml"], "is a file"),
        (["{card}", "-p", "basic-1080"], "did you mean 'basic-1080p'"),
        (["{card}", "-p", "{tmp}/gone.yaml"], "gone.yaml"),
        (["{card}", "--json", "{tmp}/gone/r.json"], "there is no folder"),
        (["{card}", "--html", "{tmp}"], "is a folder"),
        (["{card}", "--json", "{card}/1.jpg"], "is only read"),
        (["{card}", "--html", "{card}/new.html"], "is only read"),
        (["{card}", "--sheet", "{card}/sheet.png"], "is only read"),
        (["{card}", "--html", "{tmp}/frame.yaml"], "is only read"),
        (["{card}", "--html", "{tmp}/same", "--json", "{tmp}/same"], "the same file"),
        ([""], "No card was given"),
        (["{card}", "--sheet", "{tmp}/s.jpg"], "ends in .png"),
        (["{card}", "--depth", "deep"], "'quick', 'full'"),
        (["{card}", "--jobs", "0"], "--jobs"),
    ],
)
def test_wrong_use_is_one_sentence_and_code_2(
    arguments: list[str],
    says: str,
    card: Path,
    profile: str,
    tmp_path: Path,
    capsys: Capture,
) -> None:
    given = [argument.format(tmp=tmp_path, card=card) for argument in arguments]
    if "-p" not in given:
        given += ["-p", profile]
    before = snapshot(tmp_path)
    assert run(["check", *given]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert err.startswith("mediacheck: ")
    assert err.count("\n") == 1
    assert says in err
    assert "Traceback" not in err
    assert snapshot(tmp_path) == before


def test_a_mistake_of_ours_is_told_and_shown_with_debug(
    card: Path, profile: str, capsys: Capture, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("mediacheck.card.opening.open_card", lambda path: 1 / 0)
    assert run(["check", str(card), "-p", profile]) == 70
    assert "Traceback" not in capsys.readouterr().err
    assert run(["check", str(card), "-p", profile, "--debug"]) == 70
    assert "Traceback" in capsys.readouterr().err


def test_no_command_line_prints_an_error_without_its_sentence(capsys: Capture) -> None:
    assert run(["frobnicate"]) == 2
    assert capsys.readouterr().err.count("\n") == 1


@pytest.mark.skipif(os.name == "nt", reason="POSIX signals")
def test_ctrl_c_ends_at_once_with_no_process_and_no_half_file_left(tmp_path: Path, profile: str) -> None:
    card = tmp_path / "big"
    card.mkdir()
    Image.effect_noise((1600, 1200), 90).save(card / "0.jpg", quality=95)
    for number in range(1, 400):
        (card / f"{number}.jpg").hardlink_to(card / "0.jpg")
    out = tmp_path / "out"
    out.mkdir()
    check = [sys.executable, "-m", "mediacheck", "check", str(card), "-p", profile]
    process = subprocess.Popen(
        [*check, "--json", str(out / "r.json")], stdout=subprocess.DEVNULL, stderr=subprocess.PIPE
    )
    family = psutil.Process(process.pid)
    deadline = time.monotonic() + 20
    while not family.children() and time.monotonic() < deadline:
        time.sleep(0.05)
    children = family.children(recursive=True)
    assert children
    process.send_signal(signal.SIGINT)
    _, err = process.communicate(timeout=10)
    assert err.decode() == "Stopped.\n"
    # Interrupted while it makes a dataclass, Python ends itself by the signal: shells say 130 too.
    assert process.returncode in (130, -signal.SIGINT)
    assert psutil.wait_procs(children, timeout=5)[1] == []
    assert list(out.iterdir()) == []


@pytest.mark.skipif(os.name == "nt", reason="POSIX pipes")
def test_a_reader_that_leaves_changes_no_exit_code(card: Path, profile: str) -> None:
    check = [sys.executable, "-m", "mediacheck", "check", str(card), "-p", profile]
    read_end, write_end = os.pipe()
    os.close(read_end)
    good = subprocess.run(check, stdout=write_end, stderr=subprocess.PIPE, check=False)
    Image.new("RGB", (1024, 600)).save(card / "3.jpg", progressive=True)
    bad = subprocess.run(check, stdout=write_end, stderr=subprocess.PIPE, check=False)
    os.close(write_end)
    assert (good.returncode, good.stderr, bad.returncode, bad.stderr) == (0, b"", 1, b"")


@pytest.mark.skipif(os.name != "posix", reason="`<&-` is the POSIX shell's")
@pytest.mark.parametrize("closed", ["<&-", ">&-", "<&- >&-", "<&- >&- 2>&-", "2>&-"])
def test_where_standard_streams_are_closed_a_good_card_passes(
    card: Path, profile: str, tmp_path: Path, closed: str
) -> None:
    """The pipes of worker processes took the numbers that were free."""
    report = tmp_path / "report.json"
    command = (sys.executable, "-m", "mediacheck", "check", str(card), "-p", profile, "--json", str(report))
    shell = ("sh", "-c", f'exec "$@" {closed}', "sh")
    ended = subprocess.run((*shell, *command), capture_output=True, timeout=60)
    assert (ended.returncode, ended.stderr) == (0, b"")
    assert json.loads(report.read_text())["verdict"] == "pass"
