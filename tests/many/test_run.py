"""A run over many cards: the same reports as one by one, what is written, and what goes on after a stop."""

from __future__ import annotations

import json
import os
import shutil
import threading
from collections.abc import Callable
from concurrent.futures import Executor, Future, ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from mediacheck import cache
from mediacheck.card.opening import open_card
from mediacheck.check import check
from mediacheck.deliver import json_text
from mediacheck.errors import ClusterError, OutputError, WorkerDied, WrongUse
from mediacheck.many import run as run_module
from mediacheck.many.model import Line
from mediacheck.many.run import Order, check_all, exit_code
from tests.many.make import FAIL, FULL, LOADED, QUICK, Seen, Silent, card, checked, names, record


@pytest.fixture
def cards(tmp_path: Path) -> list[Path]:
    """A good card, a bad one, and what is no card."""
    good = card(tmp_path / "store-0117" / "aisle", b"watering", b"seeds")
    bad = card(tmp_path / "store-0118" / "aisle", b"watering", FAIL)
    return [good, bad, tmp_path / "store-0119"]


@pytest.fixture
def out(tmp_path: Path) -> Path:
    return tmp_path / "reports"


def test_every_card_gets_the_report_that_it_gets_alone(cards: list[Path], out: Path) -> None:
    checked(cards, out)
    for path in cards[:2]:
        name = f"{path.parent.name}-aisle"
        alone = check(path, LOADED, QUICK, inspector=Seen(), executor=ThreadPoolExecutor).report
        expected = json.loads(json_text(alone))
        expected.pop("checked_at")
        assert record(out / f"{name}.report.json") == expected
        assert (out / f"{name}.report.html").read_text("utf-8").startswith("<!DOCTYPE html>")


def test_what_is_written_is_reports_and_summaries_and_nothing_else(cards: list[Path], out: Path) -> None:
    summary = checked(cards, out)
    assert names(out) == [
        "cards.json",
        "store-0117-aisle.report.html",
        "store-0117-aisle.report.json",
        "store-0118-aisle.report.html",
        "store-0118-aisle.report.json",
        "summary.csv",
        "summary.json",
    ]
    assert [line.source for line in summary.lines] == [str(path) for path in cards]
    assert [line.outcome for line in summary.lines] == ["pass", "fail", "unreadable"]
    assert summary.lines[2].problem == f"there is nothing at {cards[2]}"
    assert summary.lines[1].worst is not None
    assert (summary.lines[1].worst.rule, summary.lines[1].worst.path) == ("video-codec", "2.mp4")


def test_the_watcher_hears_of_each_card_and_file(cards: list[Path], out: Path) -> None:
    order, watcher = Order(tuple(cards), LOADED, None, QUICK, out), Silent()
    with ThreadPoolExecutor(2) as pool:
        check_all(order, pool, watcher, 2, Seen())
    assert (watcher.cards, watcher.files, watcher.through) == (3, 4, 3)


def test_a_card_that_is_named_twice_is_checked_once(cards: list[Path], out: Path) -> None:
    seen = Seen()
    summary = checked([cards[0], cards[0] / ".." / "aisle", cards[0]], out, seen)
    assert len(summary.lines) == 1
    assert len(seen.files) == 2


@pytest.mark.parametrize("error", [ValueError("no such slot"), RecursionError()])
def test_a_mistake_of_ours_costs_one_card(
    cards: list[Path], out: Path, monkeypatch: pytest.MonkeyPatch, error: Exception
) -> None:
    real = open_card

    def stumbling(path: Path) -> Any:
        if path == cards[1]:
            raise error
        return real(path)

    monkeypatch.setattr(run_module, "open_card", stumbling)
    summary = checked(cards, out)
    assert [line.outcome for line in summary.lines] == ["pass", "unreadable", "unreadable"]
    assert type(error).__name__ in (summary.lines[1].problem or "")


# What goes on where it was


def again(cards: list[Path], out: Path, **changes: Any) -> tuple[list[str], list[bool]]:
    """Which files a second run looks at, and which cards it leaves as they are."""
    seen = Seen()
    summary = checked(cards, out, seen, **changes)
    return sorted(seen.files), [line.kept for line in summary.lines]


def test_a_second_run_looks_at_nothing_that_is_as_it_was(cards: list[Path], out: Path) -> None:
    first = checked(cards, out)
    before = {path: path.stat().st_mtime_ns for path in out.glob("*.report.*")}
    assert again(cards, out) == ([], [True, True, False])
    second = checked(cards, out)
    assert [replace(line, kept=False) for line in second.lines] == list(first.lines)
    assert {path: path.stat().st_mtime_ns for path in out.glob("*.report.*")} == before


def touch(path: Path) -> None:
    later = path.stat().st_mtime_ns + 10**9
    os.utime(path, ns=(later, later))


CHANGES: dict[str, Callable[[Path, Path], object]] = {
    "another time": lambda path, out: touch(path / "1.mp4"),
    "another size": lambda path, out: (path / "1.mp4").write_bytes(b"watering can"),
    "one file more": lambda path, out: (path / "3.mp4").write_bytes(b"new"),
    "a name": lambda path, out: (path / "1.mp4").rename(path / "0.mp4"),
    "a folder": lambda path, out: (path / "old").mkdir(),
    "the report": lambda path, out: touched_report(out),
    "the page": lambda path, out: (out / "store-0117-aisle.report.html").unlink(),
    "the notes": lambda path, out: (out / "cards.json").write_text("{}"),
}


def touched_report(out: Path) -> None:
    path = out / "store-0117-aisle.report.json"
    path.write_bytes(path.read_bytes().replace(b'"pass"', b'"fail"'))


@pytest.mark.parametrize("name", CHANGES)
def test_a_card_that_has_changed_is_checked_again(cards: list[Path], out: Path, name: str) -> None:
    checked(cards, out)
    CHANGES[name](cards[0], out)
    files, kept = again(cards, out)
    assert str(cards[0] / "2.mp4") in files
    assert kept[0] is False
    assert kept[1] is (name != "the notes")


def test_another_profile_depth_or_no_cache_means_another_check(cards: list[Path], out: Path) -> None:
    checked(cards, out)
    other = replace(LOADED, sha256="1" * 64)
    for changes in ({"loaded": other}, {"options": FULL}, {"options": replace(QUICK, use_cache=False)}):
        assert again(cards, out, **changes)[1] == [False] * 3


def test_a_run_that_is_ended_leaves_whole_reports_and_the_next_goes_on(cards: list[Path], out: Path) -> None:
    """The disk is full, the power fails, somebody presses Ctrl-C: what is there is whole."""

    class Failing(ThreadPoolExecutor):
        given = 0

        def submit(self, fn: Any, /, *args: Any, **kwargs: Any) -> Future[Any]:
            self.given += 1
            if self.given > 2:
                raise ClusterError("The cluster has no worker left")
            return super().submit(fn, *args, **kwargs)

    order = Order(tuple(cards), LOADED, None, QUICK, out)
    with Failing(1) as pool, pytest.raises(ClusterError, match="no worker left"):
        check_all(order, pool, Silent(), 1, Seen())
    assert names(out) == ["cards.json", "store-0117-aisle.report.html", "store-0117-aisle.report.json"]
    files, kept = again(cards, out)
    assert kept == [True, False, False]
    assert files == [str(cards[1] / "1.mp4"), str(cards[1] / "2.mp4")]


def test_what_was_not_checked_to_the_end_is_checked_again(cards: list[Path], out: Path) -> None:
    class Dying(ThreadPoolExecutor):
        def submit(self, fn: Any, /, *args: Any, **kwargs: Any) -> Future[Any]:
            future: Future[Any] = Future()
            future.set_exception(WorkerDied("the worker process crashed"))
            return future

    line = checked([cards[0]], out, pool=Dying(1)).lines[0]
    assert (line.name, line.gaps > 0) == ("aisle", True)
    assert checked([cards[1]], out).lines[0].name == "store-0118-aisle"  # and not over the other's report
    assert again([cards[0]], out)[1] == [False]
    assert again([cards[0]], out)[1] == [True]


@pytest.mark.parametrize("damaged", [False, True])
def test_what_came_damaged_from_the_decoder_is_checked_again(
    tmp_path: Path, out: Path, monkeypatch: pytest.MonkeyPatch, damaged: bool
) -> None:
    """It may have been the reader or the network, once: the cache does not keep it either."""
    monkeypatch.setenv("MEDIACHECK_CACHE", str(tmp_path / "cache"))
    content = bytearray((Path(__file__).parents[2] / "sample_media" / "seeds-portrait.mp4").read_bytes())
    if damaged:
        middle = content.index(b"mdat") + len(content) // 2
        content[middle : middle + 3000] = bytes(byte ^ 0x5A for byte in content[middle : middle + 3000])
    path = card(tmp_path / "aisle", bytes(content))
    found: list[Line] = []
    for _ in range(2):
        with ThreadPoolExecutor(2) as pool:
            summary = check_all(Order((path,), LOADED, None, FULL, out), pool, Silent(), 1)
        found += summary.lines
    rules = {rule for rule, _ in found[1].rules}
    assert [line.gaps for line in found] == [0, 0]
    assert ("picture-damaged" in rules) is damaged
    assert found[1].kept is not damaged


def test_after_a_stop_no_report_says_that_files_could_not_be_read(cards: list[Path], out: Path) -> None:
    """Workers that are ended leave files unread."""

    class Interrupted(Silent):
        def looked_at(self, place: int, size_bytes: int) -> None:
            raise KeyboardInterrupt

    class Ended(Executor):
        def submit(self, fn: Any, /, *args: Any, **kwargs: Any) -> Future[Any]:
            future: Future[Any] = Future()
            if args[1] == "1.mp4":
                future.set_result(fn(*args, **kwargs))
            else:
                waiting.append(future)
            return future

    waiting: list[Future[Any]] = []
    order = Order(tuple(cards[:1]), LOADED, None, QUICK, out)
    with pytest.raises(KeyboardInterrupt):
        check_all(order, Ended(), Interrupted(), 1, Seen())
    for future in waiting:
        future.set_exception(WorkerDied("it was ended"))
    for thread in threading.enumerate():
        if thread.name.startswith("mediacheck-card-"):
            thread.join(10)
    assert names(out) == []


# Decoding once


def test_the_same_loop_on_many_cards_is_decoded_once(
    tmp_path: Path, out: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """With the real inspector and its cache; each decode keeps its numbers, in whichever process."""
    monkeypatch.setenv("MEDIACHECK_CACHE", str(tmp_path / "cache"))
    clip = Path(__file__).parents[2] / "sample_media" / "seeds-portrait.mp4"
    cards = [card(tmp_path / f"card-{number}") for number in range(4)]
    for path in cards:
        shutil.copy(clip, path / "seeds.mp4")
    kept: list[str] = []
    real = cache.Cache.keep

    def keep(self: cache.Cache, key: cache.Key, measurements: Any) -> None:
        kept.append(key.sha256)
        real(self, key, measurements)

    monkeypatch.setattr(cache.Cache, "keep", keep)
    order = Order(tuple(cards), LOADED, None, FULL, out)
    with ThreadPoolExecutor(4) as pool:
        summary = check_all(order, pool, Silent(), 4)
    assert len(kept) == 1
    reports = [record(out / f"card-{number}.report.json") for number in range(4)]
    assert {json.dumps(each["files"]) for each in reports} == {json.dumps(reports[0]["files"])}
    assert reports[0]["files"][0]["measurements"]["frames"] > 0
    assert len(summary.lines) == 4


# What is refused


def test_reports_do_not_go_onto_a_card(cards: list[Path]) -> None:
    for place in (cards[0], cards[0] / "reports"):
        with pytest.raises(WrongUse, match="only read"):
            checked(cards, place)
    assert names(cards[0]) == ["1.mp4", "2.mp4"]


def test_a_folder_that_cannot_be_made_is_told_before_the_work(cards: list[Path], tmp_path: Path) -> None:
    seen = Seen()
    with pytest.raises(OutputError, match="its folder does not exist"):
        checked(cards, tmp_path / "no" / "reports", seen)
    (tmp_path / "reports").write_text("a file")
    with pytest.raises(OutputError, match="it is a file"):
        checked(cards, tmp_path / "reports", seen)
    assert seen.files == []


def test_a_folder_in_the_place_of_a_result_is_told_before_the_work(cards: list[Path], out: Path) -> None:
    (out / "summary.csv").mkdir(parents=True)
    seen = Seen()
    with pytest.raises(OutputError, match="there is a folder of that name"):
        checked(cards, out, seen)
    assert seen.files == []


def test_two_runs_do_not_write_into_one_folder(cards: list[Path], out: Path) -> None:
    """Two cards of the same name, each in its own run: each would write its report over the other's."""

    class Second(Silent):
        def looked_at(self, place: int, size_bytes: int) -> None:
            with pytest.raises(OutputError, match="another run is writing"):
                checked([cards[1]], out)

    with ThreadPoolExecutor(2) as pool:
        check_all(Order((cards[0],), LOADED, None, QUICK, out), pool, Second(), 2, Seen())
    assert record(out / "aisle.report.json")["card"]["source"] == str(cards[0])
    assert checked([cards[1]], out).lines[0].name == "store-0118-aisle"
    assert not [name for name in names(out) if name.endswith(".partial")]


# Exit codes


@pytest.mark.parametrize(
    ("outcomes", "code"),
    [
        (["pass", "warn"], 0),
        (["pass", "fail", "unreadable", "incomplete"], 1),
        (["pass", "incomplete"], 3),
        (["warn", "unreadable"], 3),
        (["unreadable", "unreadable"], 2),
    ],
)
def test_exit_codes(cards: list[Path], out: Path, outcomes: list[Any], code: int) -> None:
    summary = checked(cards[:1], out)
    lines = tuple(replace(summary.lines[0], outcome=outcome) for outcome in outcomes)
    assert exit_code(replace(summary, lines=lines), strict=False) == code


def test_with_strict_a_warning_counts(cards: list[Path], out: Path) -> None:
    summary = checked(cards[:1], out)
    warned = replace(summary, lines=(replace(summary.lines[0], rules=(("loop-length", "warn"),)),))
    assert exit_code(warned, strict=False) == 0
    assert exit_code(warned, strict=True) == 1


def test_the_same_rule_on_several_cards_is_told(tmp_path: Path, out: Path) -> None:
    cards = [card(tmp_path / f"card-{number}", FAIL, FAIL + b"2") for number in range(3)]
    common = checked(cards, out).common
    assert [(one.rule, one.severity, one.cards, one.findings) for one in common] == [
        ("video-codec", "fail", 3, 6)
    ]
