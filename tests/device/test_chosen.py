"""From paths that a person gave to open devices: what is looked at is what is shown, and what is opened."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from mediacheck.card.model import Card, Volume
from mediacheck.device.chosen import Limits, Looked, Machine, look_at, opened
from mediacheck.device.drive import Drive
from mediacheck.errors import CardError
from tests.device.false_devices import FalseDevice, filled_with

MIB = 1 << 20
CARD = Drive("/dev/sdb", "Reader", "usb", 8 * MIB, 512, True, False, number=2064, insertion="1")
SHOWN = "/dev/sdb (Reader, 8.4 MB)"
NEED = Limits(MIB)


class Reader:
    """A reader with a card, to which something happens."""

    def __init__(self) -> None:
        self.drive = CARD
        self.looked: list[str] = []
        self.on_look: Callable[[], None] = lambda: None
        self.device = FalseDevice(filled_with(0, 8 * MIB))
        self.machine = Machine(lambda path: self.drive, self._look, lambda drive: self.device)

    def change(self, **values: object) -> None:
        self.drive = replace(self.drive, **values)  # type: ignore[arg-type]

    def _look(self, path: Path) -> Card:
        self.looked.append(str(path))
        self.on_look()
        return Card(str(path), "device", (), volume=Volume("FAT32", "MBR", "GARDEN-A"))


def test_what_a_link_leads_to_is_looked_at_and_shown() -> None:
    reader = Reader()
    found = look_at(["/dev/disk/by-id/usb-Reader"], NEED, reader.machine)
    assert found == (Looked(CARD, "FAT32 in MBR, label GARDEN-A; no files"),)
    assert reader.looked == ["/dev/sdb"]


def test_what_must_not_be_written_over_is_not_even_read() -> None:
    reader = Reader()
    reader.change(mounts=("/",))
    with pytest.raises(CardError, match="is what this computer works from"):
        look_at(["/dev/sdb"], NEED, reader.machine)
    assert reader.looked == []


def test_a_card_that_is_mounted_while_it_is_looked_at_is_refused() -> None:
    reader = Reader()
    reader.on_look = lambda: reader.change(mounts=("/media/ann/GARDEN",))
    with pytest.raises(CardError) as refused:
        look_at(["/dev/sdb"], NEED, reader.machine)
    assert str(refused.value).startswith(f"{SHOWN} is mounted (/media/ann/GARDEN): ")


def test_a_card_that_shows_itself_only_when_it_is_read_is_described_as_it_is_then() -> None:
    reader = Reader()
    reader.on_look = lambda: reader.change(insertion="2", size_bytes=7 * MIB)
    (looked,) = look_at(["/dev/sdb"], NEED, reader.machine)
    assert looked.drive == replace(CARD, insertion="2", size_bytes=7 * MIB)
    assert opened([looked], NEED, reader.machine) == ((looked.drive, reader.device),)


@pytest.mark.parametrize("change", [{"insertion": "2"}, {"size_bytes": 7 * MIB}, {"model": "Other"}])
def test_another_card_than_was_shown_is_not_opened(change: dict[str, object]) -> None:
    reader = Reader()
    looked = look_at(["/dev/sdb"], NEED, reader.machine)
    reader.change(**change)
    with pytest.raises(CardError) as refused:
        opened(looked, NEED, reader.machine)
    assert str(refused.value) == (
        f"{SHOWN} changed after it was shown: leave the card in, and run the command again."
    )
    assert refused.value.advice == "Nothing was written."
