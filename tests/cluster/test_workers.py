"""A cluster in the place of the local workers: the same reports, and what a worker that is killed costs."""

from __future__ import annotations

import json
import os
import socket
import sys
import threading
import time
from collections.abc import Iterator
from concurrent.futures import wait
from dataclasses import replace
from pathlib import Path
from shutil import copy
from typing import Any

import psutil
import pytest
from PIL import Image

from mediacheck import __version__
from mediacheck.check import check
from mediacheck.cli.app import run
from mediacheck.cluster import workers as workers_module
from mediacheck.cluster.reach import Needs
from mediacheck.cluster.workers import cluster_workers
from mediacheck.deliver import json_text
from mediacheck.errors import ClusterError, WorkerDied, WorkerTooSlow
from mediacheck.inspection import inspect
from mediacheck.media.facts import MediaFacts
from mediacheck.repair.batch import limit_s
from mediacheck.repair.model import Wishes
from mediacheck.repair.run import Helpers, Order, fix
from mediacheck.survey import Options
from tests.cluster import local
from tests.identify.made import WATER, frame, jpeg, photo
from tests.many.make import LOADED
from tests.repair.bench import AT_ONCE, hashes, loaded
from tests.repair.films import Film, player

Capture = pytest.CaptureFixture[str]
CLIPS = Path(__file__).parents[2] / "sample_media"
NOTHING = Needs()
OLD = Film("testsrc2=s=320x180:r=25:d=2", video=("-c:v", "mpeg4", "-q:v", "3", "-g", "25"), tone=None)
"""A master in a codec that the player does not take."""


@pytest.fixture(scope="module")
def address() -> Iterator[str]:
    """Of the scheduler of two workers."""
    with local.two_workers() as cluster:
        yield str(cluster.scheduler_address)


@pytest.fixture
def cards(tmp_path: Path) -> list[str]:
    """Two cards with the same clip and a still of their own; one of them has a file that is no clip."""
    found = []
    for name in ("aisle", "window"):
        card = tmp_path / "cards" / name
        card.mkdir(parents=True)
        copy(CLIPS / "seeds-portrait.mp4", card / "1.mp4")
        Image.new("RGB", (1920, 1080), "green").save(card / "2.jpg")
        found.append(str(card))
    (Path(found[1]) / "3.mp4").write_bytes(b"no clip")
    return found


def record(path: Path) -> Any:
    """A report without the moment at which it was made."""
    found = json.loads(path.read_text("utf-8"))
    found.pop("checked_at")
    return found


def test_a_card_gets_the_report_that_it_gets_here(address: str, cards: list[str], tmp_path: Path) -> None:
    codes, found = [], []
    for name, options in (("here", []), ("there", ["--cluster", address])):
        report = tmp_path / f"{name}.json"
        line = ["check", cards[1], "-p", "basic-1080p", "--no-cache", "--json", str(report), *options]
        codes.append(run(line))
        found.append(record(report))
    assert codes == [1, 1]
    assert found[0] == found[1]
    assert found[1]["files"][0]["measurements"]["frames"] > 0


def test_many_cards_get_the_reports_that_they_get_here(
    address: str, cards: list[str], tmp_path: Path, capsys: Capture
) -> None:
    for name, options in (("here", []), ("there", ["--cluster", address])):
        line = ["check", *cards, "-p", "basic-1080p", "--depth", "quick", "--out", str(tmp_path / name)]
        assert run([*line, *options]) == 1
    for path in (tmp_path / "here").glob("*.report.json"):
        assert record(path) == record(tmp_path / "there" / path.name)
    assert len(list((tmp_path / "there").glob("*.report.html"))) == 2
    assert capsys.readouterr().err == ""


def test_what_is_mended_there_is_what_is_mended_here(address: str, tmp_path: Path, profile: str) -> None:
    masters = tmp_path / "masters"
    masters.mkdir()
    for number, colour in enumerate(("green", "brown", "white")):
        Image.new("RGB", (1024, 600), colour).save(masters / f"{number}.jpg", progressive=True)
    for name, options in (("here", []), ("there", ["--cluster", address])):
        line = ["fix", str(masters), "-p", profile, "--no-cache", "--out", str(tmp_path / name)]
        assert run([*line, *options]) == 0
    assert hashes(tmp_path / "here") == hashes(tmp_path / "there")
    assert len(hashes(tmp_path / "there")) == 3


def test_nothing_is_written_into_the_source_to_find_out_whether_it_can_be(
    address: str, tmp_path: Path, profile: str, capsys: Capture
) -> None:
    masters = tmp_path / "masters"
    masters.mkdir()
    os.utime(masters, (0, 0))
    line = ["fix", str(masters), "-p", profile, "--out", str(masters / "ready"), "--cluster", address]
    assert run(line) == 2
    assert "is only read" in capsys.readouterr().err
    assert masters.stat().st_mtime == 0


@pytest.fixture
def profile(tmp_path: Path) -> str:
    """Of a frame that shows stills."""
    path = tmp_path / "frame.yaml"
    path.write_text(
        "id: frame\nplayer: {order: name}\n"
        "stills: {formats: [JPEG], width_max: 1024, height_max: 600, seconds: 5}\nloop: {items_min: 1}\n"
    )
    return str(path)


# What a worker that dies costs


def test_loops_are_known_again_there_as_they_are_here(
    address: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "loops").mkdir()
    monkeypatch.chdir(tmp_path)  # the workers stay where they were started
    for name in ("watering-landscape.mp4", "soil-4-3.mp4"):
        copy(CLIPS / name, tmp_path / "loops" / name)
    for known, there in (("here", ()), ("there", ("--cluster", address))):
        line = ["identify", "--index", "loops", "--library", known]
        assert run([*line, *there]) == 0
    here, there_ = (sorted((tmp_path / known).rglob("*.npz")) for known in ("here", "there"))
    assert [path.name for path in here] == [path.name for path in there_]
    assert [path.read_bytes() for path in here] == [path.read_bytes() for path in there_]
    clip, shown = str(CLIPS / WATER), Path("photo.jpg")
    shown.write_bytes(jpeg(photo(frame(WATER))))
    found = []
    for file, options in ((clip, ()), (str(shown), ("--evidence", str(tmp_path / "why.png")))):
        for name, there in (("here", ()), ("there", ("--cluster", address))):
            line = ["identify", file, "--library", name, *options, *there]
            assert run([*line, "--json", str(tmp_path / "found.json")]) == 0
            record = json.loads((tmp_path / "found.json").read_bytes())
            del record["identified_at"]
            found.append((record, (tmp_path / "why.png").read_bytes() if options else b""))
    assert found[0] == found[1]
    assert found[2] == found[3]


def test_a_worker_that_is_killed_in_the_middle_costs_nothing(tmp_path: Path) -> None:
    for number in range(8):
        (tmp_path / f"{number}.mp4").write_bytes(bytes(number + 1))
    expected = check(tmp_path, LOADED, Options("full", 8), inspector=local.slowly).report
    with local.two_workers() as cluster:
        address = str(cluster.scheduler_address)
        killing = local.Killing(min(local.pids(address)), 2)
        with cluster_workers(address, 60, Needs((tmp_path,))) as pool:
            report = check(
                tmp_path, LOADED, Options("full", 8), killing, local.slowly, executor=lambda _: pool
            ).report
    assert killing.killed
    assert json_text(replace(report, checked_at=expected.checked_at)) == json_text(expected)
    assert all(isinstance(file.facts, MediaFacts) for file in report.files)
    assert len(report.files) == 8


def test_a_worker_that_is_killed_while_it_mends_costs_nothing(tmp_path: Path) -> None:
    masters = tmp_path / "masters"
    masters.mkdir()
    for number in range(4):
        replace(OLD, filters=f"hue=h={number * 40}").make(masters / f"{number}.mp4")
    options = Options("full", 2, use_cache=False)

    def mended(out: str, helpers: Helpers) -> dict[str, str]:
        order = Order(masters, (loaded(player()),), Wishes(prove=False), options, tmp_path / out)
        (found,) = fix(order, helpers)
        assert [result.failed for result in found.results] == [None] * 4
        return hashes(tmp_path / out)

    with local.two_workers() as cluster:
        address = str(cluster.scheduler_address)
        making = local.Killing(min(local.pids(address)), 1)
        with cluster_workers(address, limit_s, Needs((masters,), tmp_path)) as pool:
            there = mended("there", Helpers(making=making, crew=lambda _: pool))
    assert making.killed
    assert there == mended("here", AT_ONCE)


def test_a_file_that_crashes_a_decoder_costs_one_answer_and_no_worker(address: str) -> None:
    before = local.pids(address)
    with cluster_workers(address, 60, NOTHING) as pool:
        crashed, below, refused = (
            pool.submit(local.crash),
            pool.submit(local.parent),
            pool.submit(local.refuse, "pots"),
        )
        assert isinstance(crashed.exception(), WorkerDied)
        assert below.result() in before
        assert isinstance(refused.exception(), KeyError)
    assert local.pids(address) == before


def test_work_that_takes_too_long_is_ended(address: str) -> None:
    with cluster_workers(address, 1.0, NOTHING) as pool:
        assert isinstance(pool.submit(local.sleep, 600).exception(), WorkerTooSlow)


def test_both_workers_are_at_work_at_the_same_time(address: str) -> None:
    with cluster_workers(address, 60, NOTHING) as pool:
        assert pool.threads == 2
        done, _ = wait([pool.submit(local.sleep, 0.7) for _ in range(4)])
        assert len({future.result() for future in done}) == 2


def test_leaving_ends_what_is_at_work(address: str, tmp_path: Path) -> None:
    mark = tmp_path / "mark"
    with cluster_workers(address, 60, NOTHING) as pool:
        future = pool.submit(local.sleep, 600, str(mark))
        deadline = time.monotonic() + 20
        while not (mark.exists() and mark.read_text()) and time.monotonic() < deadline:
            time.sleep(0.05)
        process = psutil.Process(int(mark.read_text()))
    assert isinstance(future.exception(), ClusterError)
    assert psutil.wait_procs([process], timeout=10)[1] == []
    with pytest.raises(ClusterError):
        pool.submit(local.parent)


def test_a_cluster_that_is_lost_ends_the_run(tmp_path: Path) -> None:
    (tmp_path / "1.mp4").write_bytes(b"x")
    with local.two_workers() as cluster:
        address = str(cluster.scheduler_address)
        with cluster_workers(address, 60, NOTHING) as pool:
            future = pool.submit(local.sleep, 600)
            threading.Timer(0.5, cluster.close).start()
            with pytest.raises(ClusterError, match=r"was lost|no worker left"):
                future.result(30)


def test_a_cluster_without_a_worker_ends_the_run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(workers_module, "NO_WORKERS_LIMIT_S", 1.0)
    monkeypatch.setattr(workers_module, "WATCH_S", 0.2)
    with local.two_workers() as cluster, cluster_workers(str(cluster.scheduler_address), 60, NOTHING) as pool:
        future = pool.submit(local.sleep, 600)
        cluster.scale(0)
        with pytest.raises(ClusterError, match="The cluster has no worker left"):
            future.result(60)


# What is not fit for the work


def test_an_address_where_nothing_is_gives_one_sentence_in_time(
    monkeypatch: pytest.MonkeyPatch, capsys: Capture, tmp_path: Path
) -> None:
    monkeypatch.setattr(workers_module, "CONNECT_LIMIT_S", 1.0)
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        address = f"tcp://127.0.0.1:{free.getsockname()[1]}"
    for wrong in (address, "nowhere"):
        start = time.monotonic()
        assert run(["check", str(tmp_path), "-p", "basic-1080p", "--cluster", wrong]) == 2
        assert time.monotonic() - start < 10
        err = capsys.readouterr().err
        assert err.startswith(f"mediacheck: The cluster at {wrong} cannot be reached: ")
        assert err.count("\n") == 1


def test_a_program_that_says_nothing_is_no_scheduler(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(workers_module, "CONNECT_LIMIT_S", 1.0)
    start = time.monotonic()
    with socket.socket() as mute:
        mute.bind(("127.0.0.1", 0))
        mute.listen()
        with (
            pytest.raises(ClusterError, match="no scheduler answers there"),
            cluster_workers(f"tcp://127.0.0.1:{mute.getsockname()[1]}", 60, NOTHING),
        ):
            pass
    assert time.monotonic() - start < 10


def test_a_worker_that_does_not_see_the_card_is_named(
    address: str, cards: list[str], monkeypatch: pytest.MonkeyPatch, capsys: Capture
) -> None:
    monkeypatch.setattr(workers_module, "looks_of", lambda paths: {"/nowhere/aisle": "folder 0"})
    assert run(["check", cards[0], "-p", "basic-1080p", "--cluster", address]) == 2
    err = capsys.readouterr().err
    assert err.startswith("mediacheck: The cluster's worker ")
    assert "cannot read /nowhere/aisle (No such file or directory)" in err


@pytest.mark.parametrize(
    ("answer", "says"),
    [
        (ModuleNotFoundError("No module named 'mediacheck'"), "has no mediacheck "),
        (
            {"version": "0.0.9", "ffmpeg": None, "problem": None},
            "has mediacheck 0.0.9, and this computer has ",
        ),
        (
            {"version": __version__, "ffmpeg": "4.4", "problem": None},
            "has ffmpeg 4.4, and this computer has ",
        ),
        ({"version": __version__, "ffmpeg": None, "problem": "has no ffmpeg of use"}, "has no ffmpeg of use"),
    ],
)
def test_what_a_worker_lacks_is_told(answer: object, says: str) -> None:
    assert (workers_module._problem(answer) or "").startswith(says)


@pytest.mark.parametrize("which", ["scheduler", "worker .*"])
def test_one_of_another_version_is_named(address: str, monkeypatch: pytest.MonkeyPatch, which: str) -> None:
    monkeypatch.setattr(workers_module, "__version__", "0.0.9")
    if which != "scheduler":
        monkeypatch.setattr(workers_module, "_ask_scheduler", lambda client: None)
    with (
        pytest.raises(ClusterError, match=rf"{which} has mediacheck .*, and this computer has 0\.0\.9"),
        cluster_workers(address, 60, NOTHING),
    ):
        pass


def test_a_scheduler_that_could_not_pass_the_work_on_is_told_before_it_begins(
    cards: list[str], capsys: Capture
) -> None:
    """It loads what it sends on; each file would come back as one that cannot be read."""
    with local.bare_scheduler() as bare:
        assert run(["check", cards[0], "-p", "basic-1080p", "--cluster", bare]) == 2
    err = capsys.readouterr().err
    assert err.startswith("mediacheck: The cluster's scheduler has no mediacheck ")
    assert err.endswith("at the same path.\n")


def test_what_the_cluster_cannot_do_says_nothing_of_a_file(
    address: str, cards: list[str], monkeypatch: pytest.MonkeyPatch, capsys: Capture, tmp_path: Path
) -> None:
    monkeypatch.setattr(workers_module, "carry_out", local.confused)
    out = tmp_path / "reports"
    assert run(["check", *cards, "-p", "basic-1080p", "--out", str(out), "--cluster", address]) == 2
    said = "mediacheck: The cluster cannot do this work (ValueError: no such slot). "
    assert capsys.readouterr().err.startswith(said)
    assert list(out.iterdir()) == []


def test_a_worker_that_came_later_and_sees_other_files_ends_the_run(
    address: str, cards: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """As where a path is not shared: another file stands there."""
    clip = Path(cards[0]) / "1.mp4"
    monkeypatch.setattr(workers_module, "seen_by", lambda args: ((clip, b"another"),))
    monkeypatch.setattr(workers_module, "out_of_reach", lambda seen: None)
    with cluster_workers(address, 60, NOTHING) as pool:
        error = pool.submit(inspect, clip, "1.mp4", 5, None).exception()  # type: ignore[arg-type]
    assert isinstance(error, ClusterError)
    assert f"does not see {clip} as it is here" in str(error)
    assert error.advice.endswith("the files at the same path.")


def test_without_its_package_the_option_says_how_to_get_it(
    monkeypatch: pytest.MonkeyPatch, capsys: Capture, tmp_path: Path
) -> None:
    monkeypatch.setitem(sys.modules, "distributed", None)
    assert run(["check", str(tmp_path), "-p", "basic-1080p", "--cluster", "tcp://127.0.0.1:8786"]) == 2
    assert "pip install 'mediacheck[cluster]'" in capsys.readouterr().err


@pytest.mark.parametrize("command", ["check", "fix"])
def test_the_cluster_itself_says_how_many_files_at_once(
    tmp_path: Path, capsys: Capture, command: str
) -> None:
    line = [command, str(tmp_path), "-p", "basic-1080p", "--cluster", "tcp://127.0.0.1:1", "--jobs", "3"]
    assert run(line) == 2
    assert "leave --jobs out" in capsys.readouterr().err
