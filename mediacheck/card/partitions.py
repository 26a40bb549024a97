"""Into which parts a card is divided: MBR, GPT or neither, and what is wrong with that division.

It must not look into the parts further than to tell a boot sector from an MBR.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from mediacheck.card.damages import Damages
from mediacheck.card.device import SECTOR_BYTES
from mediacheck.card.gpt import has_gpt, read_gpt
from mediacheck.card.mbr_layout import EXTENDED, MBR_BYTES, PROTECTIVE, Mbr, MbrEntry
from mediacheck.card.medium import Medium, read_or_nothing
from mediacheck.card.model import Damage
from mediacheck.card.signatures import boot_sector_of, by_backup_at, file_system_at, nearly_fat
from mediacheck.names import PartitionTable

LOGICAL_MAX = 256
"""Our own bound on the chain of logical parts: each of them is a read at another place."""

LOGICAL = "the list of the card's logical parts"


@dataclass(frozen=True, slots=True)
class Part:
    """One partition, as the table claims it: it may reach beyond the medium."""

    number: int
    """As systems count: 1 to 4 in an MBR, from 5 for logical ones, the place in the list for GPT."""
    start_byte: int
    size_bytes: int
    type_name: str
    """What the table says is in it, in plain words. The file system may be another one."""

    @property
    def end_byte(self) -> int:
        """The first byte behind it."""
        return self.start_byte + self.size_bytes


@dataclass(frozen=True, slots=True)
class Partitions:
    """How a medium is divided. A file system over the whole medium has the table "none" and no parts."""

    table: PartitionTable
    parts: tuple[Part, ...]
    damage: tuple[Damage, ...]


def read_partitions(medium: Medium) -> Partitions:
    """Read the partition table of a whole medium. OSError where its first sector cannot be read."""
    told = Damages()
    table, parts = _table_and_parts(medium, told)
    _tell_misplaced(parts, medium.size_bytes, told)
    return Partitions(table, tuple(parts), told.listed)


def _table_and_parts(medium: Medium, told: Damages) -> tuple[PartitionTable, list[Part]]:
    first = medium.read(0, MBR_BYTES)
    if boot_sector_of(first) or nearly_fat(first):
        return "none", []
    mbr = Mbr.parse(first)
    if mbr is None or not mbr.valid:
        return _without_mbr(medium, told)
    if any(entry.type_byte == PROTECTIVE for entry in mbr.entries):
        return "GPT", _gpt_parts(medium, told)
    if not any(entry.used for entry in mbr.entries) and (file_system_at(medium) or by_backup_at(medium)):
        return "none", []  # a start-up program, or a lost boot sector, that ends as an MBR does
    return "MBR", _mbr_parts(medium, mbr, told)


def _without_mbr(medium: Medium, told: Damages) -> tuple[PartitionTable, list[Part]]:
    """A GPT whose MBR was destroyed is still found by its header; anything else is no table."""
    if not has_gpt(medium):
        return "none", []
    told.tell("the MBR that keeps old programs off the list of the card's parts (GPT) is missing")
    return "GPT", _gpt_parts(medium, told)


def _gpt_parts(medium: Medium, told: Damages) -> list[Part]:
    unit, used = read_gpt(medium, told)
    return [
        Part(number, entry.first_sector * unit, entry.sectors * unit, entry.type_name)
        for number, entry in used
        if _has_size(number, entry.sectors, told)
    ]


def _mbr_parts(medium: Medium, mbr: Mbr, told: Damages) -> list[Part]:
    unit = _mbr_sector_bytes(medium, mbr)
    used = [(number, entry) for number, entry in enumerate(mbr.entries, 1) if entry.used]
    parts = [
        _mbr_part(number, entry.first_sector, entry, unit)
        for number, entry in used
        if entry.type_byte not in EXTENDED and _has_size(number, entry.sectors, told)
    ]
    extended = [entry for _, entry in used if entry.type_byte in EXTENDED]
    for number, (start, entry) in enumerate(_logical(medium, extended, unit, told), 5):
        if _has_size(number, entry.sectors, told):
            parts.append(_mbr_part(number, start, entry, unit))
    return parts


def _mbr_sector_bytes(medium: Medium, mbr: Mbr) -> int:
    """What the entries count in: an image does not tell it, but what stands at the right places does."""
    units = (medium.sector_bytes, *SECTOR_BYTES)
    used = [entry for entry in mbr.entries if entry.used]
    found = (unit for unit in units if any(_begins(medium, entry, unit) for entry in used))
    return next(found, medium.sector_bytes)


def _begins(medium: Medium, entry: MbrEntry, unit: int) -> bool:
    """Whether a boot sector, or for logical parts the list of them, stands where the entry leads.

    A boot sector does not do for these: that of a logical part may lie at the place for another unit.
    """
    first = read_or_nothing(medium, entry.first_sector * unit, MBR_BYTES)
    if entry.type_byte not in EXTENDED:
        return boot_sector_of(first) is not None
    return Mbr.parse(first) is not None and boot_sector_of(first) is None


def _mbr_part(number: int, first_sector: int, entry: MbrEntry, unit: int) -> Part:
    return Part(number, first_sector * unit, entry.sectors * unit, entry.type_name)


def _has_size(number: int, sectors: int, told: Damages) -> bool:
    if sectors > 0:
        return True
    told.tell(f"part {number} of the card has no size")
    return False


def _logical(
    medium: Medium, extended: Sequence[MbrEntry], unit: int, told: Damages
) -> Iterator[tuple[int, MbrEntry]]:
    """The logical parts of all extended ones: the first sector of each, and its entry."""
    visited: set[int] = set()
    for outer in extended:
        yield from _chain(medium, outer, unit, visited, told)


def _chain(
    medium: Medium, outer: MbrEntry, unit: int, visited: set[int], told: Damages
) -> Iterator[tuple[int, MbrEntry]]:
    """Each sector names one part, counted from itself, and the next sector, counted from the outer part."""
    place = outer.first_sector
    while place not in visited and len(visited) < LOGICAL_MAX:
        visited.add(place)
        table = Mbr.parse(read_or_nothing(medium, place * unit, MBR_BYTES))
        if table is None:
            told.tell(f"{LOGICAL} breaks off: parts may be missing")
            return
        inner = next(
            (entry for entry in table.entries if entry.used and entry.type_byte not in EXTENDED), None
        )
        link = next((entry for entry in table.entries if entry.type_byte in EXTENDED), None)
        if inner:
            yield place + inner.first_sector, inner
        if link is None:
            return
        if link.first_sector >= outer.sectors:
            told.tell(f"{LOGICAL} leads outside of the part that holds them")
            return
        place = outer.first_sector + link.first_sector
    told.tell(f"{LOGICAL} {'leads back to itself' if place in visited else 'has no end'}")


def _tell_misplaced(parts: Sequence[Part], size_bytes: int, told: Damages) -> None:
    for part in parts:
        if part.start_byte >= size_bytes:
            told.tell(f"part {part.number} of the card lies beyond the end of the card")
        elif part.end_byte > size_bytes:
            told.tell(ends_beyond(part))
    _tell_overlaps(parts, told)


def ends_beyond(part: Part) -> str:
    """How the damage of a part that is larger than the medium is told."""
    return f"part {part.number} of the card ends beyond the end of the card"


def _tell_overlaps(parts: Sequence[Part], told: Damages) -> None:
    """Each part is compared with the one that reaches farthest of those that begin before it."""
    reaching: Part | None = None
    for part in sorted(parts, key=lambda part: (part.start_byte, part.number)):
        if reaching and part.start_byte < reaching.end_byte:
            one, other = sorted((reaching.number, part.number))
            told.tell(
                f"parts {one} and {other} of the card overlap: what is written into one destroys the other"
            )
        if reaching is None or part.end_byte > reaching.end_byte:
            reaching = part
