"""Rules about how the picture is packed: each finds its defect and leaves the others silent."""

from __future__ import annotations

from typing import Any

import pytest

from mediacheck.media.levels import NO_LEVEL
from mediacheck.profile import Profile
from mediacheck.rules.model import NOT_APPLICABLE, PASSED, One
from tests.rules.judging import RULES, Defect, answer, failing, findings, holds, reason
from tests.rules.make import bare_profile, one, profile, unreadable_file, video_facts, video_file

STREAM_RULES = [name for name in RULES if name.startswith("video-")]
PACKING = ["video-codec", "video-profile", "video-level", "video-bit-depth", "video-chroma"]
H265 = profile(video={"codecs": {"H.265": {"profiles": ["Main"], "level_max": "5.1"}}})


def packed(limits: Profile | None = None, **changes: Any) -> One:
    """A conforming clip whose picture differs in these facts."""
    return one(video_file(video=video_facts(**changes)), limits)


def codecs(**limits: Any) -> Profile:
    """The basic profile with other codecs: `codecs(**{"MPEG-2": {"level_max": "Main"}})`."""
    return profile(video={"codecs": limits})


DEFECTS = {
    "no picture, only sound": Defect(
        "video-missing",
        one(video_file(facts={"video": None})),
        "only sound",
        "a picture",
        "the screen stays black",
        fixable=False,
    ),
    "nothing inside": Defect(
        "video-missing",
        one(video_file(facts={"video": None, "audio": ()})),
        "neither picture nor sound",
        "a picture",
        "holds neither picture nor sound",
        fixable=False,
    ),
    "two pictures": Defect(
        "video-extra-stream",
        one(video_file(facts={"extra_video_streams": 1})),
        "2 picture streams",
        "1 picture stream",
        "may be the wrong one",
    ),
    "codec": Defect(
        "video-codec",
        packed(codec="VP9", profile="Profile 0", level=None, level_needed=None),
        "VP9",
        "H.264",
        "the player unpacks only H.264 and will skip this file",
    ),
    "codec without a name of ours": Defect(
        "video-codec",
        packed(codecs(**{"H.264": {}, "MPEG-4": {}}), codec="DNXHD", profile=None, level=None),
        "DNXHD",
        "H.264 or MPEG-4",
        "packed as DNXHD",
    ),
    "no codec allowed": Defect(
        "video-codec", packed(codecs()), "H.264", "nothing", "shows no moving pictures at all", fixable=False
    ),
    "profile": Defect(
        "video-profile",
        packed(profile="Extended"),
        "Extended",
        "Baseline, Main or High",
        "the player knows only Baseline, Main or High",
    ),
    "profile of a simple player": Defect(
        "video-profile",
        packed(codecs(**{"H.264": {"profiles": ["Baseline"]}})),
        "High",
        "Baseline",
        "coded in the H.264 profile High",
    ),
    "full Baseline where only its constrained form is taken": Defect(
        "video-profile",
        packed(codecs(**{"H.264": {"profiles": ["Constrained Baseline"]}}), profile="Baseline"),
        "Baseline",
        "Constrained Baseline",
        "shows a torn picture",
    ),
    "level": Defect(
        "video-level", packed(level="4.2"), "4.2", "up to 4.1", "H.264 level 4.2 (how fast a player must be)"
    ),
    "level of two digits": Defect("video-level", packed(level="5"), "5", "up to 4.1", "goes up to 4.1"),
    "level of H.265": Defect(
        "video-level",
        packed(H265, codec="H.265", profile="Main", level="6", level_needed="5"),
        "6",
        "up to 5.1",
        "H.265 level 6",
    ),
    "level in words": Defect(
        "video-level",
        packed(
            codecs(**{"MPEG-2": {"level_max": "Main"}}), codec="MPEG-2", profile="Main", level="High-1440"
        ),
        "High-1440",
        "up to Main",
        "MPEG-2 level High-1440",
    ),
    "understated level": Defect(
        "video-level-understated",
        packed(
            level="4.1",
            level_needed="4.2",
            level_reason="489,600 macroblocks a second; level 4.1 allows 245,760",
        ),
        "4.1",
        "level 4.2",
        "needs level 4.2 (489,600 macroblocks a second; level 4.1 allows 245,760): the player takes the file",
    ),
    "no level is enough": Defect(
        "video-level-understated",
        packed(level_needed=NO_LEVEL, level_reason=None),
        "4",
        "more than any level",
        "needs more than any level: the player",
    ),
    "bit depth": Defect(
        "video-bit-depth",
        packed(bit_depth=10),
        "10 bit",
        "8 bit",
        "10 bits per colour and the player unpacks 8",
    ),
    "chroma": Defect("video-chroma", packed(chroma="4:2:2"), "4:2:2", "4:2:0", "unpacks only 4:2:0"),
    "PQ": Defect(
        "video-colour",
        packed(colour_transfer="smpte2084", colour_primaries="bt2020"),
        "HDR (PQ), wide colour (BT.2020)",
        "standard colour (BT.709)",
        "made for HDR (PQ) and wide colour (BT.2020), and a standard screen shows it grey",
    ),
    "HLG": Defect(
        "video-colour",
        packed(colour_transfer="arib-std-b67"),
        "HDR (HLG)",
        "standard colour (BT.709)",
        "HDR (HLG)",
    ),
    "P3": Defect(
        "video-colour",
        packed(colour_primaries="smpte432"),
        "wide colour (P3-D65)",
        "standard colour (BT.709)",
        "wide colour (P3-D65)",
    ),
}


@pytest.mark.parametrize("defect", DEFECTS.values(), ids=DEFECTS.keys())
def test_a_defect_is_found_by_its_own_rule_and_fails_no_other(defect: Defect) -> None:
    holds(defect)


def test_every_stream_rule_has_a_catalogue_text_and_a_source() -> None:
    for rule in RULES.values():
        assert rule.meaning.endswith("."), rule.name
        assert rule.meaning[0].isupper(), rule.name
        assert rule.source, rule.name
        assert rule.scope == "video", rule.name


def test_a_conforming_file_gives_no_finding_at_all() -> None:
    assert findings(one()) == {}


@pytest.mark.parametrize("rule", STREAM_RULES)
def test_a_conforming_file_passes_each_rule(rule: str) -> None:
    assert answer(rule) == PASSED


@pytest.mark.parametrize("rule", STREAM_RULES)
def test_a_file_that_could_not_be_read_is_not_checked(rule: str) -> None:
    assert reason(rule, one(unreadable_file())) == (
        "the file could not be read, so its picture was not checked",
        False,
    )


@pytest.mark.parametrize("rule", [name for name in STREAM_RULES if name != "video-missing"])
def test_a_file_without_a_picture_is_the_finding_of_video_missing_alone(rule: str) -> None:
    assert answer(rule, one(video_file(facts={"video": None}))) == NOT_APPLICABLE


@pytest.mark.parametrize("rule", PACKING)
def test_a_profile_that_leaves_a_limit_out_does_not_restrict_it(rule: str) -> None:
    odd = packed(bare_profile(), codec="VP9", profile="Profile 2", level="6.2", bit_depth=12, chroma="4:4:4")
    assert answer(rule, odd) == NOT_APPLICABLE


@pytest.mark.parametrize("rule", ["video-profile", "video-level", "video-level-understated"])
def test_a_codec_that_is_not_taken_is_not_blamed_for_its_profile_or_level_too(rule: str) -> None:
    shared = profile(video={"codecs": {"H.264": {"profiles": ["High"]}}, "level_max": "4.1"})
    wrong = packed(shared, codec="MPEG-2", profile="4:2:2", level="High", level_needed=None)
    assert answer(rule, wrong) == NOT_APPLICABLE
    assert failing(wrong) == {"video-codec"}


def test_shared_limits_hold_for_a_codec_that_is_not_taken() -> None:
    wrong = packed(codec="ProRes", profile="HQ", level=None, bit_depth=10, chroma="4:2:2", level_needed=None)
    assert failing(wrong) == {"video-codec", "video-bit-depth", "video-chroma"}


def test_limits_under_a_codec_take_the_place_of_the_shared_ones() -> None:
    own = codecs(**{"H.265": {"bit_depths": [8, 10]}, "H.264": {}})
    assert answer("video-bit-depth", packed(own, codec="H.265", bit_depth=10)) == PASSED
    assert failing(packed(own, bit_depth=10)) == {"video-bit-depth"}


@pytest.mark.parametrize(
    ("named", "allowed"),
    [
        ("Constrained Baseline", "Baseline"),
        ("Constrained Baseline", "Constrained Baseline"),
        ("Progressive High", "High"),
        ("Constrained High", "High"),
        ("Main", "main"),
    ],
)
def test_a_narrower_form_of_a_profile_counts_as_that_profile(named: str, allowed: str) -> None:
    limits = codecs(**{"H.264": {"profiles": [allowed]}})
    assert answer("video-profile", packed(limits, profile=named)) == PASSED


@pytest.mark.parametrize("level", ["1", "1b", "1.1", "3.2", "4", "4.1"])
def test_a_level_up_to_the_greatest_passes(level: str) -> None:
    assert answer("video-level", packed(level=level)) == PASSED


@pytest.mark.parametrize("codec", ["MJPEG", "ProRes", "MPEG-1", "DNXHD"])
def test_a_codec_without_levels_is_not_judged_by_one(codec: str) -> None:
    limits = bare_profile(video={"level_max": "4.1"})
    assert answer("video-level", packed(limits, codec=codec, level=None)) == NOT_APPLICABLE


def test_levels_that_do_not_compare_are_not_passed() -> None:
    shared = bare_profile(video={"level_max": "4.1"})
    assert reason("video-level", packed(shared, codec="MPEG-2", level="High")) == (
        "the levels High (file) and 4.1 (profile) of MPEG-2 do not compare",
        False,
    )


@pytest.mark.parametrize(("said", "needed"), [("4.1", "4"), ("4", "4"), ("1b", "1"), ("6.2", "5")])
def test_a_header_that_promises_enough_passes(said: str, needed: str) -> None:
    assert answer("video-level-understated", packed(level=said, level_needed=needed)) == PASSED


def test_the_needed_level_is_known_for_two_codecs_only() -> None:
    other = packed(bare_profile(), codec="VP9", level="3", level_needed=None)
    assert answer("video-level-understated", other) == NOT_APPLICABLE


@pytest.mark.parametrize(
    ("rule", "changes", "words"),
    [
        ("video-profile", {"profile": None}, "the file does not say which profile of its codec it uses"),
        ("video-level", {"level": None}, "the file does not say its level"),
        ("video-level-understated", {"level": None}, "the file does not say its level"),
        ("video-level-understated", {"level": "9.9"}, "9.9 is not a level of H.264"),
        (
            "video-level-understated",
            {"level_needed": None},
            "the level that the picture really needs could not be worked out",
        ),
        ("video-bit-depth", {"bit_depth": None}, "the file does not say how many bits each colour has"),
        ("video-chroma", {"chroma": None}, "the file does not say how finely its colours are stored"),
    ],
)
def test_a_fact_that_the_file_leaves_out_is_not_passed(
    rule: str, changes: dict[str, Any], words: str
) -> None:
    assert reason(rule, packed(**changes)) == (words, False)


def test_a_file_that_names_no_colours_counts_as_standard() -> None:
    assert answer("video-colour", packed(colour_transfer=None, colour_primaries=None)) == PASSED
