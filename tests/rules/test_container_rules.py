"""Rules about the container: each finds its defect, passes the clean twin, and leaves the others silent."""

from __future__ import annotations

import pytest

from mediacheck.media.facts import Disagreement
from mediacheck.rules.model import NOT_APPLICABLE, PASSED, One
from tests.rules.judging import RULES, Defect, answer, findings, holds, reads_well, reason
from tests.rules.make import bare_profile, container_facts, one, profile, unreadable_file, video_file

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
