"""Rules about the container: each finds its defect, passes the clean twin, and leaves the others silent."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

import pytest

from mediacheck.measure.model import DecodeError, NotMeasured
from mediacheck.media.facts import Disagreement
from mediacheck.rules.model import NOT_APPLICABLE, PASSED, One, Seen
from tests.rules.judging import RULES, Defect, answer, findings, holds, reads_well, reason
from tests.rules.make import (
    bare_profile,
    container_facts,
    one,
    packet_facts,
    profile,
    unreadable_file,
    video_facts,
    video_file,
)
from tests.rules.measuring import alone, showed

CONTAINER_RULES = [name for name in RULES if name.startswith("container-")]


def wrapped(**changes: object) -> One:
    """A conforming clip in this container."""
    return one(video_file(container=container_facts(**changes)))


DEFECTS = {
    "another container": Defect(
        "container-format", wrapped(name="MKV", index=None), "MKV", "MP4", "opens only MP4: it skips"
    ),
    "several allowed": Defect(
        "container-format",
        one(
            video_file(container=container_facts(name="AVI")), profile(video={"containers": ["MP4", "MOV"]})
        ),
        "AVI",
        "MP4 or MOV",
        "is wrapped as AVI",
    ),
    "no container allowed": Defect(
        "container-format", one(profile=profile(video={"containers": []})), "MP4", "nothing", "only nothing"
    ),
    "cut off": Defect(
        "container-truncated",
        wrapped(truncated="the pictures and sound should go on for 5,000 more bytes"),
        "the pictures and sound should go on for 5,000 more bytes",
        "a whole file",
        "cut off (the pictures and sound should go on for 5,000 more bytes): the player stops",
        fixable=False,
    ),
    "cut off, where the walker found it": Defect(
        "container-truncated",
        one(video_file(container=container_facts(name="MPEG-TS", index=None, truncated="Half a packet.")),
            profile(video={"containers": ["MPEG-TS"]})),
        "Half a packet",
        "a whole file",
        "cut off (Half a packet)",
        fixable=False,
    ),
    "index last": Defect(
        "container-index", wrapped(index="last"), "index at the end", "index at the start", "starts it late"
    ),
    "index missing": Defect(
        "container-index",
        one(video_file(container=container_facts(name="AVI", index="missing")),
            profile(video={"containers": ["AVI"]})),
        "no index",
        "an index",
        "no index of its pictures",
    ),
    "fragments": Defect(
        "container-fragmented", wrapped(fragmented=True), "fragments", "one piece", "show only its start"
    ),
    "locked": Defect(
        "container-encrypted", wrapped(encrypted=True), "encrypted", "not encrypted", "no key", fixable=False
    ),
    "readers differ": Defect(
        "readers-disagree",
        one(video_file(facts={"disagreements": (Disagreement("frame rate", "25", "50"),)})),
        "25 (libavformat), 50 (libmediainfo)",
        "the same answer twice",
        "contradicts itself about its frame rate (25 or 50)",
        fixable=False,
    ),
}  # fmt: skip


@pytest.mark.parametrize("defect", DEFECTS.values(), ids=DEFECTS.keys())
def test_a_defect_is_found_by_its_own_rule_and_fails_no_other(defect: Defect) -> None:
    holds(defect)


@pytest.mark.parametrize("rule", [*CONTAINER_RULES, "readers-disagree"])
def test_a_conforming_file_passes(rule: str) -> None:
    assert answer(rule) == PASSED


@pytest.mark.parametrize("rule", [*CONTAINER_RULES, "readers-disagree"])
def test_a_file_that_could_not_be_read_is_not_checked(rule: str) -> None:
    asked = one(unreadable_file(), profile(video={"containers": ["MP4"]}))
    assert reason(rule, asked) == (
        "the file could not be read, so its container was not checked",
        False,
    )


@pytest.mark.parametrize("rule", CONTAINER_RULES)
def test_a_file_without_a_known_container_is_not_checked(rule: str) -> None:
    asked = one(video_file(facts={"container": None}))
    assert reason(rule, asked) == ("the file does not say what container it is", False)


def test_containers_that_the_profile_leaves_out_are_not_judged() -> None:
    asked = one(video_file(container=container_facts(name="WMV")), bare_profile())
    assert answer("container-format", asked) == NOT_APPLICABLE


@pytest.mark.parametrize(
    ("rule", "name"),
    [
        ("container-truncated", "MPEG-TS"),
        ("container-truncated", "MPEG-PS"),
        ("container-truncated", "WMV"),
        ("container-index", "MKV"),
        ("container-index", "MPEG-TS"),
        ("container-fragmented", "AVI"),
        ("container-encrypted", "MPEG-TS"),
    ],
)
def test_a_container_without_such_a_part_is_not_judged_by_it(rule: str, name: str) -> None:
    assert answer(rule, wrapped(name=name, index=None)) == NOT_APPLICABLE


@pytest.mark.parametrize("name", ["MP4", "MOV", "AVI"])
def test_an_index_that_nobody_found_is_not_passed(name: str) -> None:
    asked = wrapped(name=name, index=None)
    assert reason("container-index", asked) == ("the file does not say where its index is", False)


def test_each_fact_on_which_the_readers_differ_is_a_finding_of_its_own() -> None:
    differing = (Disagreement("frame rate", "25", "50"), Disagreement("bit depth", "8", "10"))
    seen = findings(one(video_file(facts={"disagreements": differing})))
    assert {name: [each.found for each in those] for name, those in seen.items()} == {
        "readers-disagree": ["25 (libavformat), 50 (libmediainfo)", "8 (libavformat), 10 (libmediainfo)"]
    }
    for each in seen["readers-disagree"]:
        reads_well(each)


# the headers against the decoded picture


def test_pictures_of_another_size_than_the_headers_say_are_found() -> None:
    assert alone("readers-disagree", showed(width=1280, height=720)) == (
        Seen(
            "1920x1080 (headers), 1280x720 (decoded)",
            "the same answer twice",
            "The file contradicts itself about its size in pixels (1920x1080 or 1280x720): the player may go "
            "by either and show it wrongly.",
            "Encode the file again, or try it on the player before the card goes out.",
        ),
    )


@pytest.mark.parametrize("size", [(1920, 1088), (1918, 1080), (1080, 1920)])
def test_a_size_has_no_tolerance(size: tuple[int, int]) -> None:
    assert answer("readers-disagree", showed(width=size[0], height=size[1])) != PASSED


@pytest.mark.parametrize(
    ("frames", "found"),
    [
        (300, None),
        (303, None),
        (297, None),
        (304, "300 (headers), 304 (decoded)"),
        (296, "300 (headers), 296 (decoded)"),
        (1_500, "300 (headers), 1,500 (decoded)"),
    ],
)
def test_a_frame_in_a_hundred_more_or_less_is_no_contradiction(frames: int, found: str | None) -> None:
    """In VP8, where a packet may show nothing, so that frames which are not there are no certain loss."""
    given = answer("readers-disagree", showed(frames=frames, facts={"video": video_facts(codec="VP8")}))
    assert isinstance(given, tuple)
    assert [each.found for each in given] == ([found] if found else [])
    for each in given:
        assert "contradicts itself about its number of frames" in each.message
        reads_well(each)


@pytest.mark.parametrize(("packets", "frames", "agrees"), [(20, 18, True), (20, 17, False), (20, 22, True)])
def test_two_frames_of_a_short_clip_are_no_contradiction(packets: int, frames: int, agrees: bool) -> None:
    video = video_facts(packets=packet_facts(packets), codec="VP8")
    assert (answer("readers-disagree", showed(frames=frames, facts={"video": video})) == PASSED) is agrees


@pytest.mark.parametrize(
    ("frames", "agrees"), [(300, True), (291, True), (288, True), (287, False), (304, False)]
)
@pytest.mark.parametrize(
    "video",
    [
        {"codec": "VP8", "packets": packet_facts(leading=9)},
        {"codec": "MPEG-4", "packets": packet_facts(sizes_bytes=[33_000] * 291 + [8] * 9)},
    ],
    ids=["leading up to the first keyframe", "the same again"],
)
def test_frames_that_need_not_be_shown_are_no_contradiction(
    video: dict[str, Any], frames: int, agrees: bool
) -> None:
    asked = showed(frames=frames, facts={"video": video_facts(**video)})
    assert (answer("readers-disagree", asked) == PASSED) is agrees


def test_frames_that_are_certainly_lost_are_damage_and_no_contradiction() -> None:
    assert set(findings(showed(frames=200, seconds=7.0))) == {"picture-damaged"}


@pytest.mark.parametrize(("scan", "agrees"), [("progressive", False), ("interlaced", True), (None, True)])
def test_two_packets_may_make_one_frame_of_a_picture_in_fields(scan: str | None, agrees: bool) -> None:
    video = video_facts(scan=scan, codec="VP8")
    assert (answer("readers-disagree", showed(frames=150, facts={"video": video})) == PASSED) is agrees


@pytest.mark.parametrize(
    ("said", "shown", "agrees"),
    [
        (10, 10.5, True),
        (10, 9.5, True),
        (10, 9.49, False),
        (10, 10.51, False),
        (100, 102.0, True),
        (100, 102.1, False),
        (100, 97.9, False),
    ],
)
def test_half_a_second_or_one_in_fifty_is_no_contradiction(said: int, shown: float, agrees: bool) -> None:
    video = video_facts(duration=Fraction(said))
    assert (answer("readers-disagree", showed(seconds=shown, facts={"video": video})) == PASSED) is agrees


def test_a_length_that_differs_is_found() -> None:
    video = video_facts(duration=Fraction(25, 2))
    assert [each.found for each in alone("readers-disagree", showed(facts={"video": video}))] == [
        "12.5 (headers), 10 (decoded)"
    ]


@pytest.mark.parametrize(
    "damage",
    [
        {"decode_error_count": 1, "decode_errors": (DecodeError("bad block", 3.0),)},
        {"facts": {"container": container_facts(truncated="half of it is missing")}},
    ],
)
def test_what_follows_from_damage_is_no_contradiction(damage: dict[str, Any]) -> None:
    assert answer("readers-disagree", showed(frames=100, seconds=3.3, **damage)) == PASSED
    resized = answer("readers-disagree", showed(frames=100, seconds=3.3, width=640, height=360, **damage))
    assert isinstance(resized, tuple)
    assert [each.found for each in resized] == ["1920x1080 (headers), 640x360 (decoded)"]


def test_what_one_side_leaves_out_is_not_compared() -> None:
    silent = video_facts(packets=None, duration=None)
    asked = showed(frames=7, seconds=1.0, width=None, height=None, facts={"video": silent})
    assert answer("readers-disagree", asked) == PASSED


def test_without_a_decode_the_headers_are_still_held_against_each_other() -> None:
    differing = {"disagreements": (Disagreement("bit depth", "8", "10"),)}
    for measured in (None, NotMeasured("it took too long", False)):
        given = answer("readers-disagree", one(video_file(facts=differing, measurements=measured)))
        assert isinstance(given, tuple)
        assert [each.found for each in given] == ["8 (libavformat), 10 (libmediainfo)"]


def test_nothing_decoded_contradicts_nothing() -> None:
    assert answer("readers-disagree", showed(frames=0, seconds=0.0, width=None, height=None)) == PASSED
