"""True size, bad cells, speed and sudden ends, on invented media."""

from __future__ import annotations

import errno
import os
from collections.abc import Callable

import pytest

from mediacheck.capacity.examination import Capacity, examine
from mediacheck.capacity.kept import Kept
from mediacheck.capacity.stream import Stream, new_stream
from mediacheck.errors import CardError
from mediacheck.watching import NoByteWatcher
from tests.device.false_media import (
    FALSE,
    Clock,
    Drops,
    DropsToNoise,
    FalseSurface,
    Refuses,
    RepeatsLast,
    Whole,
    Wraps,
)

MIB = 1 << 20
SIZES = ((16 * MIB, 8 * MIB), (24 * MIB, 5 * MIB + 37 * 512), (33 * MIB + 512, 11 * MIB + 3 * 512))
"""Claimed and true."""


class Noting:
    """A watcher that keeps what it is told."""

    def __init__(self) -> None:
        self.told: list[tuple[str, int]] = []
        self.ended = 0

    def begin(self, total_bytes: int, what: str) -> None:
        self.told.append((what, total_bytes))

    def advanced(self, count_bytes: int) -> None:
        what, left = self.told[-1]
        self.told[-1] = (what, left - count_bytes)

    def end(self) -> None:
        self.ended += 1


def examined(surface: FalseSurface, stream: Stream | None = None) -> Capacity:
    return examine(surface, stream or new_stream(), NoByteWatcher(), surface.clock)


@pytest.mark.parametrize(("claimed", "true"), SIZES)
@pytest.mark.parametrize("used", [0, 3 * MIB + 512])
@pytest.mark.parametrize("kind", FALSE)
def test_the_true_size_is_found_to_the_byte(kind: type[Whole], used: int, claimed: int, true: int) -> None:
    found = examined(FalseSurface(kind(claimed, true), used))
    assert (found.true_bytes, found.is_false, found.is_sound) == (true, True, False)
    assert found.claimed_bytes == claimed


@pytest.mark.parametrize(("claimed", "_true"), SIZES)
@pytest.mark.parametrize("used", [0, MIB + 512])
def test_a_medium_that_is_what_it_claims_is_sound(claimed: int, _true: int, used: int) -> None:
    found = examined(FalseSurface(Whole(claimed), used))
    assert found.kept == Kept(right=(claimed - used) // 512)
    assert (found.is_sound, found.is_false, found.true_bytes) == (True, False, claimed)


@pytest.mark.parametrize("turns", [2, 3, 7])
def test_what_wraps_is_told_from_what_is_empty(turns: int) -> None:
    true = 2 * MIB + 512
    found = examined(FalseSurface(Wraps(turns * true, true)))
    assert found.kept == Kept(
        right=true // 512, misplaced=(turns - 1) * true // 512, first_bad_byte=0, nearest_bytes=true
    )


def test_where_content_begins_to_be_lost_is_told() -> None:
    found = examined(FalseSurface(Drops(16 * MIB, 7 * MIB + 512), used_bytes=MIB))
    assert found.kept == Kept(right=6 * 2048 + 1, blank=9 * 2048 - 1, first_bad_byte=6 * MIB + 512)


def test_noise_is_neither_empty_nor_misplaced() -> None:
    found = examined(FalseSurface(DropsToNoise(4 * MIB, 2 * MIB)))
    assert found.kept == Kept(right=4096, other=4096, first_bad_byte=2 * MIB)


def test_a_last_sector_that_takes_everything_holds_what_came_last() -> None:
    found = examined(FalseSurface(RepeatsLast(4 * MIB, 2 * MIB)))
    # the last sector that was written is right, and stands for all those between
    assert found.kept == Kept(right=4096, misplaced=4096, first_bad_byte=2 * MIB - 512, nearest_bytes=512)


def test_content_of_an_earlier_run_is_no_content_of_this_one() -> None:
    medium = Whole(2 * MIB)
    examined(FalseSurface(medium))
    stale = Drops(2 * MIB, MIB)
    stale.beyond = lambda length: bytes(medium.cells[MIB : MIB + length])  # type: ignore[method-assign]
    assert examined(FalseSurface(stale)).kept == Kept(right=2048, other=2048, first_bad_byte=MIB)


STREAM = Stream(bytes(range(16)))


def stuck_in(sector: int, bits: int, start: int = 64) -> dict[int, int]:
    """So many cells of one sector that turn a 0 of the stream into a 1."""
    content = STREAM.block(sector // 2048)[sector % 2048].tobytes()
    places = [place for place in range(start, 512) if ~content[place] & 1][:bits]
    return {sector * 512 + place: 1 for place in places}


def test_bad_cells_are_counted_by_sector_and_leave_the_size_alone() -> None:
    stuck = {**stuck_in(5, 1), **stuck_in(2047, 3), **stuck_in(4000, 200)}
    found = examined(FalseSurface(Whole(4 * MIB, stuck=stuck)), STREAM)
    assert found.kept == Kept(right=8192 - 3, worn=3, first_bad_byte=5 * 512)
    assert (found.is_false, found.is_sound, found.true_bytes) == (False, False, 4 * MIB)


def test_bad_cells_in_what_tells_the_place_are_still_bad_cells() -> None:
    stuck = {9 * 512 + place: 0xFF for place in range(32)}
    found = examined(FalseSurface(Whole(MIB, stuck=stuck)), STREAM)
    assert found.kept == Kept(right=2047, worn=1, first_bad_byte=9 * 512)


@pytest.mark.parametrize("kind", FALSE)
def test_bad_cells_of_a_false_medium_do_not_change_its_size(kind: type[Whole]) -> None:
    stuck = dict.fromkeys((*range(5 * 512 + 64, 5 * 512 + 68), 777 * 512 + 100, 777 * 512 + 200), 0xFF)
    found = examined(FalseSurface(kind(8 * MIB, 3 * MIB, stuck)), STREAM)
    assert (found.true_bytes, found.is_false) == (3 * MIB, True)
    assert (found.kept.right, found.kept.worn) == (3 * 2048 - 2, 2)


def test_a_false_medium_that_lost_some_cells_altogether_is_measured_by_its_turn() -> None:
    stuck = dict.fromkeys(range(5 * 512, 6 * 512), 0xFF)
    found = examined(FalseSurface(Wraps(8 * MIB, 3 * MIB, stuck)), STREAM)
    assert (found.true_bytes, found.kept.right, found.kept.blank) == (3 * MIB, 3 * 2048 - 1, 3)


def test_a_broken_line_to_the_chip_wears_every_sector_and_loses_none() -> None:
    stuck = dict.fromkeys(range(512 * 64), 0x10)
    found = examined(FalseSurface(Whole(32768, stuck=stuck)), STREAM)
    assert found.kept == Kept(worn=64, first_bad_byte=0)
    assert not found.is_sound


class Scratched(Whole):
    """With sectors that cannot be read."""

    def __init__(self, claimed: int, sectors: range) -> None:
        super().__init__(claimed)
        self.sectors = sectors
        self.tried = 0

    def read(self, offset: int, length: int) -> bytes:
        self.tried += 1
        first, beyond = offset // 512, -(-(offset + length) // 512)
        if any(first <= sector < beyond for sector in (self.sectors.start, self.sectors.stop - 1)) or (
            self.sectors.start <= first < self.sectors.stop
        ):
            raise OSError(errno.EIO, "Input/output error")
        return super().read(offset, length)


def test_what_cannot_be_read_costs_no_more_than_its_page() -> None:
    found = examined(FalseSurface(Scratched(3 * MIB, range(2048 + 100, 2048 + 101))))
    page = (2048 + 100) // 8 * 8  # 4,096 bytes
    assert found.kept == Kept(right=3 * 2048 - 8, unreadable=8, first_bad_byte=page * 512)
    assert (found.is_false, found.is_sound) == (False, False)


def test_a_medium_that_cannot_be_read_at_its_end_is_false_and_soon_given_up(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr("mediacheck.capacity.passes.UNREADABLE_BLOCKS_MAX", 4)
    medium = Scratched(16 * MIB, range(4 * 2048, 16 * 2048))
    found = examined(FalseSurface(medium))
    assert found.kept == Kept(right=4 * 2048, unreadable=4 * 2048, unread=8 * 2048, first_bad_byte=4 * MIB)
    assert (found.is_false, found.true_bytes) == (True, 4 * MIB)
    assert medium.tried < 4 + 2 * 1024 + 8


def test_what_a_read_leaves_out_is_unreadable() -> None:
    class Short(Whole):
        def read(self, offset: int, length: int) -> bytes:
            return super().read(offset, length)[: 5 * 512 + 7]

    found = examined(FalseSurface(Short(MIB)))
    assert found.kept == Kept(right=5, unreadable=2043, first_bad_byte=5 * 512)


def failing(what: str, offset: int, number: int) -> Callable[[str, int], None]:
    def fails(now: str, at: int) -> None:
        if now == what and at >= offset:
            raise OSError(number, os.strerror(number))

    return fails


@pytest.mark.parametrize("what", ["write", "sync", "read"])
@pytest.mark.parametrize("number", [errno.ENODEV, errno.ENXIO, errno.EIO])
def test_a_medium_that_goes_away_is_an_error_in_one_sentence(what: str, number: int) -> None:
    surface = FalseSurface(Whole(40 * MIB), fails=failing(what, 33 * MIB if what != "sync" else 0, number))
    surface.there = number != errno.EIO
    with pytest.raises(CardError, match=r"^the invented card went away in the middle"):
        examined(surface)


@pytest.mark.parametrize(("what", "kept"), [("write", 37 * MIB), ("sync", 32 * MIB)])
def test_what_reached_the_medium_before_writing_failed_is_read_back(what: str, kept: int) -> None:
    surface = FalseSurface(Whole(80 * MIB), fails=failing(what, 37 * MIB, errno.EIO))
    found = examined(surface)
    assert (found.written.stopped, found.written.size_bytes) == (os.strerror(errno.EIO), kept)
    assert found.kept == Kept(right=kept // 512)
    assert (found.is_sound, found.is_false, found.true_bytes) == (False, False, kept)


def test_a_medium_that_was_full_earlier_than_it_said_is_read_as_far_as_it_took() -> None:
    surface = FalseSurface(Whole(80 * MIB), fails=failing("sync", 40 * MIB, errno.ENOSPC))
    found = examined(surface)
    assert (found.written.stopped, found.written.size_bytes) == (None, 32 * MIB)
    assert found.kept == Kept(right=32 * 2048)


@pytest.mark.parametrize(
    ("number", "why"), [(errno.EROFS, os.strerror(errno.EROFS)), (errno.ENOSPC, "it is full")]
)
def test_a_medium_that_takes_nothing_is_an_error(number: int, why: str) -> None:
    with pytest.raises(CardError, match=f"^nothing can be written to the invented card: {why}$"):
        examined(FalseSurface(Whole(2 * MIB), fails=failing("write", 0, number)))


def test_the_slowest_stretch_is_found_by_the_clock_alone() -> None:
    slow = range(64 * MIB, 96 * MIB)
    surface = FalseSurface(Whole(160 * MIB), mb_s=lambda offset: 1.0 if offset in slow else 10.0)
    found = examined(surface)
    for pace in (found.written.pace, found.read):
        assert pace.slowest_mb_s == pytest.approx(1.0)
        assert pace.mb_s == pytest.approx(160 / (128 / 10 + 32))
        assert (pace.size_bytes, pace.judged) == (160 * MIB, False)


def test_only_the_medium_costs_time_on_the_clock() -> None:
    surface = FalseSurface(Whole(40 * MIB))

    class Slow(NoByteWatcher):
        def advanced(self, count_bytes: int) -> None:
            surface.clock.now_s += 5.0

    found = examine(surface, STREAM, Slow(), surface.clock)
    assert found.written.pace.seconds == pytest.approx(40 * MIB / 10e6)
    assert found.read.seconds == pytest.approx(40 * MIB / 10e6)


def test_progress_ends_where_the_work_ends() -> None:
    watcher = Noting()
    examine(FalseSurface(Whole(3 * MIB + 512)), new_stream(), watcher, Clock())
    assert (watcher.told, watcher.ended) == ([("writing", 0), ("reading back", 0)], 2)


def test_whether_it_came_from_the_medium_is_handed_on() -> None:
    assert examined(FalseSurface(Whole(MIB))).from_medium
    assert not examined(FalseSurface(Whole(MIB), forgotten=False)).from_medium


def test_a_size_that_rests_on_what_was_not_tested_is_an_upper_bound() -> None:
    beyond = examined(FalseSurface(Drops(16 * MIB, 2 * MIB), used_bytes=4 * MIB))
    assert (beyond.true_bytes, beyond.is_upper_bound) == (4 * MIB, True)
    little = examined(FalseSurface(Drops(16 * MIB, 8 * MIB), used_bytes=64 * 1024))
    assert (little.true_bytes, little.is_upper_bound) == (8 * MIB, False)
    turned = examined(FalseSurface(Wraps(16 * MIB, 2 * MIB), used_bytes=4 * MIB))
    assert (turned.true_bytes, turned.is_upper_bound) == (2 * MIB, False)


@pytest.mark.parametrize(("claimed", "true"), SIZES)
def test_a_medium_that_refuses_beyond_its_end_is_measured_to_the_page(claimed: int, true: int) -> None:
    found = examined(FalseSurface(Refuses(claimed, true)))
    assert (found.is_false, found.true_bytes) == (True, true - true % 4096)
