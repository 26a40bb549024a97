"""A whole device is filled, read back, and left empty."""

from __future__ import annotations

import errno
import os
import signal

import pytest

from mediacheck.capacity.examination import Capacity, examine
from mediacheck.capacity.kept import Kept
from mediacheck.capacity.stream import new_stream
from mediacheck.capacity.whole_device import WholeDevice, surface_of
from mediacheck.errors import CardError
from mediacheck.watching import NoByteWatcher
from tests.capacity.invented_device import Invented
from tests.device.ending import listens as listens
from tests.device.false_media import FALSE, Clock, RepeatsLast, Whole

MIB = 1 << 20


def examined(device: Invented) -> tuple[Capacity, WholeDevice]:
    with surface_of(device, "the card", lambda: not device.broken) as surface:
        return examine(surface, new_stream(), NoByteWatcher(), Clock()), surface


@pytest.mark.parametrize("size", [3 * MIB, 2 * MIB + 4096, 700 * 512])
def test_all_of_it_is_filled_and_its_beginning_is_empty_at_the_end(size: int) -> None:
    medium = Whole(size)
    medium.cells[:] = os.urandom(size)
    device = Invented(medium)
    found, surface = examined(device)
    assert (found.kept, found.claimed_bytes, found.used_bytes) == (Kept(right=size // 512), size, 0)
    assert (found.is_sound, found.from_medium, surface.left_behind) == (True, True, None)
    assert not any(medium.cells[:MIB])
    assert device.calls == ["write", "sync", "forget", "read", "write", "sync", "close"]


@pytest.mark.parametrize("kind", FALSE)
@pytest.mark.parametrize(
    ("claimed", "true"), [(16 * MIB, 8 * MIB), (12 * MIB, 5 * MIB + 512), (9 * MIB, 3 * MIB)]
)
def test_the_true_size_is_found_to_the_byte(kind: type[Whole], claimed: int, true: int) -> None:
    medium = kind(claimed, true)
    found, _ = examined(Invented(medium))
    assert (found.true_bytes, found.is_false, found.first_bad_file) == (true, True, None)
    if kind is not RepeatsLast:
        assert medium.read(0, MIB) == bytes(MIB)


def test_what_came_from_memory_is_said_to() -> None:
    assert not examined(Invented(Whole(MIB), forgets=False))[0].from_medium


@pytest.mark.parametrize("error", [KeyboardInterrupt, RuntimeError])
def test_it_is_left_empty_and_closed_however_it_ends(error: type[BaseException]) -> None:
    device = Invented(Whole(3 * MIB))
    device.medium.cells[:] = b"x" * 3 * MIB

    def reading(offset: int, length: int) -> bytes:
        raise error

    device.medium.read = reading  # type: ignore[method-assign]
    with pytest.raises(error):
        examined(device)
    assert not any(device.medium.cells[:MIB])
    assert device.calls[-1] == "close"


@pytest.mark.skipif(os.name != "posix", reason="signals as POSIX has them")
def test_it_is_left_empty_however_impatient_the_person_is(listens: None) -> None:
    device = Invented(Whole(3 * MIB))
    device.medium.cells[:] = b"x" * 3 * MIB
    real = device.write

    def writes(offset: int, content: bytes) -> None:
        signal.raise_signal(signal.SIGINT)
        real(offset, content)

    device.write = writes  # type: ignore[method-assign]
    with pytest.raises(KeyboardInterrupt):
        examined(device)
    assert not any(device.medium.cells[:MIB])
    assert device.calls == ["write", "sync", "close"]


def test_a_device_that_goes_away_is_an_error_and_is_let_go_of() -> None:
    device = Invented(Whole(3 * MIB))

    def reading(offset: int, length: int) -> bytes:
        device.broken = True
        raise OSError(errno.EIO, "Input/output error")

    device.medium.read = reading  # type: ignore[method-assign]
    with pytest.raises(
        CardError, match=r"^the card went away in the middle: it was taken out, or its reader"
    ):
        examined(device)
    assert device.calls[-1] == "close"


def test_what_could_not_be_emptied_is_told() -> None:
    device = Invented(Whole(MIB))
    with surface_of(device, "the card", lambda: True) as surface:
        device.broken = True
    assert surface.left_behind == "its beginning could not be emptied (Input/output error)"
    assert device.calls == ["close"]
