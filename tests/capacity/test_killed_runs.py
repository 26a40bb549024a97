"""What is left of a run that is ended from outside, and what the next one does about it."""

from __future__ import annotations

import multiprocessing
import os
import random
import signal
from pathlib import Path

import pytest

from mediacheck.capacity.examination import examine
from mediacheck.capacity.files import Calls, files_on
from mediacheck.capacity.folder import FOLDER
from mediacheck.capacity.kept import Kept
from mediacheck.capacity.stream import new_stream
from mediacheck.errors import CardError
from mediacheck.watching import NoByteWatcher
from tests.capacity.drives import MIB, drive, everything, with_loops
from tests.capacity.ended_run import CALLS, run_until

pytestmark = pytest.mark.skipif(os.name != "posix", reason="signals as POSIX has them")


NURSERY = multiprocessing.get_context("forkserver") if os.name == "posix" else None
"""Has what the children need in memory, so that each is there at once."""


def end_at(root: Path, moment: int, ending: signal.Signals) -> int | None:
    """The exit code of a run that is ended after so many calls of the system."""
    assert NURSERY is not None
    NURSERY.set_forkserver_preload(["tests.capacity.ended_run"])
    child = NURSERY.Process(target=run_until, args=(root, moment, ending))
    child.start()
    try:
        child.join(60)
        return child.exitcode
    finally:
        child.kill()
        child.join()


def next_run(root: Path) -> tuple[Kept, list[str]]:
    """What a run after it finds, and says."""
    said: list[str] = []
    calls = Calls(sync=lambda _: None, forget=lambda *_: True)
    with files_on(drive(root), said.append, calls) as files:
        return examine(files, new_stream(), NoByteWatcher()).kept, said


def leftovers(root: Path) -> list[Path]:
    return sorted((root / FOLDER).iterdir()) if (root / FOLDER).exists() else []


def test_after_twenty_kills_the_next_run_removes_what_is_left_and_nothing_else(tmp_path: Path) -> None:
    before, found = with_loops(tmp_path), 0
    for moment in sorted(random.Random(5).sample(range(CALLS), 20)):
        assert end_at(tmp_path, moment, signal.SIGKILL) == -signal.SIGKILL
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
    assert found >= 15  # or the moments would say nothing


@pytest.mark.parametrize("ending", [signal.SIGINT, signal.SIGTERM, signal.SIGHUP])
def test_a_run_that_is_asked_to_end_leaves_nothing(tmp_path: Path, ending: signal.Signals) -> None:
    before = with_loops(tmp_path)
    for moment in random.Random(int(ending)).sample(range(2 * CALLS), 4):
        assert end_at(tmp_path, moment, ending) == 0
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
