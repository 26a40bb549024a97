"""A file in runs of a medium reads like the bytes that the runs hold, joined."""

from __future__ import annotations

import io
import pickle
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mediacheck.card.within import Run, Within, joined

CONTENT = bytes(range(251)) * 8  # 2,008 bytes
RUNS = st.lists(st.builds(Run, st.integers(0, 2100), st.integers(0, 400)), max_size=8)
INSIDE = st.lists(st.builds(Run, st.integers(0, 1600), st.integers(0, 400)), max_size=8)


@pytest.fixture(scope="module")
def card(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("within") / "card.img"
    path.write_bytes(CONTENT)
    return path


def held(runs: list[Run]) -> bytes:
    """What the runs hold, joined."""
    return b"".join(CONTENT[run.start_byte : run.end_byte] for run in runs)


@given(runs=INSIDE, size_bytes=st.integers(0, 3300))
def test_the_whole_file_is_its_runs_cut_to_its_size(card: Path, runs: list[Run], size_bytes: int) -> None:
    with Within(str(card), tuple(runs), size_bytes).open() as file:
        assert file.read() == held(runs)[:size_bytes]


@given(
    runs=INSIDE,
    slack=st.integers(0, 600),
    reads=st.lists(st.tuples(st.integers(0, 3500), st.integers(0, 900)), max_size=6),
)
def test_any_stretch_of_it_is_the_same_as_of_its_bytes(
    card: Path, runs: list[Run], slack: int, reads: list[tuple[int, int]]
) -> None:
    data = held(runs)[: max(0, len(held(runs)) - slack)]
    with Within(str(card), tuple(runs), len(data)).open() as file:
        for offset, length in reads:
            assert file.seek(offset) == offset
            assert file.read(length) == data[offset : offset + length]
            assert file.tell() == max(offset, min(offset + length, len(data)))


@given(runs=INSIDE, back=st.integers(0, 50))
def test_places_are_counted_from_the_start_the_end_and_where_one_is(
    card: Path, runs: list[Run], back: int
) -> None:
    data = held(runs)
    with Within(str(card), tuple(runs), len(data)).open() as file:
        assert file.seek(0, io.SEEK_END) == len(data)
        place = max(0, len(data) - back)
        assert file.seek(place - len(data), io.SEEK_CUR) == place
        assert file.read() == data[place:]


@given(runs=RUNS, size_bytes=st.integers(0, 2**70))
def test_runs_past_the_end_of_the_medium_end_the_file_and_nothing_else(
    card: Path, runs: list[Run], size_bytes: int
) -> None:
    wanted = b""
    for run in runs:
        piece = CONTENT[run.start_byte : run.end_byte]
        wanted += piece
        if len(piece) < run.length_bytes:
            break
    with Within(str(card), tuple(runs), size_bytes).open() as file:
        assert file.read() == wanted[:size_bytes]


def test_a_place_before_the_start_is_refused(card: Path) -> None:
    with (
        Within(str(card), (Run(0, 10),), 10).open() as file,
        pytest.raises(OSError, match="before the start"),
    ):
        file.seek(-11, io.SEEK_END)


def test_it_is_for_reading_only(card: Path) -> None:
    with Within(str(card), (Run(0, 10),), 10).open() as file:
        assert (file.readable(), file.seekable(), file.writable()) == (True, True, False)
        with pytest.raises(io.UnsupportedOperation):
            file.write(b"x")


def test_a_medium_that_is_gone_is_an_os_error(tmp_path: Path) -> None:
    with pytest.raises(FileNotFoundError):
        Within(str(tmp_path / "none"), (Run(0, 1),), 1).open()


def test_it_can_be_sent_to_another_process(card: Path) -> None:
    sent = pickle.loads(pickle.dumps(Within(str(card), (Run(5, 10), Run(100, 3)), 12)))
    with sent.open() as file:
        assert file.read() == CONTENT[5:15] + CONTENT[100:102]


@given(RUNS)
def test_joined_runs_hold_the_same_bytes_in_no_more_pieces_than_needed(runs: list[Run]) -> None:
    found = joined(runs)
    assert held(list(found)) == held(runs)
    assert all(run.length_bytes for run in found)
    assert all(one.end_byte != other.start_byte for one, other in pairwise(found))


@given(runs=RUNS, size_bytes=st.integers(0, 900))
def test_the_one_run_of_a_whole_file_is_told(runs: list[Run], size_bytes: int) -> None:
    whole = Within("card.img", tuple(runs), size_bytes).whole
    in_one_piece = len(runs) == 1 and runs[0].length_bytes >= size_bytes
    assert whole == (Run(runs[0].start_byte, size_bytes) if in_one_piece else None)
