"""Nothing on a card can hurt the reader: whatever is changed, it is opened in bounded time and memory."""

from __future__ import annotations

import json
import subprocess
import sys
import time
from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from mediacheck.card.exfat_layout import BootSector as ExfatBoot
from mediacheck.card.exfat_layout import compose_boot_region
from mediacheck.card.fat_layout import BootSector as FatBoot
from mediacheck.card.fat_layout import Fat32Fields
from mediacheck.card.fat_slots import LongEntry, ShortEntry
from mediacheck.card.opening import open_card
from mediacheck.errors import CardError
from tests.card.exfat_images import Filled, New, formatted
from tests.card.mutation_run import Took, read_whole
from tests.card.mutation_subjects import Area, Kind, Subject, build
from tests.card.mutations import Canvas, seal, spoiled

ROOT = Path(__file__).parents[2]
IMAGES = 2_000
BATCH = 500
SECONDS_MAX = 2.0
MEMORY_BYTES_MAX = 200_000_000
ANY_IMAGE = settings(
    max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)


@pytest.fixture(scope="module")
def subjects(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, tuple[Subject, ...]]:
    """The sound images, and the folder that they are in."""
    folder = tmp_path_factory.mktemp("subjects")
    return folder, build(folder)


@pytest.fixture(scope="module")
def canvases(subjects: tuple[Path, tuple[Subject, ...]]) -> Iterator[dict[str, tuple[Canvas, Subject]]]:
    """Each image, to be changed and put back."""
    folder, all_subjects = subjects
    made = {subject.name: (Canvas(folder / subject.name), subject) for subject in all_subjects}
    yield made
    for canvas, _ in made.values():
        canvas.close()


# Seeded


@pytest.mark.parametrize("first", range(0, IMAGES, BATCH))
def test_spoiled_images_end_as_cards_or_in_our_own_error(
    subjects: tuple[Path, tuple[Subject, ...]], first: int
) -> None:
    """In a process of its own, so that its memory is that of the reader (and of Python with its libraries).

    Seconds are those of the processor: these tests run beside others.
    """
    command = [sys.executable, "-m", "tests.card.mutation_run", str(subjects[0]), str(first), str(BATCH)]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False, timeout=300)
    assert done.returncode == 0, done.stderr
    took = Took(**json.loads(done.stdout.splitlines()[-1]))
    assert took.failures == []
    assert took.images == BATCH
    assert took.slowest_s < SECONDS_MAX, f"image {took.slowest_seed}"
    assert took.peak_bytes < MEMORY_BYTES_MAX
    assert took.opened > BATCH // 2  # the changes are not so coarse that nothing is left to read
    assert took.damages > BATCH  # nor so fine that nothing is found


def test_a_number_spoils_an_image_always_in_the_same_way_and_leaves_it_as_it_was(
    canvases: dict[str, tuple[Canvas, Subject]],
) -> None:
    canvas, subject = canvases["fat12"]
    sound = canvas.path.read_bytes()
    seen = []
    for seed in (*range(40), *range(40)):
        with spoiled(canvas, subject, seed) as path:
            seen.append(path.read_bytes())
        assert canvas.path.read_bytes() == sound
    assert seen[:40] == seen[40:]
    assert len(set(seen)) == 40
    assert sound not in seen


# Names


def test_a_short_name_of_dots_does_not_lead_out_of_its_folder(
    canvases: dict[str, tuple[Canvas, Subject]],
) -> None:
    canvas, subject = canvases["fat12"]
    (root, *_) = areas_of(subject, "fat folder")
    canvas.write(root.start, ShortEntry(b"        .  ", 0x20).compose() + bytes(32))
    try:
        assert [entry.path for entry in open_card(canvas.path).entries] == [r"\x2e."]
    finally:
        canvas.restore()


def test_exfat_names_of_dots_do_not_lead_out_of_their_folder(tmp_path: Path) -> None:
    image = formatted(tmp_path / "exfat.img", 2 << 20, 512, "")
    Filled(image).fill([New("..", b"x"), New("A/../B.MP4", b"y"), New("A/.", None), New("C.MP4", b"z")])
    card = open_card(image)
    assert [entry.path for entry in card.entries] == [r"\x2e.", "C.MP4", r"A/\x2e./B.MP4"]
    assert card.folders == ("A", r"A/\x2e.", r"A/\x2e")


# Found by hypothesis


def opened(canvas: Canvas) -> None:
    """Open what a canvas holds; and put it back, whatever happens."""
    start = time.process_time()
    try:
        try:
            card = open_card(canvas.path)
        except CardError:
            return
        assert time.process_time() - start < SECONDS_MAX
        read_whole(card)
    finally:
        canvas.restore()


def areas_of(subject: Subject, *kinds: Kind) -> list[Area]:
    found = [area for area in subject.areas if area.kind in kinds]
    assert found, kinds
    return found


Change = tuple[int, float, bytes]
"""Number of a structure, place in it (0 to 1), and what stands there."""


def changes() -> st.SearchStrategy[list[Change]]:
    """Any bytes at any places of the structures."""
    data = st.one_of(
        st.binary(min_size=1, max_size=8),
        st.integers(0, 0xFFFFFFFF).map(lambda number: number.to_bytes(4, "little")),
        st.sampled_from([b"\0" * 32, b"\xff" * 32, b"\xff\xff\xff\x0f", b"\x10"]),
    )
    return st.lists(st.tuples(st.integers(0, 30), st.floats(0, 1), data), min_size=1, max_size=12)


@pytest.mark.parametrize(
    "name", ["fat12", "fat32-few-mbr", "fat16-gpt", "exfat-gpt", "exfat-4096", "fat12-logical"]
)
@ANY_IMAGE
@given(made=changes(), sealed=st.booleans(), left=st.one_of(st.none(), st.floats(0, 1)))
def test_any_bytes_in_any_structure(
    canvases: dict[str, tuple[Canvas, Subject]],
    name: str,
    made: list[Change],
    sealed: bool,
    left: float | None,
) -> None:
    canvas, subject = canvases[name]
    for number, place, data in made:
        area = subject.areas[number % len(subject.areas)]
        canvas.write(area.start + int(place * (area.length - 1)), data)
    if sealed:
        seal(canvas, subject)
    if left is not None:
        canvas.cut(max(1, int(left * canvas.size_bytes)))
    opened(canvas)


def words(bits: int, *likely: int) -> st.SearchStrategy[int]:
    """Any value of a field, and often one of these."""
    return st.one_of(st.sampled_from(likely or (0, 1)), st.integers(0, (1 << bits) - 1))


@ANY_IMAGE
@given(
    sector_bytes=st.sampled_from((512, 1024, 4096)),
    sectors_per_cluster=st.sampled_from((1, 2, 128)),
    reserved=words(16, 1, 32),
    fats=words(8, 1, 2),
    root_slots=words(16, 0, 128, 512),
    sectors=st.tuples(words(16, 0, 2000), words(32, 0, 4500, 70_000)),
    fat_sectors=st.tuples(words(16, 0, 0, 6), words(32, 1, 513)),
    root_cluster=words(32, 2, 0),
    info=st.tuples(words(16, 1, 0), words(16, 6, 0), words(16, 0, 0x81)),
)
def test_any_boot_sector_of_fat(
    canvases: dict[str, tuple[Canvas, Subject]],
    sector_bytes: int,
    sectors_per_cluster: int,
    reserved: int,
    fats: int,
    root_slots: int,
    sectors: tuple[int, int],
    fat_sectors: tuple[int, int],
    root_cluster: int,
    info: tuple[int, int, int],
) -> None:
    """Its shape is one that is looked into; all of its numbers may be false."""
    canvas, subject = canvases["fat32-few"]
    small, large = fat_sectors
    fat32 = Fat32Fields(large, info[2], 0, root_cluster, info[0], info[1]) if not small else None
    boot = replace(
        FatBoot.parse(canvas.read(0, 512)),
        sector_bytes=sector_bytes,
        sectors_per_cluster=sectors_per_cluster,
        reserved_sectors=reserved,
        fats=fats,
        root_slots=root_slots,
        sectors_16=sectors[0],
        sectors_32=sectors[1],
        fat_sectors_16=small,
        fat32=fat32,
        boot_code=b"",
    )
    canvas.write(areas_of(subject, "fat boot")[0].start, boot.compose())
    opened(canvas)


@ANY_IMAGE
@given(
    shifts=st.tuples(st.integers(9, 12), words(8, 0, 3, 16)),
    length=words(64, 4096, 1 << 40),
    fat=st.tuples(words(32, 24, 128), words(32, 64, 1 << 20)),
    heap=st.tuples(words(32, 256, 4096), words(32, 3000, 0xFFFFFFF5), words(32, 2, 5)),
    flags=words(16, 0, 1, 2),
    fats=st.sampled_from((1, 2)),
)
def test_any_boot_region_of_exfat(
    canvases: dict[str, tuple[Canvas, Subject]],
    shifts: tuple[int, int],
    length: int,
    fat: tuple[int, int],
    heap: tuple[int, int, int],
    flags: int,
    fats: int,
) -> None:
    """With a checksum that holds, so that it is believed."""
    canvas, _ = canvases["exfat"]
    boot = ExfatBoot(length, *fat, *heap, 0x1234ABCD, *shifts, volume_flags=flags, number_of_fats=fats)
    canvas.write(0, compose_boot_region(boot) * 2)
    opened(canvas)


def short_entries() -> st.SearchStrategy[bytes]:
    letters = st.lists(st.sampled_from(b"AB~1. \xe5\x05\x00/\x7f"), min_size=11, max_size=11).map(bytes)
    numbers = (words(8), words(8), words(16), words(16), words(16), words(16, 0), words(16), words(16))
    ends = (words(16, 0, 1, 2, 3, 40, 0xFFFF), words(32, 0, 512, 0xFFFFFFFF))
    built = st.builds(ShortEntry, letters, words(8, 0x10, 0x20, 0x08), *numbers, *ends)
    return built.map(ShortEntry.compose)


def long_entries() -> st.SearchStrategy[bytes]:
    units = st.text(max_size=13).map(lambda text: text.encode("utf-16-le")[:26].ljust(26, b"\xff"))
    built = st.builds(LongEntry.holding, words(8, 0x41, 0x42, 1, 2, 0x54), words(8), units)
    return built.map(LongEntry.compose)


@pytest.mark.parametrize("name", ["fat12", "fat16-one", "fat32-few"])
@ANY_IMAGE
@given(
    slots=st.lists(
        st.one_of(short_entries(), long_entries(), st.binary(min_size=32, max_size=32)), max_size=24
    ),
    number=st.integers(0, 5),
)
def test_any_entries_in_a_folder_of_fat(
    canvases: dict[str, tuple[Canvas, Subject]], name: str, slots: Sequence[bytes], number: int
) -> None:
    canvas, subject = canvases[name]
    folders = areas_of(subject, "fat folder")
    canvas.write(folders[number % len(folders)].start, b"".join(slots))
    opened(canvas)


def exfat_entries() -> st.SearchStrategy[bytes]:
    """A few entries that make a set, or nearly."""
    kinds = st.sampled_from((0x85, 0xC0, 0xC1, 0x81, 0x82, 0x83, 0xA0, 0xE0, 0xE1, 0x80, 0x05))
    heads = st.tuples(
        kinds, words(8, 1, 2, 3), words(8, 1, 3), words(8, 1, 15), words(16, 0x10, 0x20), words(16, 0)
    )
    sizes = st.tuples(
        words(64, 0, 512, 1 << 63), words(32, 0), words(32, 0, 2, 3, 40), words(64, 0, 512, 1 << 63)
    )
    return st.builds(_exfat_entry, heads, sizes)


def _exfat_entry(head: tuple[int, ...], sizes: tuple[int, ...]) -> bytes:
    lengths = (1, 1, 1, 1, 2, 2, 8, 4, 4, 8)
    return b"".join(
        value.to_bytes(length, "little") for value, length in zip((*head, *sizes), lengths, strict=True)
    )


@pytest.mark.parametrize("name", ["exfat", "exfat-large"])
@ANY_IMAGE
@given(entries=st.lists(exfat_entries(), max_size=24), number=st.integers(0, 5), sealed=st.booleans())
def test_any_entries_in_a_folder_of_exfat(
    canvases: dict[str, tuple[Canvas, Subject]],
    name: str,
    entries: Sequence[bytes],
    number: int,
    sealed: bool,
) -> None:
    canvas, subject = canvases[name]
    folders = areas_of(subject, "exfat folder")
    canvas.write(folders[number % len(folders)].start, b"".join(entries))
    if sealed:
        seal(canvas, subject)
    opened(canvas)


@pytest.mark.parametrize("name", ["fat12", "fat16", "fat32", "exfat"])
@ANY_IMAGE
@given(entries=st.lists(words(32, 0, 2, 3, 4, 40, 0xFF7, 0xFFF8, 0x0FFFFFF7, 0xFFFFFFFF), max_size=300))
def test_any_chains(canvases: dict[str, tuple[Canvas, Subject]], name: str, entries: Sequence[int]) -> None:
    canvas, subject = canvases[name]
    (area, *_) = areas_of(subject, "fat 12", "fat 16", "fat 32", "exfat fat")
    canvas.write(area.start, b"".join(entry.to_bytes(4, "little") for entry in entries))
    opened(canvas)
