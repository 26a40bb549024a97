"""Spoils images on purpose, by a number: the same number spoils the same image in the same way.

It must not read a card, and leaves every image as it was.
"""

from __future__ import annotations

import random
import zlib
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path

from mediacheck.card.exfat_layout import boot_checksum, entry_set_checksum
from tests.card.mutation_subjects import Area, Kind, Subject

SLOT_BYTES = 32
SECTOR_BYTES = 512
FAT_BITS: Mapping[Kind, int] = {"fat 12": 12, "fat 16": 16, "fat 32": 32, "exfat fat": 32}
FOLDERS = frozenset[Kind](("fat folder", "exfat folder"))
CHANGES_MAX = 6
SEALED_OF_TEN = 6
"""How often checksums are put right after the changes, so that readers believe what they find."""

RECORDS: Mapping[Kind, tuple[int, int, tuple[tuple[int, int], ...]]] = {
    "mbr": (446, 16, ((0, 1), (4, 1), (8, 4), (12, 4))),
    "gpt header": (
        0,
        512,
        ((0, 8), (12, 4), (16, 4), (24, 8), (32, 8), (40, 8), (48, 8), (72, 8), (80, 4), (84, 4), (88, 4)),
    ),
    "gpt entries": (0, 128, ((0, 16), (32, 8), (40, 8), (56, 8))),
    "fat boot": (
        0,
        512,
        (
            *(
                (0, 3),
                (11, 2),
                (13, 1),
                (14, 2),
                (16, 1),
                (17, 2),
                (19, 2),
                (21, 1),
                (22, 2),
                (32, 4),
                (36, 4),
            ),
            *((37, 1), (38, 1), (40, 2), (42, 2), (44, 4), (48, 2), (50, 2), (65, 1), (66, 1), (510, 2)),
        ),
    ),
    "fat info": (0, 512, ((0, 4), (484, 4), (488, 4), (492, 4), (508, 4))),
    "fat folder": (
        0,
        SLOT_BYTES,
        ((0, 1), (0, 11), (11, 1), (12, 1), (13, 1), (14, 4), (20, 2), (22, 4), (26, 2), (28, 4)),
    ),
    "exfat boot": (
        0,
        512,
        (
            *((3, 8), (11, 8), (72, 8), (80, 4), (84, 4), (88, 4), (92, 4), (96, 4), (104, 2), (106, 2)),
            *((108, 1), (109, 1), (110, 1), (112, 1), (510, 2)),
        ),
    ),
    "exfat folder": (
        0,
        SLOT_BYTES,
        ((0, 1), (1, 1), (2, 2), (3, 1), (4, 2), (8, 4), (8, 8), (20, 4), (24, 8), (2, 30)),
    ),
    "bitmap": (0, 8, ((0, 1), (0, 8))),
    "capitals": (0, 2, ((0, 2),)),
    "content": (0, SECTOR_BYTES, ((0, 32),)),
}
"""Of each structure: where its first record begins, how long one is, and its fields (place, length)."""


class Canvas:
    """An image file that is changed and put back again, over and over."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self._file = path.open("r+b", buffering=0)
        self.size_bytes = path.stat().st_size
        self._written = tuple(_written(path))
        self._before: list[tuple[int, bytes]] = []
        self._is_cut = False

    def read(self, place: int, length: int) -> bytes:
        """Some bytes; fewer, or none, where the image ends."""
        if not 0 <= place < self.size_bytes:
            return b""
        self._file.seek(place)
        return self._file.read(max(0, length)) or b""

    def write(self, place: int, data: bytes) -> None:
        """Overwrite what there is at that place: the image does not grow."""
        before = self.read(place, len(data))
        if before:
            self._before.append((place, before))
            self._file.seek(place)
            self._file.write(data[: len(before)])

    def cut(self, length: int) -> None:
        """Leave only the first so many bytes."""
        self._file.truncate(length)
        self._is_cut = True

    def restore(self) -> None:
        """As it was at first."""
        if self._is_cut:
            end = self._file.seek(0, 2)
            self._file.truncate(self.size_bytes)
            for place, data in self._written:
                if place + len(data) > end:
                    self._file.seek(place)
                    self._file.write(data)
        for place, data in reversed(self._before):
            self._file.seek(place)
            self._file.write(data)
        self._before, self._is_cut = [], False

    def touched(self, area: Area) -> bool:
        """Whether anything in it was overwritten."""
        return any(
            place < area.start + area.length and area.start < place + len(data)
            for place, data in self._before
        )

    def close(self) -> None:
        """Let go of the file."""
        self._file.close()


@contextmanager
def spoiled(canvas: Canvas, subject: Subject, seed: int) -> Iterator[Path]:
    """The image with the changes that belong to this number; as it was afterwards."""
    try:
        _Spoiler(canvas, subject, random.Random(seed)).run()
        yield canvas.path
    finally:
        canvas.restore()


class _Spoiler:
    """A few changes to one image."""

    def __init__(self, canvas: Canvas, subject: Subject, chance: random.Random) -> None:
        self.canvas, self.subject, self.chance = canvas, subject, chance
        kinds = list(dict.fromkeys(area.kind for area in subject.areas))
        self.by_kind = {kind: [area for area in subject.areas if area.kind == kind] for kind in kinds}
        self.folders = [area for area in subject.areas if area.kind in FOLDERS]
        self.fats = [area for area in subject.areas if area.kind in FAT_BITS]

    def run(self) -> None:
        """Mostly single fields of one structure or two; now and then something coarse."""
        for _ in range(self.chance.randint(1, CHANGES_MAX)):
            change = self.chance.choice(CHANGES)
            change(self)
        if self.chance.randrange(10) < SEALED_OF_TEN:
            seal(self.canvas, self.subject)
        if self.chance.randrange(16) == 0:
            self.canvas.cut(self.place_to_cut())

    def area(self) -> Area:
        """Any structure; each kind is as likely as any other."""
        return self.chance.choice(self.by_kind[self.chance.choice(list(self.by_kind))])

    def change_field(self) -> None:
        area = self.area()
        if area.kind in FAT_BITS:
            self.change_entry()
            return
        first, size, fields = RECORDS[area.kind]
        record = area.start + first + size * self.record(area, first, size)
        place, length = self.chance.choice(fields)
        self.canvas.write(record + place, self.value(record + place, length))

    def change_entry(self) -> None:
        """Some entries of the FAT lead elsewhere: into each other, into the void, to themselves."""
        area = self.chance.choice(self.fats)
        for _ in range(self.chance.choice((1, 1, 2, 5, 40))):
            self.put_entry(area, self.chance.randrange(self.entries_of(area)), self.cluster())

    def lead_elsewhere(self) -> None:
        """A file or folder begins in another cluster, perhaps that of a folder, and may be a folder then."""
        area = self.chance.choice(self.folders)
        slot = area.start + SLOT_BYTES * self.record(area, 0, SLOT_BYTES)
        cluster = self.cluster()
        if area.kind == "fat folder":
            self.canvas.write(slot + 26, (cluster & 0xFFFF).to_bytes(2, "little"))
            self.canvas.write(slot + 20, (cluster >> 16 & 0xFFFF).to_bytes(2, "little"))
            if self.chance.randrange(2):
                self.canvas.write(slot + 11, b"\x10")
        else:
            self.canvas.write(slot + 20, (cluster & 0xFFFFFFFF).to_bytes(4, "little"))
            if self.chance.randrange(2):
                self.canvas.write(slot - SLOT_BYTES + 4, b"\x10")  # where this is the stream of a set

    def copy_record(self) -> None:
        """A slot, an entry or a header stands in the place of another one as well."""
        kind = self.chance.choice([kind for kind in self.by_kind if kind in RECORDS])
        first, size, _ = RECORDS[kind]
        places = [
            area.start + first + size * self.record(area, first, size)
            for area in self.chance.choices(self.by_kind[kind], k=2)
        ]
        count = self.chance.choice((1, 1, 3))
        self.canvas.write(places[0], self.canvas.read(places[1], size * count))

    def flip_bits(self) -> None:
        area = self.area()
        for _ in range(self.chance.randint(1, 8)):
            place = area.start + self.chance.randrange(area.length)
            byte = self.canvas.read(place, 1)
            self.canvas.write(place, bytes(one ^ 1 << self.chance.randrange(8) for one in byte))

    def overwrite(self) -> None:
        """A stretch of a structure is all one value, or noise."""
        area = self.area()
        place = self.chance.randrange(area.length)
        length = min(area.length - place, self.chance.choice((1, 4, 32, 512, 4096)))
        filling = self.chance.choice((b"\0", b"\xff", b"\xe5", b"\x85", b"\x10", b""))
        self.canvas.write(area.start + place, filling * length or self.chance.randbytes(length))

    def swap_sectors(self) -> None:
        size = self.subject.sector_bytes
        places = [self.somewhere() // size * size for _ in range(2)]
        one, other = (self.canvas.read(place, size) for place in places)
        self.canvas.write(places[0], other)
        self.canvas.write(places[1], one)

    def storm(self) -> None:
        """A whole table, or a whole folder, of entries that all look possible."""
        if self.chance.randrange(2):
            area = self.chance.choice(self.fats)
            for entry in range(2, self.entries_of(area)):
                self.put_entry(area, entry, self.chance.randrange(2, self.reach()))
        else:
            area = self.chance.choice(self.folders)
            make = self.fat_slot if area.kind == "fat folder" else self.exfat_slot
            count = min(area.length // SLOT_BYTES, self.chance.choice((4, 16, 64)))
            self.canvas.write(area.start, b"".join(make() for _ in range(count)))

    def fat_slot(self) -> bytes:
        chance = self.chance
        name = bytes(chance.choices(b"ABC~1 .\xe5\x05", k=11))
        attributes, cluster = chance.choice((0x00, 0x10, 0x10, 0x20, 0x0F, 0x08)), self.cluster()
        if attributes == 0x0F:
            name = bytes([chance.choice((0x41, 0x42, 0x01, 0x02))]) + name[1:]
        high, low = ((cluster >> shift & 0xFFFF).to_bytes(2, "little") for shift in (16, 0))
        size = chance.choice((0, 0, 700, 1 << 20, 0xFFFFFFFF)).to_bytes(4, "little")
        return name + bytes([attributes, 0]) + chance.randbytes(7) + high + chance.randbytes(4) + low + size

    def exfat_slot(self) -> bytes:
        chance = self.chance
        kind = chance.choice((0x85, 0xC0, 0xC0, 0xC1, 0xC1, 0x81, 0x82, 0x83, 0xA0, 0xE1, 0x05, 0x80))
        sizes = (0, 700, 1 << 20, 1 << 40, (1 << 64) - 1)
        head = bytes([kind, chance.choice((1, 2, 3, 19))]) + chance.randbytes(2)
        attributes = chance.choice((0x10, 0x20)).to_bytes(2, "little") + bytes(2)
        length = chance.choice(sizes).to_bytes(8, "little")
        return head + attributes + length + bytes(4) + self.cluster().to_bytes(4, "little") + length

    def value(self, place: int, length: int) -> bytes:
        """Something for a field: a border, a cluster, a neighbour of what stands there, or noise."""
        most = (1 << 8 * length) - 1
        stands = int.from_bytes(self.canvas.read(place, length), "little")
        near = stands + self.chance.choice((-2, -1, 1, 2, 16, 512))
        chosen = self.chance.choice(
            (
                *(0, 1, 2, most, most - 1, most // 2, most // 2 + 1, 1 << self.chance.randrange(8 * length)),
                *(near, near, self.cluster(), self.chance.getrandbits(8 * length)),
                self.chance.randrange(256),
            )
        )
        return (chosen & most).to_bytes(length, "little")

    def cluster(self) -> int:
        """One of those that are taken, mostly; or one of the numbers that mean something else."""
        ends = (0, 1, 0xFF7, 0xFF8, 0xFFF7, 0xFFF8, 0xFFFF, 0x0FFFFFF7, 0x0FFFFFF8, 0xFFFFFFF7, 0xFFFFFFFF)
        last = self.subject.clusters + 1
        return self.chance.choice(
            (
                *(self.chance.choice(ends), self.chance.choice((last, last + 1, last + 2))),
                self.subject.cluster_at(self.chance.choice(self.folders).start) & 0xFFFFFFFF,
                *(self.chance.randrange(2, self.reach()) for _ in range(4)),
            )
        )

    def reach(self) -> int:
        """Behind the clusters that are taken, which are the first ones."""
        return min(self.subject.clusters + 2, 200)

    def entries_of(self, area: Area) -> int:
        """The entries of a FAT that are worth changing."""
        return min(area.length * 8 // FAT_BITS[area.kind], self.reach())

    def put_entry(self, area: Area, entry: int, value: int) -> None:
        bits = FAT_BITS[area.kind]
        place, odd = divmod(entry * bits, 8)
        if bits == 12:
            pair = int.from_bytes(self.canvas.read(area.start + place, 2), "little")
            value = (pair & ~(0xFFF << odd) | (value & 0xFFF) << odd) & 0xFFFF
        length = 4 if bits == 32 else 2
        stored = (value & (1 << 8 * length) - 1).to_bytes(length, "little")
        self.canvas.write(area.start + place, stored)

    def record(self, area: Area, first: int, size: int) -> int:
        """The number of a record, mostly one of the first, which are in use."""
        count = max(1, (area.length - first) // size)
        return self.chance.randrange(min(count, self.chance.choice((2, 12, 40, count))))

    def somewhere(self) -> int:
        area = self.area()
        return area.start + self.chance.randrange(area.length)

    def place_to_cut(self) -> int:
        """At or about a border, or anywhere."""
        border = self.somewhere() + self.chance.choice((0, 0, -1, 1, SECTOR_BYTES))
        return max(1, self.chance.choice((border, self.chance.randrange(self.canvas.size_bytes))))


CHANGES: tuple[Callable[[_Spoiler], None], ...] = (
    *[_Spoiler.change_field] * 8,
    *[_Spoiler.change_entry] * 4,
    *[_Spoiler.lead_elsewhere] * 4,
    *[_Spoiler.copy_record] * 2,
    *[_Spoiler.flip_bits] * 2,
    _Spoiler.overwrite,
    _Spoiler.swap_sectors,
    _Spoiler.storm,
)


def seal(canvas: Canvas, subject: Subject) -> None:
    """Put the checksums of what was changed right: GPT, boot regions of exFAT, sets of entries."""
    for area in subject.areas:
        if canvas.touched(area) and area.kind in SEALS:
            SEALS[area.kind](canvas, area, subject)


def _seal_boot(canvas: Canvas, area: Area, subject: Subject) -> None:
    size = subject.sector_bytes
    region = canvas.read(area.start, 11 * size)
    canvas.write(area.start + 11 * size, boot_checksum(region).to_bytes(4, "little") * (size // 4))


def _seal_folder(canvas: Canvas, area: Area, subject: Subject) -> None:
    data = canvas.read(area.start, area.length)
    for place in range(0, len(data) - 1, SLOT_BYTES):
        if data[place] == 0x85:
            entries = data[place : place + (data[place + 1] + 1) * SLOT_BYTES]
            canvas.write(area.start + place + 2, entry_set_checksum(entries).to_bytes(2, "little"))


def _seal_gpt(canvas: Canvas, area: Area, subject: Subject) -> None:
    """Both headers, whichever of the four pieces was touched."""
    for header in (area for area in subject.areas if area.kind == "gpt header"):
        data = bytearray(canvas.read(header.start, 92))
        if len(data) < 92:
            continue
        sector, count, size = (int.from_bytes(data[at : at + length], "little") for at, length in _LIST)
        entries = canvas.read(sector * SECTOR_BYTES, min(count * size, 1 << 20))
        data[88:92] = zlib.crc32(entries).to_bytes(4, "little")
        data[16:20] = bytes(4)
        data[16:20] = zlib.crc32(data).to_bytes(4, "little")
        canvas.write(header.start, bytes(data))


_LIST = ((72, 8), (80, 4), (84, 4))
SEALS: Mapping[Kind, Callable[[Canvas, Area, Subject], None]] = {
    "exfat boot": _seal_boot,
    "exfat folder": _seal_folder,
    "gpt header": _seal_gpt,
    "gpt entries": _seal_gpt,
}


def _written(path: Path) -> Iterator[tuple[int, bytes]]:
    """What of an image is not zero, to put it back after a cut."""
    with path.open("rb") as file:
        place = 0
        while block := file.read(1 << 14):
            if any(block):
                yield place, block
            place += len(block)
