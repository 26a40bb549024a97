"""`mediacheck check` of many cards as a person calls it: exit codes, what is printed, what is refused."""

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
from mediacheck.cli.cards_progress import cards_watching
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


def test_nothing_that_can_be_read_gives_code_2(out: str, profile: str, capsys: Capture) -> None:
    assert run(["check", "gone-1.img", "gone-2.img", "-p", profile, "--out", out]) == 2
    assert "2 cards: 2 unreadable." in capsys.readouterr().out


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


@pytest.mark.skipif(os.name == "nt", reason="POSIX signals")
def test_ctrl_c_ends_at_once_with_whole_files_only(tmp_path: Path, profile: str) -> None:
    out = tmp_path / "reports"
    noise = tmp_path / "noise.jpg"
    Image.effect_noise((1600, 1200), 90).save(noise, quality=95)
    cards = []
    for number in range(4):
        card = tmp_path / f"card-{number}"
        card.mkdir()
        cards.append(str(card))
        for copy in range(200):
            (card / f"{copy}.jpg").hardlink_to(noise)
    check = [sys.executable, "-m", "mediacheck", "check", *cards, "-p", profile, "--out", str(out)]
    process = subprocess.Popen(check, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE)
    family = psutil.Process(process.pid)
    deadline = time.monotonic() + 20
    while not (out.is_dir() and family.children()) and time.monotonic() < deadline:
        time.sleep(0.05)
    children = family.children(recursive=True)
    assert children
    process.send_signal(signal.SIGINT)
    _, err = process.communicate(timeout=10)
    assert err.decode() == "Stopped.\n"
    assert process.returncode in (130, -signal.SIGINT)
    assert psutil.wait_procs(children, timeout=5)[1] == []
    for report in out.glob("*.json"):
        json.loads(report.read_text())
    assert [path.name for path in out.iterdir() if path.name.endswith(".partial")] == []


def test_progress_is_one_line_for_all_cards() -> None:
    console, clock = terminal(80), Clock()
    with cards_watching(console, clock) as watcher:
        watcher.begin(3)
        watcher.listed(2, 1000)
        clock.now_s += 2
        watcher.looked_at(500)
        watcher.checked()
        watcher.waiting()
    lines = [line for line in drawn(console).replace("\r", "\n").split("\n") if " cards " in line]
    assert "1 of 3 cards" in lines[-1]
    assert "1 files" in lines[-1] or "1 file" in lines[-1]


def test_without_a_terminal_nothing_is_drawn(capsys: Capture) -> None:
    with cards_watching() as watcher:
        watcher.begin(1)
        watcher.listed(1, 1)
        watcher.looked_at(1)
        watcher.checked()
        watcher.waiting()
    assert capsys.readouterr() == ("", "")
