"""What is left of a run that is ended from outside, and what the next one does about it."""

from __future__ import annotations

import multiprocessing
import os
import random
import signal
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from multiprocessing.process import BaseProcess
from pathlib import Path

import pytest

from mediacheck.build.capacity import examine
from mediacheck.build.capacity_files import Calls, files_on
from mediacheck.build.capacity_folder import FOLDER
from mediacheck.build.kept import Kept
from mediacheck.build.stream import new_stream
from mediacheck.errors import CardError
from mediacheck.watching import NoByteWatcher
from tests.build.capacity_child import fill_for_ever
from tests.build.drives import MIB, drive, everything, with_loops

pytestmark = pytest.mark.skipif(os.name != "posix", reason="signals as POSIX has them")


NURSERY = multiprocessing.get_context("forkserver") if os.name == "posix" else None
"""Has what the children need in memory, so that each is there at once."""


@contextmanager
def running(root: Path) -> Iterator[Callable[[signal.Signals], None]]:
    """A child process that fills this folder again and again, and what ends it."""
    assert NURSERY is not None
    NURSERY.set_forkserver_preload(["tests.build.capacity_child"])
    ready = NURSERY.Event()
    child = NURSERY.Process(target=fill_for_ever, args=(root, ready))
    child.start()
    try:
        assert ready.wait(30)
        yield lambda ending: _end(child, ending)
    finally:
        child.kill()
        child.join()


def _end(child: BaseProcess, ending: signal.Signals) -> None:
    """Again after a while: while it tidies up, it does not listen, and then goes on."""
    assert child.pid is not None
    for _ in range(20):
        os.kill(child.pid, ending)
        child.join(1)
        if child.exitcode is not None:
            return
    raise AssertionError(f"{ending.name} did not end it")


def next_run(root: Path) -> tuple[Kept, list[str]]:
    """What a run after it finds, and says."""
    said: list[str] = []
    with files_on(drive(root), said.append, Calls(forget=lambda *_: True)) as files:
        return examine(files, new_stream(), NoByteWatcher()).kept, said


def leftovers(root: Path) -> list[Path]:
    return sorted((root / FOLDER).iterdir()) if (root / FOLDER).exists() else []


def test_after_twenty_kills_the_next_run_removes_what_is_left_and_nothing_else(tmp_path: Path) -> None:
    chance, found = random.Random(5), 0
    before = with_loops(tmp_path)
    for _ in range(20):
        with running(tmp_path) as end:
            time.sleep(chance.uniform(0, 0.1))
            end(signal.SIGKILL)
        left = leftovers(tmp_path)
        left_bytes = sum(path.stat().st_size for path in left)
        kept, said = next_run(tmp_path)
        assert kept == Kept(right=3 * 2048)
        assert len(said) == bool(left)
        if left:
            found += 1
            assert said[0].startswith(
                f"An earlier test of {tmp_path} was ended before it could tidy up. Of it was "
            )
            assert f"removed now: {len(left)} file{'s' * (len(left) > 1)} (" in said[0]
            assert left_bytes <= 8 * MIB
        assert everything(tmp_path) == before
    assert found >= 5  # or the kills came too early or too late to say anything


@pytest.mark.parametrize("ending", [signal.SIGINT, signal.SIGTERM, signal.SIGHUP])
def test_a_run_that_is_asked_to_end_leaves_nothing(tmp_path: Path, ending: signal.Signals) -> None:
    chance = random.Random(int(ending))
    before = with_loops(tmp_path)
    for _ in range(4):
        with running(tmp_path) as end:
            time.sleep(chance.uniform(0, 0.1))
            end(ending)
        assert everything(tmp_path) == before


def killed(root: Path) -> Path:
    """The folder as a killed run leaves it: with a file, and one that was just begun."""
    folder = root / FOLDER
    folder.mkdir()
    (folder / f"{FOLDER}-000.tmp").write_bytes(new_stream().block(0).tobytes())
    (folder / f"{FOLDER}-001.tmp").write_bytes(b"")
    return folder


def test_what_is_removed_is_said(tmp_path: Path) -> None:
    killed(tmp_path)
    assert next_run(tmp_path)[1] == [
        f"An earlier test of {tmp_path} was ended before it could tidy up. "
        "Of it was removed now: 2 files (1.05 MB)."
    ]


def test_an_empty_folder_of_ours_is_used_without_a_word(tmp_path: Path) -> None:
    (tmp_path / FOLDER).mkdir()
    assert next_run(tmp_path)[1] == []
    assert everything(tmp_path) == {}


def test_content_that_a_bad_card_has_moved_is_still_known(tmp_path: Path) -> None:
    (killed(tmp_path) / f"{FOLDER}-000.tmp").write_bytes(bytes(1024) + new_stream().block(9)[77:80].tobytes())
    assert next_run(tmp_path)[0] == Kept(right=3 * 2048)


@pytest.mark.parametrize(
    ("name", "content"),
    [
        (f"{FOLDER}-002.tmp", b"content of somebody else"),
        (f"{FOLDER}-002.tmp", bytes(4096)),
        (f"{FOLDER}-2.tmp", b""),
        (f"x{FOLDER}-002.tmp", new_stream().block(0).tobytes()),
        ("loop.mp4", b""),
    ],
)
def test_what_is_not_ours_stays_and_stops_the_run(tmp_path: Path, name: str, content: bytes) -> None:
    (killed(tmp_path) / name).write_bytes(content)
    with pytest.raises(CardError) as caught:
        next_run(tmp_path)
    assert str(caught.value) == (
        f"{tmp_path} holds {FOLDER}/{name}, which is not known to be of a test of its capacity"
    )
    assert caught.value.advice == f"Look at it, and move or remove {FOLDER} yourself."
    assert everything(tmp_path) == {FOLDER: None, f"{FOLDER}/{name}": content}


def test_a_folder_in_our_folder_and_a_link_stay(tmp_path: Path) -> None:
    folder = killed(tmp_path)
    target = tmp_path / "precious"
    target.write_bytes(new_stream().block(0).tobytes())
    (folder / f"{FOLDER}-003.tmp").symlink_to(target)
    (folder / f"{FOLDER}-004.tmp").mkdir()
    before = {
        path: content
        for path, content in everything(tmp_path).items()
        if not path.endswith(("0.tmp", "1.tmp"))
    }
    with pytest.raises(CardError, match=f"holds {FOLDER}/{FOLDER}-003.tmp, which is not known"):
        next_run(tmp_path)
    assert everything(tmp_path) == before


@pytest.mark.parametrize("kind", ["file", "link"])
def test_a_thing_with_the_name_of_our_folder_stays(tmp_path: Path, kind: str) -> None:
    place = tmp_path / FOLDER
    if kind == "file":
        place.write_bytes(b"precious")
    else:
        (tmp_path / "elsewhere").mkdir()
        (tmp_path / "elsewhere" / f"{FOLDER}-000.tmp").write_bytes(new_stream().block(0).tobytes())
        place.symlink_to(tmp_path / "elsewhere")
    before = everything(tmp_path)
    with pytest.raises(CardError, match=f"holds {FOLDER}, which is not known to be of a test"):
        next_run(tmp_path)
    assert everything(tmp_path) == before
    assert place.is_symlink() == (kind == "link")
