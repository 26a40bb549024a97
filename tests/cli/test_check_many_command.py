"""`mediacheck check` of many cards as a person calls it: exit codes, what is printed, what is refused."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import psutil
import pytest
from PIL import Image

from mediacheck.cli.app import run
from mediacheck.cli.cards_progress import cards_watching
from mediacheck.cli.check_many import expanded
from tests.cli.test_progress import Clock, drawn, terminal

Capture = pytest.CaptureFixture[str]


@pytest.fixture
def cards(tmp_path: Path) -> list[str]:
    """Two good cards of the same name, and a bad one, all with stills."""
    found = []
    for store, name in (("0117", "aisle"), ("0118", "aisle"), ("0118", "window")):
        folder = tmp_path / f"store-{store}" / name
        folder.mkdir(parents=True)
        for number, colour in enumerate(("green", "brown"), 1):
            place = folder / f"{number} pots.jpg"
            Image.new("RGB", (1024, 600), colour).save(place, progressive=name == "window")
        found.append(str(folder))
    return found


@pytest.fixture
def out(tmp_path: Path) -> str:
    return str(tmp_path / "reports")


def test_good_cards_give_code_0_and_a_line_each(
    cards: list[str], out: str, profile: str, capsys: Capture
) -> None:
    assert run(["check", *cards[:2], "-p", profile, "--out", out]) == 0
    text, err = capsys.readouterr()
    assert err == ""
    assert text.count("PASS") == 2
    assert "2 cards: 2 pass." in text
    reports = sorted(path.name for path in Path(out).glob("*.report.json"))
    assert reports == ["store-0117-aisle.report.json", "store-0118-aisle.report.json"]


def test_the_report_is_the_one_of_a_run_over_one_card(cards: list[str], out: str, profile: str) -> None:
    alone = Path(out).with_name("alone.json")
    assert run(["check", cards[2], "-p", profile, "--json", str(alone)]) == 1
    assert run(["check", cards[2], "-p", profile, "--out", out]) == 1
    one, other = (json.loads(path.read_text()) for path in (alone, Path(out, "window.report.json")))
    one.pop("checked_at")
    other.pop("checked_at")
    assert one == other


def test_a_broken_card_stops_nothing(cards: list[str], out: str, profile: str, capsys: Capture) -> None:
    broken = Path(out).with_name("broken.img")
    broken.write_bytes(b"no file system" * 100)
    gone = str(Path(out).with_name("gone.img"))
    assert run(["check", str(broken), gone, cards[0], "-p", profile, "--out", out, "--json", "-"]) in (1, 3)
    text, err = capsys.readouterr()
    assert err == ""
    record = json.loads(text)
    assert record == json.loads(Path(out, "summary.json").read_text())
    assert [card["verdict"] for card in record["cards"]][1:] == ["unreadable", "pass"]
    assert record["cards"][1]["problem"] == f"there is nothing at {gone}"


def test_nothing_that_can_be_read_gives_code_2(tmp_path: Path, profile: str, capsys: Capture) -> None:
    line = ["check", "gone-1.img", "gone-2.img", "-p", profile, "--out", str(tmp_path / "reports")]
    assert run(line) == 2
    out, err = capsys.readouterr()
    assert "2 cards: 2 unreadable." in out
    assert err.startswith("mediacheck: None of these cards could be read, so nothing was checked.")
    assert err.count("\n") == 1


def test_an_empty_name_is_refused(cards: list[str], out: str, profile: str, capsys: Capture) -> None:
    assert run(["check", cards[0], " ", "-p", profile, "--out", out]) == 2
    assert capsys.readouterr().err.startswith("mediacheck: No card was given: ")


def test_where_the_terminal_expands_no_patterns_we_do(tmp_path: Path) -> None:
    for name in ("b.img", "a.img", "[c].img", "note.txt"):
        (tmp_path / name).touch()
    pattern, plain = str(tmp_path / "*.img"), str(tmp_path / "[c].img")
    found = [str(tmp_path / name) for name in ("[c].img", "a.img", "b.img")]
    assert list(expanded([pattern], "win32")) == sorted(found)
    for card in (plain, str(tmp_path / "no*.img"), "\\\\?\\E:", "E:\\"):
        assert expanded([card], "win32") == (card,)
    assert expanded([pattern], "linux") == (pattern,)


def test_several_cards_need_a_folder_for_their_reports(
    cards: list[str], profile: str, capsys: Capture
) -> None:
    assert run(["check", *cards, "-p", profile]) == 2
    assert capsys.readouterr().err.startswith(
        "mediacheck: Where the reports of these cards go was not said: give --out FOLDER."
    )


@pytest.mark.parametrize("option", ["--json", "--html", "--sheet", "--manifest"])
def test_what_is_for_one_card_is_refused(
    cards: list[str], out: str, profile: str, capsys: Capture, option: str
) -> None:
    assert run(["check", *cards, "-p", profile, "--out", out, option, "x.png"]) == 2
    assert capsys.readouterr().err.startswith(f"mediacheck: {option} is for one card: ")
    assert not Path(out).exists()


def test_a_display_serves_all_cards(cards: list[str], out: str, profile: str, capsys: Capture) -> None:
    stand = Path(out).with_name("stand.yaml")
    face = {"name": "aisle side", "profile": Path(profile).name}
    stand.write_text(json.dumps({"id": "stand", "title": "Stand", "faces": [face]}))
    assert run(["check", *cards[:2], "--display", str(stand), "--face", "aisle side", "--out", out]) == 0
    record = json.loads(Path(out, "summary.json").read_text())
    assert (record["display"], record["face"]) == ("stand", "aisle side")
    reports = [json.loads(path.read_text()) for path in Path(out).glob("*.report.json")]
    assert {report["face"] for report in reports} == {"aisle side"}


@pytest.fixture
def many_stills(tmp_path: Path) -> list[str]:
    """Cards that take a while."""
    noise = tmp_path / "noise.jpg"
    Image.effect_noise((800, 600), 90).save(noise, quality=95)
    cards = [tmp_path / f"card-{number}" for number in range(4)]
    for card in cards:
        card.mkdir()
        for copy in range(100):
            (card / f"{copy}.jpg").hardlink_to(noise)
    return [str(card) for card in cards]


def started(cards: list[str], out: str, profile: str) -> subprocess.Popen[bytes]:
    """A run of its own."""
    check = [sys.executable, "-m", "mediacheck", "check", *cards, "-p", profile, "--out", out]
    return subprocess.Popen(check, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE)


def whole_files(out: str) -> list[str]:
    """What a run has left, each of which can be read to its end."""
    for report in Path(out).glob("*.json"):
        json.loads(report.read_text("utf-8"))
    for page in Path(out).glob("*.html"):
        assert page.read_text("utf-8").rstrip().endswith("</html>")
    return sorted(path.name for path in Path(out).iterdir() if not path.name.endswith(".partial"))


def wait_until(happened: Callable[[], bool]) -> None:
    deadline = time.monotonic() + 30
    while not happened() and time.monotonic() < deadline:
        time.sleep(0.02)
    assert happened()


@pytest.mark.skipif(os.name == "nt", reason="POSIX signals")
def test_ctrl_c_ends_at_once_with_whole_files_only(many_stills: list[str], out: str, profile: str) -> None:
    process = started(many_stills, out, profile)
    family = psutil.Process(process.pid)
    wait_until(lambda: Path(out).is_dir() and bool(family.children()))
    children = family.children(recursive=True)
    process.send_signal(signal.SIGINT)
    _, err = process.communicate(timeout=10)
    assert err.decode() == "Stopped.\n"
    assert process.returncode in (130, -signal.SIGINT)
    assert psutil.wait_procs(children, timeout=5)[1] == []
    assert whole_files(out) == sorted(path.name for path in Path(out).iterdir())


def test_a_run_that_is_killed_leaves_whole_files_and_the_next_goes_on(
    many_stills: list[str], out: str, profile: str, capsys: Capture
) -> None:
    process = started(many_stills, out, profile)
    wait_until(lambda: Path(out, "cards.json").is_file())
    process.kill()
    process.communicate(timeout=10)
    left = whole_files(out)
    assert "summary.json" not in left
    before = {name: Path(out, name).stat().st_mtime_ns for name in left if ".report." in name}
    assert run(["check", *many_stills, "-p", profile, "--out", out]) == 0
    record = json.loads(Path(out, "summary.json").read_text())
    kept = [card["report"] for card in record["cards"] if card["kept"]]
    assert kept
    for name in kept:
        assert Path(out, name).stat().st_mtime_ns == before[name]
    assert len(whole_files(out)) == 4 * 2 + 3


def test_progress_is_one_line_for_all_cards() -> None:
    console, clock = terminal(80), Clock()
    with cards_watching(console, clock) as watcher:
        watcher.begin(4)
        watcher.listed(0, 1000)
        watcher.listed(1, 1000)
        for place in (0, 1):
            clock.now_s += 2
            watcher.looked_at(place, 500)
        watcher.checked(0)
        watcher.checked(2)
        watcher.waiting()
    lines = [line for line in drawn(console).replace("\r", "\n").split("\n") if " cards " in line]
    assert "2 of 4 cards" in lines[-1]
    assert "2 files" in lines[-1]
    assert len(lines[-1].replace("\x1b[2K", "")) <= 80


def test_without_a_terminal_nothing_is_drawn(capsys: Capture) -> None:
    with cards_watching() as watcher:
        watcher.begin(1)
        watcher.listed(0, 1)
        watcher.looked_at(0, 1)
        watcher.checked(0)
        watcher.waiting()
    assert capsys.readouterr() == ("", "")
