"""Rules about size, shape and lie of the picture: each finds its defect and leaves the others silent."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

import pytest

from mediacheck.profile import Profile
from mediacheck.rules.model import NOT_APPLICABLE, PASSED, One
from tests.rules.judging import Defect, answer, failing, findings, holds, reads_well, reason
from tests.rules.make import bare_profile, one, profile, video_facts, video_file


def shaped(limits: Profile | None = None, **changes: Any) -> One:
    """A conforming clip whose picture differs in these facts."""
    return one(video_file(video=video_facts(**changes)), limits)


def sized(screen: tuple[int, int] = (1920, 1080), **size: int) -> Profile:
    """A profile that restricts nothing but the size, on a screen of this size."""
    return bare_profile(screen={"width": screen[0], "height": screen[1]}, video=size)


UP_TO = sized(width_max=1920, height_max=1080)
DEFECTS = {
    "too small": Defect(
        "video-resolution",
        shaped(width=1280, height=720),
        "1280x720",
        "1920x1080",
        "1280x720 pixels and the player takes 1920x1080: it skips the file or shows the picture small",
    ),
    "too large": Defect(
        "video-resolution",
        shaped(width=3840, height=2160),
        "3840x2160",
        "1920x1080",
        "too large for it, so it skips the file or stutters",
    ),
    "one pixel off": Defect(
        "video-resolution", shaped(height=1088), "1920x1088", "1920x1080", "the picture is too large"
    ),
    "lying for standing": Defect(
        "video-resolution", shaped(width=1080, height=1920), "1080x1920", "1920x1080", "with bars beside it"
    ),
    "over the greatest size": Defect(
        "video-resolution",
        shaped(UP_TO, width=2048, height=1080),
        "2048x1080",
        "up to 1920x1080",
        "takes up to 1920x1080",
    ),
    "over the greatest height": Defect(
        "video-resolution",
        shaped(UP_TO, width=1080, height=1920),
        "1080x1920",
        "up to 1920x1080",
        "too large",
    ),
    "only the width is given": Defect(
        "video-resolution", shaped(sized(width=1280)), "1920x1080", "1280 wide", "takes 1280 wide"
    ),
    "exact width, greatest height": Defect(
        "video-resolution",
        shaped(sized(width=1920, height_max=540)),
        "1920x1080",
        "1920 wide and up to 540 high",
        "too large",
    ),
    "interlaced": Defect(
        "video-interlaced",
        shaped(scan="interlaced"),
        "interlaced",
        "progressive",
        "edges that move look like combs",
    ),
    "progressive for an interlaced player": Defect(
        "video-interlaced",
        shaped(profile(video={"scan": "interlaced"})),
        "progressive",
        "interlaced",
        "takes only half pictures in turn",
        fixable=False,
    ),
    "rotation mark": Defect(
        "video-rotation", shaped(rotation=90), "90 degrees clockwise", "0 degrees", "show it on its side"
    ),
    "rotation mark the other way": Defect(
        "video-rotation",
        shaped(rotation=-90),
        "270 degrees clockwise",
        "0 degrees",
        "by 270 degrees clockwise",
    ),
    "upside down": Defect(
        "video-rotation", shaped(rotation=180), "180 degrees clockwise", "0 degrees", "show it upside down"
    ),
    "a little askew": Defect(
        "video-rotation", shaped(rotation=5), "5 degrees clockwise", "0 degrees", "askew"
    ),
    "wide pixels": Defect(
        "video-pixel-aspect", shaped(pixel_aspect=Fraction(4, 3)), "4:3", "1:1", "everything looks too narrow"
    ),
    "narrow pixels": Defect(
        "video-pixel-aspect", shaped(pixel_aspect=Fraction(8, 9)), "8:9", "1:1", "everything looks too wide"
    ),
    "wider than the screen": Defect(
        "video-shape",
        shaped(sized(), width=1920, height=540),
        "3.556:1 (1920x540)",
        "1.778:1 (1920x1080)",
        "black bars appear above and below it",
        fixable=False,
    ),
    "narrower than the screen": Defect(
        "video-shape",
        shaped(sized(), width=1440, height=1080),
        "1.333:1 (1440x1080)",
        "1.778:1 (1920x1080)",
        "black bars appear on the left and right of it",
        fixable=False,
    ),
}


@pytest.mark.parametrize("defect", DEFECTS.values(), ids=DEFECTS.keys())
def test_a_defect_is_found_by_its_own_rule_and_fails_no_other(defect: Defect) -> None:
    holds(defect)


@pytest.mark.parametrize(
    ("limits", "width", "height"),
    [
        (UP_TO, 1920, 1080),
        (UP_TO, 16, 16),
        (sized(width=1280), 1280, 4000),
        (sized(height_max=540), 7680, 540),
    ],
)
def test_a_size_within_its_limits_passes(limits: Profile, width: int, height: int) -> None:
    assert answer("video-resolution", shaped(limits, width=width, height=height)) == PASSED


@pytest.mark.parametrize("rule", ["video-resolution", "video-interlaced", "video-shape"])
def test_a_profile_that_leaves_a_limit_out_does_not_restrict_it(rule: str) -> None:
    odd = shaped(bare_profile(), width=64, height=2048, scan="interlaced")
    assert answer(rule, odd) == NOT_APPLICABLE


def test_a_size_under_a_codec_replaces_the_shared_one() -> None:
    own = profile(video={"codecs": {"H.264": {"width_max": 1280, "height_max": 720}}})
    assert answer("video-resolution", shaped(own, width=640, height=360)) == PASSED
    assert failing(shaped(own)) == {"video-resolution"}


def test_a_turned_panel_takes_the_picture_in_the_shape_of_the_panel() -> None:
    """The picture is turned before encoding, so a lying 1920x1080 fits a panel that stands."""
    standing = profile(screen={"width": 1920, "height": 1080, "turned_degrees": 90})
    assert answer("video-shape", shaped(standing)) == PASSED
    assert set(findings(shaped(standing, width=1080, height=1920))) == {"video-resolution", "video-shape"}


@pytest.mark.parametrize(
    ("width", "height", "aspect"),
    [(1366, 768, 1), (854, 480, 1), (1920, 1088, 1), (1440, 1080, Fraction(4, 3)), (640, 360, 1)],
)
def test_shapes_that_differ_unseen_pass(width: int, height: int, aspect: Fraction) -> None:
    asked = shaped(sized(), width=width, height=height, pixel_aspect=Fraction(aspect))
    assert answer("video-shape", asked) == PASSED


@pytest.mark.parametrize("aspect", [Fraction(1), Fraction(1280, 1281), Fraction(4321, 4320)])
def test_pixels_that_are_square_but_for_rounding_pass(aspect: Fraction) -> None:
    assert answer("video-pixel-aspect", shaped(pixel_aspect=aspect)) == PASSED


@pytest.mark.parametrize("rotation", [0, 360, -360])
def test_a_whole_turn_is_no_turn(rotation: int) -> None:
    assert answer("video-rotation", shaped(rotation=rotation)) == PASSED


@pytest.mark.parametrize("codec", ["VP9", "AV1"])
def test_codecs_without_interlaced_coding_are_progressive_though_silent_about_it(codec: str) -> None:
    limits = bare_profile(video={"scan": "progressive"})
    assert answer("video-interlaced", shaped(limits, codec=codec, scan=None)) == PASSED


def test_a_scan_that_the_file_leaves_out_is_not_passed() -> None:
    assert reason("video-interlaced", shaped(scan=None)) == (
        "the file does not say whether it is interlaced",
        False,
    )


def test_squeezed_pixels_in_a_wrong_size_are_two_findings_that_are_both_true() -> None:
    seen = findings(shaped(width=1440, height=1080, pixel_aspect=Fraction(4, 3)))
    assert set(seen) == {"video-resolution", "video-pixel-aspect"}
    for those in seen.values():
        reads_well(those[0])
