"""Short names of new FAT folders: as the specification and mtools make them, and each only once."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mediacheck.card.fat_names import long_name_slots
from mediacheck.card.fat_new_names import basis, short_names
from mediacheck.card.fat_slots import SLOT_BYTES, LongEntry
from mediacheck.card.limits import is_short_name, refusal, same_name
from mediacheck.card.opening import open_card
from tests.card.fat_images import make, must

NAMES = st.text(st.characters(exclude_categories=["Cs"]), min_size=1, max_size=40).filter(
    lambda name: refusal(name) is None
)
SIMILAR = st.builds(
    "{}{}{}".format,
    st.sampled_from(("LOOP", "loop 1", "Loop~", "LOOPWAT~", "É", "a.b", "~")),
    st.integers(0, 120).map(str) | st.just(""),
    st.sampled_from(("", ".MP4", ".mp4", ".mpeg", ".é")),
)
"""Names whose short ones meet each other, and those of others."""


def shown(short: bytes) -> str:
    """As people write it."""
    base, extension = short[:8].decode().rstrip(), short[8:].decode().rstrip()
    return f"{base}.{extension}" if extension else base


def short_of(*names: str) -> list[str]:
    return [shown(short) for short in short_names(names)]


@pytest.mark.parametrize(
    ("name", "short"),
    [
        # Microsoft's specification, "FAT 32 Byte Directory Entry Structure"
        ("foo.bar", b"FOO     BAR"),
        ("FOO.BAR", b"FOO     BAR"),
        ("Foo.Bar", b"FOO     BAR"),
        ("foo", b"FOO        "),
        ("PICKLE.A", b"PICKLE  A  "),
        ("prettybg.big", b"PRETTYBGBIG"),
        # Same, "Storage of a Long-Name Within Long Directory Entries"
        ("The quick brown.fox", b"THEQUI~1FOX"),
        # Same, the steps of "The Basis-Name Generation Algorithm"
        ("a+b,c;d=[e].mp4", b"A_B_C_~1MP4"),
        (" spaces in it.mp4", b"SPACES~1MP4"),
        ("...dots.mp4", b"DOTS~1  MP4"),
        (".htaccess", b"HTACCE~1   "),
        ("long.mpeg4", b"LONG~1  MPE"),
        ("Gieß.mp4", b"GIE_~1  MP4"),
        ("ı.mp4", b"_~1     MP4"),
        ("種まき.mp4", b"___~1   MP4"),
        ("\U0001f331", b"_~1        "),
        ("a b", b"AB~1       "),
        # As Windows and mtools do it: dots in the base are left out
        ("a.b.c..d.mp4", b"ABCD~1  MP4"),
    ],
)
def test_one_name(name: str, short: bytes) -> None:
    assert short_names([name]) == [short]


def test_a_number_that_is_taken_is_left_out() -> None:
    """Specification, "The Numeric-Tail Generation Algorithm": between ~1 and ~3 comes ~2."""
    assert short_of("LETTER~1.DOC", "LETTER~3.DOC", "Letter to the gardener.doc") == [
        "LETTER~1.DOC",
        "LETTER~3.DOC",
        "LETTER~2.DOC",
    ]


def test_a_true_short_name_that_comes_later_keeps_it() -> None:
    names = ("Seeds for spring.mp4", "Seeds for autumn.mp4", "seedsf~1.MP4", "SEEDSF~3.MP4")
    assert short_of(*names) == ["SEEDSF~2.MP4", "SEEDSF~4.MP4", "SEEDSF~1.MP4", "SEEDSF~3.MP4"]


def test_no_short_name_is_the_long_name_of_another() -> None:
    """Such names are not short ones, but mean the same to a system that looks for one."""
    assert short_of("Seeds for spring.mp4", "ſeedsf~1.mp4") == ["SEEDSF~2.MP4", "_EEDSF~1.MP4"]


def test_numbers_take_the_room_that_they_need() -> None:
    names = [f"Watering can {number}.mp4" for number in range(1, 1101)]
    found = short_of(*names)
    assert [found[place - 1] for place in (1, 9, 10, 99, 100, 999, 1000)] == [
        *("WATERI~1.MP4", "WATERI~9.MP4", "WATER~10.MP4", "WATER~99.MP4"),
        *("WATE~100.MP4", "WATE~999.MP4", "WAT~1000.MP4"),
    ]


@pytest.mark.parametrize("kinds", [1, 100, 3000])
def test_as_many_names_as_a_folder_holds(kinds: int) -> None:
    """A search from ~1 on for each name would take minutes."""
    names = [f"Loop{number % kinds:04} for the garden {number}.mp4" for number in range(16_000)]
    assert len(set(short_names(names))) == len(names)


@given(st.lists(NAMES | SIMILAR, max_size=60, unique_by=same_name))
def test_short_names_are_sound_and_each_is_there_once(names: list[str]) -> None:
    found = short_names(names)
    assert [len(short) for short in found] == [11] * len(names)
    assert all(is_short_name(shown(short)) for short in found)
    assert len(set(found)) == len(names)
    folded = [same_name(name) for name in names]
    for place, short in enumerate(found):
        others = {*folded[:place], *folded[place + 1 :]}
        assert shown(short) not in others
        if names[place].isascii() and is_short_name(names[place].upper()):
            assert shown(short) == names[place].upper()
    assert short_names(names) == found


@given(NAMES)
def test_a_basis_has_a_base(name: str) -> None:
    base, extension = basis(name)
    assert 1 <= len(base) <= 8
    assert len(extension) <= 3
    assert is_short_name(f"{base}.{extension}" if extension else base)


def test_the_short_names_are_those_of_mtools(tmp_path: Path) -> None:
    names = [
        *("Loop 1.2 final.mp4", ".htaccess", "a+b.mp4", "a.b.c..d.mp4", "long.mpeg4", "THIS.IS.mp4"),
        *(f"Watering can {number:02}.mp4" for number in range(12)),
        *("Seed (range) one.mp4", "seed (range) two.mp4", "X Y", "x.y z", "under_score and more.txt"),
    ]
    image = make(tmp_path / "fat.img", 16)
    for name in names:
        (tmp_path / name).write_bytes(b"")
        must("mcopy", "-i", image, tmp_path / name, "::/")
    card = open_card(image)
    assert [entry.name for entry in card.entries] == names
    assert short_of(*names) == [entry.short_name for entry in card.entries]


@pytest.mark.parametrize(
    ("name", "checksum"),
    [
        # Worked out from the formula of Microsoft's specification; the first four were read back from mtools
        ("The quick brown.fox", 0x07),
        ("promo.mp4", 0x16),
        ("Promo loop.mp4", 0x80),
        ("readme.txt", 0x73),
        ("Loop01 for the shelf.mp4", 0x91),
        ("Long video.mp4", 0x4F),
        ("img_0001.jpg", 0x42),
    ],
)
def test_long_names_go_with_their_short_ones(name: str, checksum: int) -> None:
    slots = long_name_slots(name, short_names([name])[0])
    pieces = [
        LongEntry.parse(slots[place : place + SLOT_BYTES]) for place in range(0, len(slots), SLOT_BYTES)
    ]
    assert {piece.checksum for piece in pieces} == {checksum}
    assert [piece.order & 0x3F for piece in pieces] == [*range(-(-len(name) // 13), 0, -1)]
