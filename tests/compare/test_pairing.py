"""Which files stand for each other: by bytes, pictures, path, then stem; one to one, alike both ways."""

from __future__ import annotations

from collections.abc import Sequence

from hypothesis import given
from hypothesis import strategies as st

from mediacheck.compare.pairing import Pairing, pairing, same_picture, same_start
from mediacheck.loop import File
from mediacheck.measure.fingerprint import distance
from mediacheck.measure.fingerprint_format import RECORD_BYTES
from mediacheck.measure.same_picture import SAME_PICTURE, perhaps_near
from tests.compare.make import clip, measured, sha, still
from tests.rules import make

Told = list[tuple[str, str, str]]


def told(found: Pairing) -> Told:
    return [(pair.good.entry.path, pair.bad.entry.path, pair.how) for pair in found.pairs]


def paths(files: Sequence[File]) -> list[str]:
    return [file.entry.path for file in files]


def test_equal_bytes_come_before_an_equal_path() -> None:
    found = pairing([clip("a.mp4", "x"), clip("b.mp4", "y")], [clip("a.mp4", "y"), clip("b.mp4", "x")])
    assert told(found) == [("a.mp4", "b.mp4", "same bytes"), ("b.mp4", "a.mp4", "same bytes")]


def test_of_equal_bytes_the_equal_path_comes_first() -> None:
    files = [clip(path, "x") for path in ("a.mp4", "b.mp4", "new/a.mp4")]
    assert told(pairing(files, files[::-1])) == [(path, path, "same bytes") for path in paths(files)]


def test_an_equal_picture_comes_before_an_equal_path() -> None:
    good = [clip("a.mp4", 1, measurements=measured([1, 2])), clip("b.mp4", 2, measurements=measured([90, 7]))]
    bad = [clip("a.mp4", 3, measurements=measured([90, 7])), clip("b.mp4", 4, measurements=measured([1, 2]))]
    how = "same picture, encoded again"
    assert told(pairing(good, bad)) == [("a.mp4", "b.mp4", how), ("b.mp4", "a.mp4", how)]


def test_then_comes_the_path_without_regard_to_capitals_and_then_the_stem_of_the_same_kind() -> None:
    good = [clip("A.mp4", 1), clip("in/b.mp4", 2), clip("c.mp4", 3)]
    bad = [clip("a.mp4", 4), clip("B.mov", 5), still("c.jpg", 6)]
    found = pairing(good, bad)
    assert told(found) == [("A.mp4", "a.mp4", "same name"), ("in/b.mp4", "B.mov", "same name")]
    assert (paths(found.missing), paths(found.extra)) == (["c.mp4"], ["c.jpg"])


@given(st.lists(st.binary(min_size=20, max_size=20), min_size=1, max_size=3), st.data())
def test_no_near_picture_is_left_out_unseen(records: list[bytes], data: st.DataObject) -> None:
    """What is passed over without being measured is further apart than that, by the distance itself."""
    whole = b"".join(records) * 7
    prints = [b"\x01" + whole]
    for _ in range(4):
        changed = bytearray(whole)
        for place in data.draw(st.lists(st.integers(0, len(whole) - 1), max_size=9)):
            changed[place] ^= data.draw(st.integers(0, 255))
        cut = data.draw(st.integers(0, 2)) * RECORD_BYTES
        prints.append(b"\x01" + bytes(changed[: len(changed) - cut]))
    near = {
        (at, other)
        for at, one in enumerate(prints)
        for other, two in enumerate(prints)
        if distance(one, two) <= SAME_PICTURE
    }
    assert near <= set(perhaps_near(prints, prints, SAME_PICTURE))


def test_pictures_that_have_nothing_to_do_with_each_other_are_passed_over() -> None:
    one, other = (
        b"\x01" + (bytes([pattern] * 16) + bytes([9] * 3) + b"\x40") * 6 for pattern in (0x0F, 0xF0)
    )
    assert list(perhaps_near([one, other], [one, other], SAME_PICTURE)) == [(0, 0), (1, 1)]


def test_many_equal_files_are_paired_in_the_order_of_their_names() -> None:
    """Each with each would be four million candidates."""
    good = [clip(f"{n:04}.mp4", "x") for n in range(2000)]
    bad = [clip(f"in/{n:04}.mp4", "x") for n in range(2000)]
    assert told(pairing(good, bad[::-1])) == [
        (one.entry.path, other.entry.path, "same bytes") for one, other in zip(good, bad, strict=True)
    ]


def test_what_computers_left_behind_stands_for_nothing() -> None:
    assert pairing([make.junk_file()], [make.junk_file()]) == Pairing((), (), ())


def test_empty_files_are_known_by_their_path_only() -> None:
    empty = sha("")
    good = [make.other_file(name, size_bytes=0, sha256=empty) for name in ("a.txt", "b.txt")]
    bad = [make.other_file(name, size_bytes=0, sha256=empty) for name in ("c.txt", "b.txt")]
    found = pairing(good, bad)
    assert told(found) == [("b.txt", "b.txt", "same bytes")]
    assert (paths(found.missing), paths(found.extra)) == (["a.txt"], ["c.txt"])


def plain(level: int) -> str:
    record = bytes(16) + bytes([level] * 3) + b"\x80"
    return (b"\x01" + record * 4).hex()


def test_plain_clips_are_not_taken_for_each_other() -> None:
    """Two black clips show the same, and so do a black slate and the end of a film: it tells nothing."""
    one, other = (
        clip(name, measurements=measured([1], fingerprint=plain(16))) for name in ("a.mp4", "b.mp4")
    )
    assert pairing([one], [other]).pairs == ()
    assert same_picture(one, other) is None


def test_a_clip_without_a_picture_is_not_taken_for_another() -> None:
    files = [clip(name, measurements=measured([1], fingerprint="01")) for name in ("a.mp4", "b.mp4")]
    assert pairing(files[:1], files[1:]).pairs == ()


def test_a_clip_that_was_cut_shorter_is_another_picture() -> None:
    whole, cut = clip(measurements=measured(range(10))), clip("b.mp4", measurements=measured(range(5)))
    assert (same_picture(whole, cut), same_start(whole, cut)) == (False, True)
    assert same_start(whole, clip("c.mp4", measurements=measured(range(90, 95)))) is False


NAMES = st.sampled_from(["a.mp4", "A.mp4", "b.mp4", "in/a.mp4", "in/b.mov", "c.jpg", "c.mp4"])
CONTENTS = st.integers(0, 3)
PICTURES = st.one_of(st.none(), st.integers(0, 3))


@st.composite
def files(draw: st.DrawFn) -> list[File]:
    """Files of few names, contents and pictures, so that ties are common."""
    names = draw(st.lists(NAMES, unique=True, max_size=6))
    return [_file(name, draw(CONTENTS), draw(PICTURES)) for name in names]


def _file(name: str, contents: int, picture: int | None) -> File:
    if name.endswith(".jpg"):
        return still(name, contents)
    shown = None if picture is None else measured([picture * 50, 3])
    return clip(name, contents, measurements=shown)


@given(files(), files())
def test_every_file_is_in_exactly_one_place(good: list[File], bad: list[File]) -> None:
    found = pairing(good, bad)
    assert sorted(paths([p.good for p in found.pairs]) + paths(found.missing)) == sorted(paths(good))
    assert sorted(paths([p.bad for p in found.pairs]) + paths(found.extra)) == sorted(paths(bad))


@given(files(), files())
def test_swapping_the_cards_mirrors_the_pairs(good: list[File], bad: list[File]) -> None:
    found, back = pairing(good, bad), pairing(bad, good)
    assert sorted(told(found)) == sorted((ours, theirs, how) for theirs, ours, how in told(back))
    assert (paths(found.missing), paths(found.extra)) == (paths(back.extra), paths(back.missing))


@given(files(), st.data())
def test_the_order_of_the_files_does_not_matter(good: list[File], data: st.DataObject) -> None:
    bad = data.draw(files())
    shuffled = data.draw(st.permutations(good)), data.draw(st.permutations(bad))
    assert sorted(told(pairing(*shuffled))) == sorted(told(pairing(good, bad)))
