"""The rules about a face: a card in the wrong player, and a card of yesterday; the right card is silent."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mediacheck.display_files import LoadedFace
from mediacheck.judge import Judgement, judge
from mediacheck.loop import File, loop_of
from mediacheck.manifest.model import Manifest
from mediacheck.measure.model import NotMeasured
from mediacheck.names import Depth
from mediacheck.profile import Profile
from mediacheck.report.model import Counts
from mediacheck.rules.outdated import loop_outdated
from mediacheck.rules.wrong_face import loop_wrong_face
from tests.compare.make import clip, measured, still
from tests.displays import chosen, display, face, listed, manifest
from tests.rules import make
from tests.rules.judge import assert_sentence

RULES = (loop_wrong_face, loop_outdated)
WRONG, OLD = "loop-wrong-face", "loop-outdated"
CAN, RAIN, SEEDS, BULBS, NEW = ([n, n + 90, n + 17, n + 140] for n in (1, 60, 111, 167, 222))
"""What clips show: four half seconds that have nothing to do with those of another."""
BY_NAME = make.bare_profile()
BY_DISK = make.bare_profile(player={"order": "disk"})

AISLE = face("aisle side", manifest("can.mp4", "rain.mp4"), card_label="AISLE")
WINDOW = face("window side", manifest("seeds.mp4", "bulbs.mp4"), card_label="WINDOW")


def judged(
    files: Sequence[File],
    *faces: LoadedFace,
    profile: Profile = BY_NAME,
    depth: Depth = "quick",
    **changes: Any,
) -> Judgement:
    """What the two rules say of a card with these files, for the first of the faces."""
    card = make.card(*files, **changes)
    loop = loop_of(make.placed(files), profile, card.order_known)
    return judge(RULES, card, loop, profile, depth, display=chosen(*faces) if faces else None)


def clips(*names: str) -> list[File]:
    """Whole files by name, of the bytes that `listed` gives these names."""
    return [clip(name) for name in names]


def shows(path: str, picture: Sequence[int], contents: object = None) -> File:
    """A decoded clip with bytes of its own."""
    return clip(path, contents or f"other {path}", measurements=measured(picture))


def told(result: Judgement) -> list[tuple[str, str, str, str]]:
    """Rule, severity, found and wanted of each finding; its sentences are looked at on the way."""
    for finding in result.findings:
        assert_sentence(finding.message)
        assert_sentence(finding.action)
        assert (finding.path, finding.fixable) == (None, False)
    return [(one.rule, one.severity, one.found, one.wanted) for one in result.findings]


def reasons(result: Judgement) -> list[tuple[str, str, bool]]:
    return [(gap.rule, gap.reason, gap.expected) for gap in result.not_checked]


def assert_silent(result: Judgement) -> None:
    assert (result.findings, result.not_checked, result.checks) == ((), (), Counts(2, 0, 0, 0))


# Silent


@pytest.mark.parametrize("here", [(AISLE, WINDOW), (AISLE,)])
def test_the_right_card_is_silent(here: tuple[LoadedFace, ...]) -> None:
    assert_silent(judged(clips("can.mp4", "rain.mp4"), *here))


def test_files_are_known_by_their_bytes_whatever_they_are_called() -> None:
    assert_silent(judged([clip("1.mp4", "can.mp4"), clip("2.mp4", "rain.mp4")], AISLE, WINDOW))


def test_files_that_are_not_played_do_not_matter() -> None:
    files = [*clips("can.mp4", "rain.mp4"), make.other_file("note.txt"), make.junk_file("._seeds.mp4")]
    assert_silent(judged(files, AISLE, WINDOW))


def test_the_same_loop_on_both_faces_is_silent_on_each() -> None:
    other = face("window side", manifest("can.mp4", "rain.mp4"))
    assert_silent(judged(clips("can.mp4", "rain.mp4"), AISLE, other))
    assert_silent(judged(clips("can.mp4", "rain.mp4"), other, AISLE))


def test_without_a_display_neither_applies_not_even_on_a_card_that_cannot_be_listed() -> None:
    for result in (judged(clips("can.mp4")), judged([], unlisted="it is not formatted")):
        assert (result.findings, result.not_checked, result.checks) == ((), (), Counts(0, 0, 2, 0))


def test_a_card_without_items_is_for_other_rules() -> None:
    assert judged([make.other_file()], AISLE, WINDOW).checks == Counts(0, 0, 2, 0)


def test_a_card_that_cannot_be_listed_is_not_checked() -> None:
    result = judged([], AISLE, WINDOW, unlisted="it is not formatted")
    reason = "the card's files could not be listed: it is not formatted"
    assert reasons(result) == [(WRONG, reason, False), (OLD, reason, False)]


# The wrong face


def test_the_card_of_the_other_face_is_found_and_is_not_called_outdated_too() -> None:
    result = judged(clips("seeds.mp4", "bulbs.mp4"), AISLE, WINDOW)
    assert told(result) == [
        (WRONG, "fail", "the loop of the window side", "the loop of the aisle side"),
    ]
    assert result.findings[0].message == (
        "This card carries the loop of the window side: the aisle side would show the wrong film."
    )
    assert result.findings[0].action == (
        "Put this card into the player of the window side, and look for the card labelled AISLE."
    )
    assert result.checks == Counts(0, 1, 1, 0)


def test_without_a_label_the_card_is_called_by_its_face_and_plain_names_are_quoted() -> None:
    result = judged(clips("b.mp4"), face("A", manifest("a.mp4")), face("the pillar", manifest("b.mp4")))
    assert told(result) == [(WRONG, "fail", "the loop of the pillar", 'the loop of the face "A"')]
    assert result.findings[0].action == (
        'Put this card into the player of the pillar, and look for the card of the face "A".'
    )


def test_an_earlier_loop_of_the_other_face_is_of_the_other_face() -> None:
    window = face("window side", manifest("seeds.mp4"), {"2": manifest("tulips.mp4")})
    assert told(judged(clips("tulips.mp4"), AISLE, window)) == [
        (WRONG, "fail", "an earlier loop of the window side", "the loop of the aisle side"),
    ]


SHARED = ("1.mp4", "2.mp4", "3.mp4")
AISLE_SHARES = face("aisle side", manifest(*SHARED, "a.mp4"))
WINDOW_SHARES = face("window side", manifest(*SHARED, "w.mp4"))


def test_where_faces_share_most_items_the_one_that_differs_decides() -> None:
    swapped = (WRONG, "fail", "the loop of the window side", "the loop of the aisle side")
    assert_silent(judged(clips(*SHARED, "a.mp4"), AISLE_SHARES, WINDOW_SHARES))
    assert told(judged(clips(*SHARED, "w.mp4"), AISLE_SHARES, WINDOW_SHARES)) == [swapped]
    assert told(judged(clips("1.mp4", "w.mp4"), AISLE_SHARES, WINDOW_SHARES)) == [swapped]


def test_what_both_faces_have_is_not_the_wrong_loop_but_not_all_of_it_either() -> None:
    result = judged(clips(*SHARED), AISLE_SHARES, WINDOW_SHARES)
    assert told(result) == [(OLD, "warn", '"a.mp4" is missing', "version 3")]


def test_of_two_other_faces_the_one_with_more_of_the_items_is_named() -> None:
    back, window = face("back", manifest("1.mp4", "b.mp4")), face("window side", manifest("1.mp4", "2.mp4"))
    result = judged(clips("1.mp4", "2.mp4", "x.mp4"), AISLE, back, window)
    assert [finding.found for finding in result.findings] == ["the loop of the window side"]


def test_items_of_both_faces_are_told_by_name() -> None:
    result = judged(clips("can.mp4", "rain.mp4", "seeds.mp4"), AISLE, WINDOW)
    assert told(result) == [
        (WRONG, "fail", 'items of the window side: "seeds.mp4"', "the loop of the aisle side alone"),
    ]
    assert result.findings[0].message == (
        'Among the items of the aisle side, this card carries some of the window side ("seeds.mp4"): they '
        "would be shown where they do not belong."
    )


def test_items_of_several_other_faces_are_told_with_these() -> None:
    back = face("back", manifest("b.mp4"))
    result = judged(clips("can.mp4", "b.mp4", "seeds.mp4"), AISLE, WINDOW, back)
    assert told(result)[0][2] == 'items of the back and the window side: "b.mp4", "seeds.mp4"'


def test_a_film_that_has_moved_to_the_other_face_belongs_where_it_is_now() -> None:
    """The two loops were swapped: the same card is of yesterday on one face, and of today on the other."""
    aisle = face("aisle side", manifest("can.mp4"), {"2": manifest("seeds.mp4")})
    window = face("window side", manifest("seeds.mp4"), {"2": manifest("can.mp4")})
    assert told(judged(clips("seeds.mp4"), aisle, window))[0][:3] == (
        WRONG, "fail", "the loop of the window side",
    )  # fmt: skip
    assert_silent(judged(clips("can.mp4"), aisle, window))


def test_a_whole_earlier_loop_of_this_face_is_outdated_though_another_face_has_some_of_it_now() -> None:
    aisle = face("aisle side", manifest("can.mp4"), {"2": manifest("can.mp4", "seeds.mp4")})
    result = judged(clips("can.mp4", "seeds.mp4"), aisle, WINDOW)
    assert told(result) == [(OLD, "warn", "version 2", "version 3")]


# None of the loops


def test_a_loop_that_nobody_knows_is_the_wrong_one() -> None:
    aisle = face("aisle side", manifest(listed("can.mp4", picture=CAN)), card_label="AISLE")
    result = judged([shows("x.mp4", NEW)], aisle, face("window side"), depth="full")
    assert told(result) == [(WRONG, "fail", "none of the display's loops", "the loop of the aisle side")]
    assert result.findings[0].message == (
        "This card carries none of the loops that the display file tells of: the aisle side would show the "
        "wrong film."
    )
    assert result.findings[0].action == (
        "Look for the card labelled AISLE, or name this card's manifest in the display file if its loop is "
        "new."
    )
    assert result.checks == Counts(0, 1, 1, 0)


def test_at_quick_depth_unknown_bytes_say_only_that_they_are_unknown() -> None:
    aisle = face("aisle side", manifest(listed("can.mp4", picture=CAN)))
    result = judged(clips("x.mp4"), aisle)
    reason = (
        "these are not the files that the display file tells of, and to know their pictures again, every "
        "picture must be decoded (--depth full)"
    )
    assert reasons(result) == [(WRONG, reason, False), (OLD, reason, False)]
    assert (result.findings, result.verdict) == ((), "incomplete")


def test_without_fingerprints_in_the_manifest_unknown_bytes_stay_unknown() -> None:
    result = judged([shows("x.mp4", NEW)], AISLE, WINDOW, depth="full")
    reason = (
        '"x.mp4" is none of the files that the display file tells of, and there is no fingerprint on both '
        "sides to know its pictures again by"
    )
    assert reasons(result) == [(WRONG, reason, False), (OLD, reason, False)]


@pytest.mark.parametrize("fingerprint", ["", "02" + "00" * 20, "01" + "00" * 19, "not hexadecimal"])
def test_a_fingerprint_that_is_none_tells_nothing(fingerprint: str) -> None:
    spoilt = replace(listed("can.mp4"), fingerprint=fingerprint)
    result = judged([shows("x.mp4", NEW)], face("aisle side", manifest(spoilt)), depth="full")
    assert [gap.rule for gap in result.not_checked] == [WRONG, OLD]


def test_a_still_is_known_by_its_bytes_alone_and_never_taken_for_a_video() -> None:
    stills = face("aisle side", manifest(listed("a.jpg", kind="still")))
    assert_silent(judged([still("a.jpg")], stills))
    assert [gap.rule for gap in judged([still("a.jpg", "new")], stills).not_checked] == [WRONG, OLD]
    assert told(judged([still("x.jpg")], AISLE, WINDOW)) == [
        (WRONG, "fail", "none of the display's loops", "the loop of the aisle side"),
    ]


def test_a_face_of_which_nothing_is_said_is_not_checked() -> None:
    result = judged(clips("can.mp4"), face("aisle side", earlier={"2": manifest("can.mp4")}), WINDOW)
    reason = (
        "the display file does not say which loop belongs on this face: it names neither a manifest nor items"
    )
    assert reasons(result) == [(WRONG, reason, True), (OLD, reason, True)]
    assert (result.findings, result.verdict) == ((), "pass")


# Encoded again


AISLE_SEEN = face("aisle side", manifest(listed("can.mp4", picture=CAN), listed("rain.mp4", picture=RAIN)))
WINDOW_SEEN = face(
    "window side", manifest(listed("seeds.mp4", picture=SEEDS), listed("bulbs.mp4", picture=BULBS))
)


def test_the_right_pictures_in_other_files_are_the_right_loop_but_perhaps_not_in_this_version() -> None:
    files = [shows("can.mp4", CAN), shows("rain.mp4", RAIN)]
    result = judged(files, AISLE_SEEN, WINDOW_SEEN, depth="full")
    found = '"can.mp4", "rain.mp4" show the same pictures in other files'
    assert told(result) == [(OLD, "warn", found, "version 3")]
    assert result.findings[0].message == (
        f"This card does not carry version 3 of the loop of the aisle side as it is listed ({found}): it may "
        "be another version."
    )
    assert result.findings[0].action == (
        "Copy version 3 onto the card, or look for the newest card of the aisle side."
    )
    assert result.checks == Counts(1, 1, 0, 0)


def test_the_pictures_of_the_other_face_are_known_again() -> None:
    result = judged([shows("x.mp4", SEEDS), shows("y.mp4", BULBS)], AISLE_SEEN, WINDOW_SEEN, depth="full")
    assert told(result) == [(WRONG, "fail", "the loop of the window side", "the loop of the aisle side")]


def test_bytes_go_before_pictures() -> None:
    """Two faces show the same picture, each encoded for its own player: the bytes say whose file it is."""
    aisle = face("aisle side", manifest(listed("a.mp4", picture=CAN)))
    window = face("window side", manifest(listed("w.mp4", picture=CAN)))
    file = shows("w.mp4", CAN, contents="w.mp4")
    assert_silent(judged([file], window, aisle, depth="full"))
    assert told(judged([file], aisle, window, depth="full"))[0][2] == "the loop of the window side"


NEARLY = [*CAN[:3], CAN[3] + 1]
"""As alike as two films of which one ends with another line."""
BETWEEN = face("aisle side", manifest(listed("a.mp4", picture=CAN)))
NEARBY = face("window side", manifest(listed("w.mp4", picture=NEARLY)))


def test_of_two_films_that_are_nearly_alike_the_nearer_one_decides() -> None:
    assert [one.rule for one in judged([shows("x.mp4", CAN)], BETWEEN, NEARBY, depth="full").findings] == [
        OLD
    ]
    assert told(judged([shows("x.mp4", NEARLY)], BETWEEN, NEARBY, depth="full"))[0][:3] == (
        WRONG, "fail", "the loop of the window side",
    )  # fmt: skip


def bent(*bits: int) -> str:
    """The fingerprint of a film, with some bits of its pattern turned over."""
    found = bytearray.fromhex(measured(CAN).fingerprint or "")
    for bit in bits:
        found[1 + bit // 8] ^= 1 << bit % 8
    return found.hex()


def bent_face(name: str, bits: Sequence[int], *others: str) -> LoadedFace:
    film = replace(listed(f"{name}.mp4"), fingerprint=bent(*bits))
    return face(name, manifest(film, *others))


@pytest.mark.parametrize("of_the_other", [(9, 10, 11, 12), (9, 10, 11), (9, 10, 11, 12, 13)])
def test_a_film_between_those_of_two_faces_tells_nothing_by_itself(of_the_other: tuple[int, ...]) -> None:
    again = clip("x.mp4", measurements=measured([], fingerprint=bent()))
    faces = bent_face("aisle side", (1, 2, 3, 4)), bent_face("window side", of_the_other)
    reason = 'the pictures of "x.mp4" are so alike on two faces that they do not tell which loop this is'
    result = judged([again], *faces, depth="full")
    assert (result.findings, reasons(result)) == ((), [(WRONG, reason, False), (OLD, reason, False)])


def test_beside_a_film_that_two_faces_have_alike_the_other_items_decide() -> None:
    again = clip("x.mp4", measurements=measured([], fingerprint=bent()))
    aisle = bent_face("aisle side", (1, 2, 3, 4), "a.mp4")
    window = bent_face("window side", (9, 10, 11, 12), "w.mp4")
    found = '"x.mp4" shows the same pictures in other files'
    ours = judged([again, *clips("a.mp4")], aisle, window, depth="full")
    assert (told(ours), ours.checks) == ([(OLD, "warn", found, "version 3")], Counts(1, 1, 0, 0))
    theirs = judged([again, *clips("w.mp4")], aisle, window, depth="full")
    assert told(theirs)[0][:3] == (WRONG, "fail", "the loop of the window side")


def test_a_film_that_both_faces_have_is_of_this_one_too() -> None:
    twin = face("window side", manifest(listed("w.mp4", picture=CAN)))
    result = judged([shows("x.mp4", CAN)], BETWEEN, twin, depth="full")
    assert (result.checks, told(result)[0][0]) == (Counts(1, 1, 0, 0), OLD)
    other = face("window side", manifest(listed("w.mp4", picture=CAN), "v.mp4"))
    result = judged([shows("x.mp4", CAN), *clips("v.mp4")], BETWEEN, other, depth="full")
    assert told(result)[0][2] == "the loop of the window side"


def test_a_plain_clip_is_not_taken_for_another_plain_clip() -> None:
    black = "01" + (bytes(16) + bytes([16] * 3) + b"\x80").hex() * 4
    aisle = face("aisle side", manifest(replace(listed("black.mp4"), fingerprint=black)))
    file = clip("x.mp4", measurements=measured([1], fingerprint=black))
    assert [gap.rule for gap in judged([file], aisle, depth="full").not_checked] == [WRONG, OLD]


# Damaged cards


def test_a_file_that_could_not_be_read_leaves_open_whether_this_is_the_version() -> None:
    gone = clip("rain.mp4", measurements=NotMeasured("it stops", expected=False))
    files = [clip("can.mp4"), clip("wind.mp4"), replace(gone, sha256=None)]
    aisle = face("aisle side", manifest("can.mp4", "wind.mp4", "rain.mp4"))
    result = judged(files, aisle, WINDOW, depth="full")
    reason = '"rain.mp4" could not be read to its end, so it was not compared'
    assert (result.findings, reasons(result)) == ((), [(OLD, reason, False)])


def test_where_as_much_is_unread_as_is_known_the_face_is_open_too() -> None:
    gone = clip("rain.mp4", measurements=NotMeasured("it stops", expected=False))
    result = judged([clip("can.mp4"), replace(gone, sha256=None)], AISLE, WINDOW, depth="full")
    assert [gap.rule for gap in result.not_checked] == [WRONG, OLD]


def test_a_file_that_could_not_be_read_does_not_hide_an_item_of_the_other_face() -> None:
    files = [clip("can.mp4"), replace(clip("rain.mp4"), sha256=None), clip("seeds.mp4")]
    assert told(judged(files, AISLE, WINDOW))[0][:3] == (
        WRONG, "fail", 'items of the window side: "seeds.mp4"',
    )  # fmt: skip


# Outdated


def test_an_earlier_version_is_called_by_its_name() -> None:
    aisle = face("aisle side", manifest("can.mp4"), {"1": manifest("old.mp4"), "2": manifest("rain.mp4")})
    result = judged(clips("rain.mp4"), aisle, WINDOW)
    assert told(result) == [(OLD, "warn", "version 2", "version 3")]
    assert result.findings[0].message == (
        "This card carries version 2 of the loop of the aisle side, where version 3 belongs now: the screen "
        "shows what was to be replaced."
    )
    assert (result.verdict, result.checks) == ("warn", Counts(1, 1, 0, 0))


def test_versions_without_names_are_called_by_what_there_is() -> None:
    loop = {"manifest": "now.manifest.json", "earlier": ["2026-01/aisle.manifest.json"]}
    aisle = face("aisle side", manifest("can.mp4"), {"": manifest("rain.mp4")}, loop=loop)
    assert told(judged(clips("rain.mp4"), aisle)) == [
        (OLD, "warn", "version 2026-01/aisle", "the current version"),
    ]


def test_an_earlier_version_that_had_fewer_of_the_same_items_is_known() -> None:
    aisle = face("aisle side", manifest("can.mp4", "rain.mp4"), {"2": manifest("can.mp4")})
    assert told(judged(clips("can.mp4"), aisle)) == [(OLD, "warn", "version 2", "version 3")]


def test_an_earlier_version_that_had_more_items_is_known() -> None:
    aisle = face("aisle side", manifest("can.mp4"), {"2": manifest("can.mp4", "rain.mp4")})
    assert told(judged(clips("can.mp4", "rain.mp4"), aisle)) == [(OLD, "warn", "version 2", "version 3")]
    assert_silent(judged(clips("can.mp4"), aisle))


def test_single_items_of_an_earlier_version_are_told_by_name() -> None:
    aisle = face(
        "aisle side", manifest("can.mp4", "new.mp4"), {"2": manifest("can.mp4", "rain.mp4", "x.mp4")}
    )
    result = judged(clips("can.mp4", "new.mp4", "rain.mp4"), aisle)
    assert told(result) == [(OLD, "warn", 'items of version 2: "rain.mp4"', "version 3")]


def test_an_earlier_version_is_known_by_its_pictures() -> None:
    aisle = face(
        "aisle side", manifest(listed("can.mp4", picture=CAN)), {"2": manifest(listed("r", picture=RAIN))}
    )
    result = judged([shows("x.mp4", RAIN)], aisle, depth="full")
    assert told(result) == [(OLD, "warn", 'items of version 2: "x.mp4"', "version 3")]


def test_items_of_an_earlier_version_are_told_beside_those_of_another_face() -> None:
    aisle = face("aisle side", manifest("can.mp4"), {"2": manifest("rain.mp4")})
    result = judged(clips("can.mp4", "rain.mp4", "seeds.mp4"), aisle, WINDOW)
    assert [(one.rule, one.found) for one in result.findings] == [
        (WRONG, 'items of the window side: "seeds.mp4"'),
        (OLD, 'items of version 2: "rain.mp4"'),
    ]


def test_what_is_missing_and_what_is_more_is_told() -> None:
    result = judged(
        clips("can.mp4", "wind.mp4", "x.mp4"), face("side", manifest("can.mp4", "wind.mp4", "rain.mp4"))
    )
    assert told(result) == [(OLD, "warn", '"x.mp4" is none of its files; "rain.mp4" is missing', "version 3")]
    assert result.checks == Counts(1, 1, 0, 0)


def test_the_order_counts_where_it_is_known() -> None:
    files = clips("rain.mp4", "can.mp4")
    found = "its files play in another order, or more than once"
    assert told(judged(files, AISLE, profile=BY_DISK)) == [(OLD, "warn", found, "version 3")]
    assert_silent(judged(files, AISLE, profile=BY_NAME))
    backwards = face("aisle side", manifest("rain.mp4", "can.mp4"))
    assert_silent(judged(files, backwards, profile=BY_DISK, order_known=False))
    before = face("aisle side", manifest("can.mp4", "rain.mp4"), {"2": manifest("rain.mp4", "can.mp4")})
    assert told(judged(files, before, profile=BY_DISK)) == [(OLD, "warn", "version 2", "version 3")]


def test_a_file_that_is_there_twice_is_not_this_version() -> None:
    files = [*clips("can.mp4", "rain.mp4"), clip("zz.mp4", "rain.mp4")]
    found = "its files play in another order, or more than once"
    assert told(judged(files, AISLE)) == [(OLD, "warn", found, "version 3")]


# Items in place of a manifest


def items(*names: str, hashed: bool = True) -> list[dict[str, str]]:
    return [{"name": name, **({"sha256": listed(name).sha256} if hashed else {})} for name in names]


def test_items_with_hashes_are_as_good_as_a_manifest() -> None:
    aisle = face("aisle side", items=items("can.mp4", "rain.mp4"))
    window = face("window side", items=items("seeds.mp4"))
    assert_silent(judged(clips("can.mp4", "rain.mp4"), aisle, window))
    assert told(judged(clips("seeds.mp4"), aisle, window))[0][:3] == (
        WRONG, "fail", "the loop of the window side",
    )  # fmt: skip


NAMED = (
    "of this loop, the display file tells the names of files only: give their SHA-256, or the manifest that"
)


def test_names_alone_prove_nothing() -> None:
    aisle = face("aisle side", items=items("can.mp4", "rain.mp4", hashed=False))
    result = judged(clips("CAN.mp4", "rain.mp4"), aisle, WINDOW)
    assert [(gap.rule, gap.expected) for gap in result.not_checked] == [(WRONG, True), (OLD, True)]
    assert {gap.reason[: len(NAMED)] for gap in result.not_checked} == {NAMED}
    assert (result.findings, result.verdict) == ((), "pass")
    unread = replace(clip("can.mp4"), sha256=None)
    result = judged([unread], face("aisle side", items=items("can.mp4", hashed=False)))
    assert [gap.rule for gap in result.not_checked] == [WRONG, OLD]


def test_names_of_the_other_face_are_told_as_names() -> None:
    aisle, window = (
        face(name, items=items(*names, hashed=False))
        for name, names in (("aisle side", ["a.mp4"]), ("window side", ["w.mp4", "v.mp4"]))
    )
    result = judged(clips("w.mp4", "v.mp4"), aisle, window)
    assert result.findings[0].message == (
        "By the names of its files, this card carries the loop of the window side: the aisle side would show "
        "the wrong film."
    )


def test_one_name_without_a_hash_leaves_the_version_open() -> None:
    some = [*items("can.mp4", "wind.mp4"), *items("rain.mp4", hashed=False)]
    result = judged(clips("can.mp4", "rain.mp4", "wind.mp4"), face("aisle side", items=some), WINDOW)
    assert (result.findings, [gap.rule for gap in result.not_checked]) == ((), [OLD])
    missing = judged(clips("can.mp4", "wind.mp4"), face("aisle side", items=some), WINDOW)
    assert told(missing) == [(OLD, "warn", '"rain.mp4" is missing', "version 3")]


# Whatever is on the card


NAMES = st.sampled_from(["can.mp4", "rain.mp4", "seeds.mp4", "bulbs.mp4", "old.mp4", "x.mp4", "y.jpg"])
PICTURES = st.sampled_from([None, CAN, RAIN, SEEDS, NEARLY, NEW])
SEEN = {"can.mp4": CAN, "rain.mp4": RAIN, "seeds.mp4": SEEDS, "bulbs.mp4": NEARLY}


@st.composite
def cards(draw: st.DrawFn) -> list[File]:
    """Files of few names, with the bytes of any of them or of none, decoded or not."""
    found = []
    for name in draw(st.lists(NAMES, unique=True, max_size=5)):
        made = still(name) if name.endswith("jpg") else clip(name, draw(NAMES))
        picture = draw(PICTURES)
        found.append(
            replace(
                made,
                sha256=draw(st.sampled_from([made.sha256, made.sha256, None])),
                measurements=measured(picture) if picture else None,
            )
        )
    return found


def known(*names: str) -> Manifest:
    return manifest(*(listed(name, picture=SEEN.get(name)) for name in names))


@given(cards())
def test_no_card_breaks_a_rule_and_the_order_of_the_files_and_of_the_other_faces_does_not_matter(
    files: list[File],
) -> None:
    faces = (
        face("aisle side", known("can.mp4", "rain.mp4"), {"2": known("old.mp4")}),
        face("window side", known("seeds.mp4", "can.mp4")),
        face("back", known("bulbs.mp4")),
    )
    result = judged(files, *faces, depth="full")
    told(result)
    assert not [gap for gap in result.not_checked if "mistake of ours" in gap.reason]
    assert sum((result.checks.passed, result.checks.failed, result.checks.not_applicable)) + len(
        result.not_checked
    ) == len(RULES)
    again = judged(files[::-1], faces[0], *faces[:0:-1], depth="full")
    assert [(one.rule, one.severity) for one in again.findings] == [
        (one.rule, one.severity) for one in result.findings
    ]


LOOPS = st.lists(st.sampled_from(["1.mp4", "2.mp4", "3.mp4", "4.mp4"]), unique=True, min_size=1).map(sorted)


@given(LOOPS, LOOPS, LOOPS, LOOPS)
def test_the_two_are_silent_for_the_files_of_the_current_version_and_for_no_others(
    current: list[str], earlier: list[str], other: list[str], there: list[str]
) -> None:
    aisle = face("aisle side", manifest(*current), {"2": manifest(*earlier)})
    result = judged(clips(*there), aisle, face("window side", manifest(*other)))
    if there == current:
        assert_silent(result)
    elif there == other:
        assert [one.rule for one in result.findings] == [WRONG]
    elif there == earlier:
        assert told(result) == [(OLD, "warn", "version 2", "version 3")]
    else:
        assert result.findings or result.verdict == "incomplete"


def test_a_card_of_many_items_is_compared_soon() -> None:
    """Each with each would be a quarter of a million comparisons of pictures."""
    names = [f"{number:04}.mp4" for number in range(500)]
    pictures = [[number % 251, number // 7, number * 3 % 256] for number in range(500)]
    there = manifest(*(listed(name, picture=each) for name, each in zip(names, pictures, strict=True)))
    files = [shows(name, each) for name, each in zip(names, pictures, strict=True)]
    result = judged(files, face("aisle side", there), face("window side", manifest("w.mp4")), depth="full")
    assert [one.rule for one in result.findings] == [OLD]


def test_the_display_counts_its_faces_by_name() -> None:
    assert [each.name for each in display(AISLE, WINDOW).chosen("WINDOW  side").others] == ["aisle side"]
