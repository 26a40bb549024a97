"""Reads a GPT: both copies of it, which of them can be trusted, and what is wrong with the other.

It must not look into the parts that it names.
"""

from __future__ import annotations

import zlib
from collections.abc import Sequence
from dataclasses import dataclass

from mediacheck.card.damages import Damages
from mediacheck.card.device import SECTOR_BYTES
from mediacheck.card.gpt_layout import GptEntry, GptHeader, header_fits_checksum, parse_entries
from mediacheck.card.medium import Medium, read_or_nothing

LIST = "the list of the card's parts (GPT)"
SPARE = "the spare copy of the list of the card's parts (GPT)"


def has_gpt(medium: Medium) -> bool:
    """Whether a header with the right checksum stands in the second sector."""
    return _Copy.read(medium, _sector_bytes(medium), 1).header_fits


def read_gpt(medium: Medium, told: Damages) -> tuple[int, Sequence[tuple[int, GptEntry]]]:
    """The sector size that the GPT counts in, and the entries in use with their numbers, from 1.

    They come from the first copy that is sound; where none is, from what there is. An entry may claim
    anything.
    """
    unit = _sector_bytes(medium)
    first = _Copy.read(medium, unit, 1)
    spare = _spare(medium, unit, first)
    _tell_faults(first, spare, medium.size_bytes // unit - 1, told)
    chosen = next((copy for copy in (first, spare) if not copy.fault), first if first.entries else spare)
    used = [(number, entry) for number, entry in enumerate(chosen.entries, 1) if entry.used]
    _tell_out_of_place(used, chosen.header, told)
    return unit, used


@dataclass(frozen=True, slots=True)
class _Copy:
    """One of the two copies of a GPT, as found at its place."""

    place: int
    header: GptHeader | None = None
    header_fits: bool = False
    packed: bytes = b""

    @classmethod
    def read(cls, medium: Medium, unit: int, place: int) -> _Copy:
        sector = read_or_nothing(medium, place * unit, unit) if place > 0 else b""
        header = GptHeader.parse(sector)
        if header is None or not header.sensible:
            return cls(place, header)
        fits = header_fits_checksum(sector)
        packed = read_or_nothing(medium, header.entries_sector * unit, header.entries_bytes)
        return cls(place, header, fits, packed)

    @property
    def fault(self) -> str | None:
        """What is wrong with it, to be put behind its name."""
        if self.header is None:
            return "is missing"
        if not self.header.sensible:
            return "claims an impossible size"
        if not self.header_fits:
            return "has a wrong checksum"
        if self.header.own_sector != self.place:
            return "names a wrong place for itself"
        if zlib.crc32(self.packed) != self.header.entries_checksum:
            return "has a wrong checksum of its entries"
        return None

    @property
    def entries(self) -> tuple[GptEntry, ...]:
        """None where the header is not to be understood."""
        return parse_entries(self.packed, self.header.entry_bytes) if self.header and self.packed else ()


def _spare(medium: Medium, unit: int, first: _Copy) -> _Copy:
    """The copy in the last sector, or else where the first one says that it is."""
    last = _Copy.read(medium, unit, medium.size_bytes // unit - 1)
    if last.header is None and first.header and first.header_fits:
        return _Copy.read(medium, unit, first.header.other_sector)
    return last


def _tell_faults(first: _Copy, spare: _Copy, last_sector: int, told: Damages) -> None:
    if first.fault:
        used = "" if spare.fault else ": its spare copy at the end of the card was read"
        told.tell(f"{LIST} {first.fault}{used}")
    if spare.fault:
        told.tell(f"{SPARE}, at the end of the card, {spare.fault}", only_writing=True)
    elif spare.place != last_sector:  # UEFI specification, 5.3.2: in the last sector
        told.tell(f"{SPARE} is not at the end of the card", only_writing=True)
    if not first.fault and not spare.fault and not _agree(first, spare):
        told.tell(f"{LIST} and its spare copy at the end of the card differ", only_writing=True)


def _agree(first: _Copy, spare: _Copy) -> bool:
    one, other = first.header, spare.header
    if one is None or other is None:
        return False
    linked = (one.other_sector, other.other_sector) == (spare.place, first.place)
    return linked and first.packed == spare.packed and one.disk == other.disk


def _sector_bytes(medium: Medium) -> int:
    """The sector size that the GPT counts in: a header stands in the second sector, and one in the last."""
    units = (medium.sector_bytes, *SECTOR_BYTES)
    places = ((unit, place) for unit in units for place in (unit, max(0, medium.size_bytes - unit)))
    found = (unit for unit, place in places if GptHeader.parse(read_or_nothing(medium, place, unit)))
    return next(found, medium.sector_bytes)


def _tell_out_of_place(used: Sequence[tuple[int, GptEntry]], header: GptHeader | None, told: Damages) -> None:
    for number, entry in used:
        if header and (
            entry.first_sector < header.first_usable_sector or entry.last_sector > header.last_usable_sector
        ):
            told.tell(f"part {number} of the card reaches beyond the place that {LIST} has for parts")
