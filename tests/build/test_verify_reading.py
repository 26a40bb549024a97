"""Sums that are worked out while a medium is read once: the same as of each file alone, however it lies."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from pathlib import Path
from unittest import mock

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from mediacheck.build import fan, verify_reading
from mediacheck.build.verify_reading import Sums, sums_of_files, sums_of_medium
from mediacheck.card.model import Entry
from mediacheck.card.within import Run, Within
from mediacheck.watching import NoByteWatcher

BLOCK = 64
MEDIUM = hashlib.shake_256(b"loam and lantern").digest(1000)


@pytest.fixture(scope="module")
def medium(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """An image of 1,000 bytes that all differ from place to place."""
    path = tmp_path_factory.mktemp("medium") / "card.img"
    path.write_bytes(MEDIUM)
    return path


@pytest.fixture(scope="module", autouse=True)
def small_blocks() -> Iterator[None]:
    """So that a small medium has many."""
    with (
        mock.patch.object(fan, "BLOCK_BYTES", BLOCK),
        mock.patch.object(verify_reading, "BLOCK_BYTES", BLOCK),
    ):
        yield


def entry(path: Path, runs: list[tuple[int, int]], size_bytes: int | None = None) -> Entry:
    """A file in these runs; they may hold less or more than it needs."""
    total = sum(length for _, length in runs) if size_bytes is None else size_bytes
    return Entry("a.mp4", total, 0, Within(str(path), tuple(Run(*run) for run in runs), total))


def content(runs: list[tuple[int, int]]) -> bytes:
    """The bytes in these runs."""
    return b"".join(MEDIUM[start : start + length] for start, length in runs)


def digest(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()


run = st.tuples(st.integers(0, 900), st.integers(1, 100))
runs_of_files = st.lists(st.lists(run, max_size=4), max_size=5)


@settings(max_examples=150, deadline=None)
@given(runs_of_files, st.none() | st.integers(0, 1000))
def test_any_files_on_a_medium_get_the_sum_of_their_bytes(
    medium: Path, files: list[list[tuple[int, int]]], whole: int | None
) -> None:
    """In one piece or many, forwards or backwards, apart or one over the other."""
    entries = [entry(medium, runs) for runs in files]
    found = sums_of_medium(str(medium), entries, whole, True, NoByteWatcher())
    assert found.files == {place: digest(content(runs)) for place, runs in enumerate(files)}
    assert found.reasons == {}
    assert found.whole == (None if whole is None else digest(MEDIUM[:whole]))
    assert (found.whole_reason, found.past_cache) == (None, True)


@settings(max_examples=50, deadline=None)
@given(st.lists(run, min_size=1, max_size=4), st.integers(0, 40))
def test_what_a_file_does_not_need_of_its_runs_is_left_out(
    medium: Path, runs: list[tuple[int, int]], spare: int
) -> None:
    size = max(0, len(content(runs)) - spare)
    found = sums_of_medium(str(medium), [entry(medium, runs, size)], None, True, NoByteWatcher())
    assert found.files == {0: digest(content(runs)[:size])}


def test_a_file_that_breaks_off_has_no_sum(medium: Path) -> None:
    entries = [entry(medium, [(0, 100)], 150), entry(medium, [(0, 100)])]
    found = sums_of_medium(str(medium), entries, None, False, NoByteWatcher())
    assert found == Sums(
        {1: digest(MEDIUM[:100])}, {0: "it ends after 100 of 150 bytes"}, None, None, False, 2 * BLOCK + 100
    )


def test_a_run_beyond_the_end_of_the_medium_costs_its_own_file(medium: Path) -> None:
    entries = [entry(medium, [(990, 20)]), entry(medium, [(0, 10)])]
    found = sums_of_medium(str(medium), entries, None, True, NoByteWatcher())
    assert found.files == {1: digest(MEDIUM[:10])}
    assert found.reasons == {0: "it ends after 10 of 20 bytes"}


def test_only_blocks_that_hold_something_are_read(medium: Path) -> None:
    found = sums_of_medium(str(medium), [entry(medium, [(70, 10), (710, 10)])], None, True, NoByteWatcher())
    assert found.bytes_read == 2 * BLOCK


def test_a_medium_that_is_gone_leaves_every_file_with_its_reason(tmp_path: Path) -> None:
    gone = tmp_path / "gone.img"
    found = sums_of_medium(str(gone), [entry(gone, [(0, 10)])], 100, True, NoByteWatcher())
    why = "No such file or directory"
    assert found == Sums({}, {0: why}, None, why, True, 0)


def test_more_files_that_cannot_be_read_than_there_are_buffers_stop_nothing(tmp_path: Path) -> None:
    (tmp_path / "folder").mkdir()
    good = tmp_path / "good.mp4"
    good.write_bytes(MEDIUM)
    bad = [Entry(f"{number}.mp4", 5, number, tmp_path / "folder") for number in range(20)]
    found = sums_of_files([*bad, Entry("good.mp4", 1000, 20, good)], NoByteWatcher())
    assert found.files == {20: digest(MEDIUM)}
    assert sorted(found.reasons) == list(range(20))


def test_a_file_that_grew_or_shrank_since_it_was_listed_has_no_sum(tmp_path: Path) -> None:
    path = tmp_path / "a.mp4"
    path.write_bytes(MEDIUM)
    entries = [Entry("a.mp4", 999, 0, path), Entry("a.mp4", 1001, 1, path)]
    assert sums_of_files(entries, NoByteWatcher()).reasons == {
        0: "it grew to 1,000 bytes while it was read",
        1: "it ends after 1,000 of 1,001 bytes",
    }
