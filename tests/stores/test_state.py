"""The state of a face, from its plan and what was last heard: every state, and every day that matters."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest

from mediacheck.stores.model import FaceState, Noted, PlannedFace, PlannedLoop, Said
from mediacheck.stores.state import Known, due_loop, state_of
from tests.stores.made import PLAN, PLANTER, SEEDS, WATER, content

TODAY = date(2026, 3, 10)
SEEN = datetime(2026, 3, 10, 9, tzinfo=UTC)
BROKEN = Noted("video-codec", "fail", "The player skips this file.")


def state(said: Said | None, face: str = WATER, today: date = TODAY, seen_on: date = TODAY) -> FaceState:
    planned = PLANTER.face(face)
    assert planned is not None
    return state_of("planter", planned, said, seen_on, today, Known(PLAN))


def checked(*names: str, **changes: Any) -> Said:
    fields: dict[str, Any] = {"verdict": "pass", "content": content(*names) if names else None}
    return Said("check", SEEN, **{**fields, **changes})


@pytest.mark.parametrize(
    ("said", "face", "wanted", "words"),
    [
        (None, WATER, "not-heard-of", "version 2 has been due since 2026-03-01"),
        (checked("water-2"), WATER, "right", "version 2, which is due"),
        (checked("seeds-still", "seeds-1"), SEEDS, "right", "version 1, which is due"),
        (checked("water-1"), WATER, "outdated", "version 1; version 2 has been due since 2026-03-01"),
        (checked("water-3"), WATER, "right", "version 3 already"),
        (checked("seeds-1", "seeds-still"), WATER, "wrong", "the loop of the window side"),
        (checked("water-2"), SEEDS, "wrong", "the loop of the aisle side"),
        (checked("something"), WATER, "wrong", "none of the loops that the plan knows"),
        (checked(), WATER, "not-sure", "does not tell which loop"),
        (checked("water-2", verdict="fail", findings=(BROKEN,)), WATER, "will-not-play", "skips this file"),
        (checked("water-1", verdict="fail", findings=(BROKEN,)), WATER, "will-not-play", "skips this file"),
        (checked("water-2", verdict="incomplete"), WATER, "not-sure", "not all of it could be checked"),
        (
            checked("x", verdict="fail", findings=(Noted("loop-wrong-face", "fail", "It is for it."),)),
            WATER,
            "wrong",
            "It is for it.",
        ),
        (
            checked("x", verdict="warn", findings=(Noted("loop-outdated", "warn", "It is version 1."),)),
            WATER,
            "outdated",
            "It is version 1.",
        ),
        (checked("x", held=True), WATER, "right", "held against its display file"),
        (Said("identification", SEEN, answer="none"), WATER, "wrong", "none of the known loops"),
        (Said("identification", SEEN, answer="not recognised"), WATER, "not-sure", "recognised in it"),
        (Said("identification", SEEN, answer="one of"), WATER, "not-sure", "in common"),
        (
            Said("identification", SEEN, answer="match", shows_face=WATER, version="2"),
            WATER,
            "right",
            "version 2",
        ),
        (
            Said("identification", SEEN, answer="match", shows_face=SEEDS, version="1"),
            WATER,
            "wrong",
            "the window side",
        ),
        (
            Said("identification", SEEN, answer="match", shows_face=WATER.title(), version="1"),
            WATER,
            "outdated",
            "version 1;",
        ),
        (
            Said("identification", SEEN, answer="match", shows_face="Back", version="2"),
            WATER,
            "wrong",
            'the face "Back"',
        ),
        (
            Said("identification", SEEN, answer="match", version="2"),
            WATER,
            "not-sure",
            "no display was named",
        ),
        (
            Said("identification", SEEN, answer="other version", shows_face=WATER, version="2"),
            WATER,
            "outdated",
            "another version than version 2",
        ),
        (
            Said("identification", SEEN, answer="other version", shows_face=WATER, version="1"),
            WATER,
            "not-sure",
            "like version 1",
        ),
        (
            Said("identification", SEEN, answer="other version", shows_face=SEEDS, version="1"),
            WATER,
            "wrong",
            "the window side",
        ),
        (checked("water-2", verdict="fail"), WATER, "not-sure", "does not say why"),
        (
            checked(
                "x", held=True, verdict="fail", findings=(Noted("manifest-missing", "fail", "One is gone."),)
            ),
            WATER,
            "not-sure",
            "One is gone.",
        ),
        (
            checked(
                "water-2", verdict="fail", findings=(Noted("manifest-changed", "fail", "It is another."),)
            ),
            WATER,
            "right",
            "version 2, which is due",
        ),
    ],
)
def test_a_state_follows_from_what_was_heard(said: Said | None, face: str, wanted: str, words: str) -> None:
    found = state(said, face)
    assert found.state == wanted
    assert words in found.reason
    assert found.reason.endswith(".")


@pytest.mark.parametrize(
    ("today", "wanted"),
    [
        (date(2026, 2, 28), "right"),
        (date(2026, 3, 1), "right"),
        (date(2026, 3, 8), "right"),
        (date(2026, 3, 9), "outdated"),
        (date(2026, 4, 1), "outdated"),
    ],
)
def test_an_update_has_to_be_confirmed_by_its_day(today: date, wanted: str) -> None:
    """A store that shows the version before is outdated from the day after that on."""
    assert state(checked("water-1"), today=today).state == wanted


def test_another_version_is_outdated_only_when_the_day_to_confirm_by_has_passed() -> None:
    """It may be the one before, which is let through until then; nobody knows."""
    said = Said("identification", SEEN, answer="other version", shows_face=WATER, version="2")
    assert state(said, today=date(2026, 3, 8)).state == "not-sure"
    assert state(said, today=date(2026, 3, 9)).state == "outdated"


def test_without_a_last_day_an_update_is_due_at_once() -> None:
    assert state(checked("water-2"), today=date(2026, 3, 31)).state == "right"
    assert state(checked("water-2"), today=date(2026, 4, 1)).state == "outdated"


def test_only_the_version_right_before_is_let_through() -> None:
    """Who has slept through one update is outdated, whatever the last day of the next."""
    loops = (
        PlannedLoop("1", date(2026, 1, 1), None, "a"),
        PlannedLoop("2", date(2026, 2, 1), None, "b"),
        PlannedLoop("3", date(2026, 3, 1), date(2026, 3, 31), "c"),
    )
    face = PlannedFace("front", "", loops)
    known = Known(PLAN)
    for version, wanted in (("1", "outdated"), ("2", "right"), ("3", "right")):
        said = Said("identification", SEEN, answer="match", shows_face="front", version=version)
        plan = Known(type(PLAN)((type(PLANTER)("d", "", (face,)),)))
        assert state_of("d", face, said, TODAY, TODAY, plan).state == wanted
    assert known.face("planter", WATER) is not None


def test_versions_without_a_date_are_let_through_until_the_last_day() -> None:
    """So it is with the earlier loops of a display file: which of them was the last, it does not say."""
    loops = (
        PlannedLoop("1", content=content("one")),
        PlannedLoop("2", content=content("two")),
        PlannedLoop("3", date(2026, 3, 1), date(2026, 3, 8), content("three")),
    )
    face = PlannedFace("front", "", loops)
    known = Known(type(PLAN)((type(PLANTER)("d", "", (face,)),)))
    for name in ("one", "two"):
        for today, wanted in (
            (date(2026, 2, 1), "right"),
            (date(2026, 3, 8), "right"),
            (date(2026, 3, 9), "outdated"),
        ):
            assert state_of("d", face, checked(name), TODAY, today, known).state == wanted


def test_held_against_an_older_display_file_counts_as_the_loop_of_that_day() -> None:
    said = checked("not-in-the-plan", held=True)
    assert state(said, seen_on=date(2026, 2, 1), today=date(2026, 2, 2)).state == "right"
    assert state(said, seen_on=date(2026, 2, 1), today=date(2026, 3, 9)).state == "outdated"
    assert state(said, seen_on=date(2026, 3, 2), today=date(2026, 3, 9)).state == "right"


def test_held_before_the_first_version_of_the_plan_says_nothing_of_that_version() -> None:
    loop = PlannedLoop("1", date(2026, 3, 1), date(2026, 3, 8), content("new"))
    face = PlannedFace("front", "", (loop,))
    known = Known(type(PLAN)((type(PLANTER)("d", "", (face,)),)))
    said, seen_on = checked("not-in-the-plan", held=True), date(2026, 2, 1)
    for today, wanted in (
        (date(2026, 2, 28), "right"),
        (date(2026, 3, 8), "right"),
        (date(2026, 3, 9), "not-sure"),
    ):
        assert state_of("d", face, said, seen_on, today, known).state == wanted


def test_a_match_without_a_version_is_of_the_loop_that_was_due_then() -> None:
    """So it is told where a display file gives its loop no version."""
    said = Said("identification", SEEN, answer="match", shows_face=WATER)
    assert state(said).state == "right"
    assert state(said, seen_on=date(2026, 2, 28)).state == "outdated"


def test_a_version_is_known_whatever_its_capitals() -> None:
    face = PlannedFace("front", "", (PlannedLoop("Spring", date(2026, 3, 1)),))
    known = Known(type(PLAN)((type(PLANTER)("d", "", (face,)),)))
    said = Said("identification", SEEN, answer="match", shows_face="front", version="spring")
    assert state_of("d", face, said, TODAY, TODAY, known).state == "right"


def test_a_loop_that_comes_back_is_the_one_that_is_due() -> None:
    """The same files in spring and in winter: what is shown in between is outdated, not early."""
    loops = (
        PlannedLoop("winter", date(2025, 11, 1), None, content("snow")),
        PlannedLoop("spring", date(2026, 3, 1), date(2026, 3, 8), content("bulbs")),
        PlannedLoop("winter again", date(2026, 11, 1), None, content("snow")),
    )
    face = PlannedFace("front", "", loops)
    known = Known(type(PLAN)((type(PLANTER)("d", "", (face,)),)))
    for today, wanted, version in (
        (date(2026, 2, 28), "right", "winter"),
        (date(2026, 3, 8), "right", "winter"),
        (date(2026, 3, 9), "outdated", "winter"),
        (date(2026, 11, 1), "right", "winter again"),
    ):
        found = state_of("d", face, checked("snow"), TODAY, today, known)
        assert (found.state, found.version) == (wanted, version)


def test_of_two_versions_with_the_same_files_the_later_was_before() -> None:
    loops = (
        PlannedLoop("1", date(2026, 1, 1), None, content("same")),
        PlannedLoop("1 again", date(2026, 2, 1), None, content("same")),
        PlannedLoop("2", date(2026, 3, 1), date(2026, 3, 31), content("new")),
    )
    face = PlannedFace("front", "", loops)
    known = Known(type(PLAN)((type(PLANTER)("d", "", (face,)),)))
    found = state_of("d", face, checked("same"), TODAY, TODAY, known)
    assert (found.state, found.version) == ("right", "1 again")


def test_a_card_that_will_not_play_still_tells_its_version() -> None:
    assert state(checked("water-1", verdict="fail", findings=(BROKEN,))).version == "1"


def test_files_that_may_be_the_version_that_is_due_are_not_wrong() -> None:
    """Of the version that is due, the plan does not say the files; of the one before it does."""
    loops = (
        PlannedLoop("1", date(2026, 1, 1), None, content("old")),
        PlannedLoop("2", date(2026, 3, 1)),
    )
    face = PlannedFace("front", "", loops)
    known = Known(type(PLAN)((type(PLANTER)("d", "", (face,)),)))
    for names, wanted in (("x", "not-sure"), ("old", "outdated")):
        assert state_of("d", face, checked(names), TODAY, TODAY, known).state == wanted
    known_now = PlannedFace(
        "front", "", (PlannedLoop("1"), PlannedLoop("2", date(2026, 3, 1), None, content("new")))
    )
    assert state_of("d", known_now, checked("x"), TODAY, TODAY, known).state == "wrong"


def test_a_face_without_known_files_is_not_sure() -> None:
    face = PlannedFace("front", "", (PlannedLoop("1", date(2026, 1, 1)),))
    found = state_of("shelf", face, checked("x"), TODAY, TODAY, Known(PLAN))
    assert (found.state, found.due_version) == ("not-sure", "1")
    found = state_of("shelf", PlannedFace("front"), checked("x"), TODAY, TODAY, Known(PLAN))
    assert (found.state, found.due_version) == ("not-sure", None)


def test_loops_that_two_faces_share_belong_on_both() -> None:
    shared = PlannedLoop("1", date(2026, 1, 1), None, content("same"))
    left, right = PlannedFace("left", "", (shared,)), PlannedFace("right", "", (shared,))
    known = Known(type(PLAN)((type(PLANTER)("twins", "", (left, right)),)))
    for face in (left, right):
        assert state_of("twins", face, checked("same"), TODAY, TODAY, known).state == "right"


def test_the_loop_that_is_due_is_the_last_that_began() -> None:
    face = PLANTER.face(WATER)
    assert face is not None
    days = {date(2025, 12, 31): None, date(2026, 1, 1): "1", date(2026, 3, 1): "2", date(2027, 1, 1): "3"}
    for day, version in days.items():
        found = due_loop(face, day)
        assert (found.version if found else None) == version
    assert due_loop(PlannedFace("x"), TODAY + timedelta(days=1)) is None
