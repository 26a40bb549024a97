"""A directory is split into the sets that a plain walk through its entries finds."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from mediacheck.card.exfat_entries import (
    BitmapEntry,
    FileEntry,
    StreamEntry,
    compose_entry_set,
    compose_guid,
    compose_label,
)
from mediacheck.card.exfat_sets import Directory, Extra, FileSet, UsualSets, split

END = bytes(32)
VENDOR_ALLOCATION = (
    b"\xe1\x03" + b"G" * 16 + bytes(2) + (9).to_bytes(4, "little") + (700).to_bytes(8, "little")
)
DELETED = b"\x05" + b"x" * 31


def entry_set(name: str, more: bytes = b"", **changes: int) -> bytes:
    stream = StreamEntry(0, 1, 5, 6, 5, 3)._replace(**changes)
    return compose_entry_set(FileEntry(), stream, name, more)


def changed(entries: bytes, place: int, value: int) -> bytes:
    return entries[:place] + bytes((value,)) + entries[place + 1 :]


def files(found: Directory) -> list[FileSet]:
    """Each by itself, in their order."""
    sets = ([*some.one_by_one()] if isinstance(some, UsualSets) else [some] for some in found.files)
    return [file for some in sets for file in some]


def only_file(data: bytes) -> FileSet:
    (found,) = files(split(data))
    return found


def faults(data: bytes) -> list[str | None]:
    return [found.fault for found in files(split(data))]


def names(data: bytes) -> list[str]:
    return [str(found.name, "utf-16-le", "surrogatepass") for found in files(split(data))]


@given(st.lists(st.text(min_size=1, max_size=40), max_size=6))
def test_sound_sets_are_read_as_they_were_composed(wanted: list[str]) -> None:
    sets = [entry_set(name, first_cluster=number) for number, name in enumerate(wanted)]
    found = split(DELETED + DELETED.join(sets) + END + END)
    assert [file.raw for file in files(found)] == sets
    assert [str(file.name, "utf-16-le") for file in files(found)] == wanted
    assert [file.stream for file in files(found)] == [StreamEntry.parse(raw[32:]) for raw in sets]
    assert [file.fault for file in files(found)] == [None] * len(wanted)
    assert (found.others, found.loose, found.behind_end) == ((), 0, 0)


def test_other_primary_entries_are_kept_apart() -> None:
    others = [compose_label("GARDEN"), BitmapEntry(2, 9).compose(), compose_guid(b"G" * 16)]
    found = split(others[0] + entry_set("a") + others[1] + others[2])
    assert [other.raw for other in found.others] == others
    assert [other.is_benign for other in found.others] == [False, False, True]
    assert found.others[2].is_whole
    assert len(files(found)) == 1


def test_entries_that_belong_to_nothing_are_counted() -> None:
    stray = entry_set("a")[32:]
    assert split(stray + entry_set("b") + DELETED + stray + changed(DELETED, 0, 0x80)).loose == 5
    assert split(entry_set("b") + END + stray).loose == 0


def test_files_behind_the_end_are_counted_and_not_read() -> None:
    found = split(entry_set("a") + END + entry_set("b") + entry_set("c"))
    assert (len(files(found)), found.behind_end) == (1, 2)


def test_a_set_that_is_cut_off() -> None:
    whole = entry_set("a name of more than fifteen letters")
    assert faults(whole[:-32]) == ["breaks off: 3 of its 4 further parts are there"]
    assert faults(whole[:32]) == ["breaks off: 0 of its 4 further parts are there"]
    assert names(whole[:-32] + entry_set("b")) == ["a name of more than fifteen le", "b"]
    assert faults(changed(whole, 96, 0x41)) == ["breaks off: 2 of its 4 further parts are there"]


def test_a_count_that_is_wrong() -> None:
    found = only_file(changed(entry_set("a"), 1, 1))
    assert (found.fault, found.name) == ("has 2 further parts, and says that it has 1", b"a\0")


def test_a_set_without_the_part_that_tells_where_the_bytes_lie() -> None:
    found = only_file(changed(entry_set("seeds.mp4"), 32, 0xC1))
    assert found.stream is None
    assert found.fault == "lacks the part that tells where the bytes lie"
    found = only_file(changed(entry_set("seeds.mp4"), 32, 0xE0))
    assert (found.stream, found.name) == (None, b"")


def test_a_length_of_the_name_that_is_wrong() -> None:
    wrong = "tells a length of the name that is not that of the name"
    assert faults(changed(entry_set("seeds"), 32 + 3, 4)) == [wrong]
    assert faults(changed(entry_set("seeds"), 32 + 3, 16)) == [wrong]
    assert faults(changed(entry_set("seeds"), 32 + 3, 0)) == [wrong]
    assert faults(changed(entry_set("n" * 15), 32 + 3, 14)) == [wrong]
    assert faults(changed(entry_set("n" * 16), 32 + 3, 15)) == [wrong]
    assert names(changed(entry_set("seeds"), 32 + 3, 4)) == ["seed"]


def test_what_lies_further_behind_a_name_is_nobodys_business() -> None:
    """7.7.3 says that it should be zero, and fsck.exfat reads up to the first zero only."""
    assert faults(changed(entry_set("seeds"), 66 + 12, ord("x"))) == [None]
    assert faults(changed(entry_set("seeds"), 66 + 10, ord("x"))) != [None]


def test_benign_parts_behind_the_name_are_passed_by_and_their_clusters_known() -> None:
    found = only_file(entry_set("a", VENDOR_ALLOCATION))
    assert (found.fault, found.unknown, found.name) == (None, False, b"a\0")
    assert found.extras == (Extra(9, 700, True),)


def test_critical_parts_that_nobody_knows_make_the_set_unknown() -> None:
    found = only_file(entry_set("a", b"\xc9" + bytes(31)))
    assert (found.fault, found.unknown) == ("has parts of an unknown kind", True)


@given(
    st.lists(st.sampled_from(b"\x00\x05\x80\x81\x85\x85\xa0\xc0\xc0\xc1\xc1\xc9\xe1"), max_size=40), st.data()
)
def test_any_entries_are_split_as_by_a_plain_walk(kinds: list[int], data: st.DataObject) -> None:
    rest = data.draw(st.lists(st.binary(min_size=31, max_size=31), min_size=len(kinds), max_size=len(kinds)))
    entries = [bytes((kind,)) + more for kind, more in zip(kinds, rest, strict=True)]
    found = split(b"".join(entries))
    sets: list[bytes] = []
    loose = 0
    before_end = kinds.index(0) if 0 in kinds else len(kinds)
    previous = 0
    for kind, entry in zip(kinds[:before_end], entries, strict=False):
        if kind >= 0xC0 and previous > 0x80:
            sets[-1] += entry
        elif kind > 0x80 and kind < 0xC0:
            sets.append(entry)
        else:
            loose += kind >= 0x80
            kind = 0
        previous = kind
    assert [file.raw for file in files(found)] == [each for each in sets if each[0] == 0x85]
    assert [other.raw for other in found.others] == [each for each in sets if each[0] != 0x85]
    assert (found.loose, found.behind_end) == (loose, kinds[before_end:].count(0x85))
    for file in files(found):
        assert (file.stream is not None) == (file.raw[32:33] == b"\xc0")
        assert not file.stream or len(file.name) <= 2 * file.stream.name_length
