"""Every fact in which a file can differ: it is found, weighed by its rule, and its twin gives nothing."""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction
from typing import Any

import pytest

from mediacheck.compare.facts import FACTS
from mediacheck.media.facts import Unreadable
from mediacheck.names import RuleName, Severity
from tests.compare.make import brief, clip, compared, encoded_again, sha, still
from tests.rules import make
from tests.rules.judge import assert_sentence
from tests.rules.make import audio_facts, container_facts, still_facts, video_facts


@dataclass(frozen=True)
class Case:
    """What is so on the bad card, and what must be said of it."""

    rule: RuleName
    severity: Severity
    changes: dict[str, Any]
    good: str
    bad: str
    good_changes: dict[str, Any] = field(default_factory=dict)
    path: str = "a.mp4"


def of_video(**changes: Any) -> dict[str, Any]:
    return {"video": video_facts(**changes)}


def of_sound(**changes: Any) -> dict[str, Any]:
    return {"audio": (audio_facts(**changes),)}


def of_box(**changes: Any) -> dict[str, Any]:
    return {"container": container_facts(**changes)}


CASES = {
    "container": Case("container-format", "fail", of_box(name="MOV"), "MP4", "MOV", path="a.clip"),
    "index": Case("container-index", "warn", of_box(index="last"), "at the start", "at the end"),
    "fragmented": Case(
        "container-fragmented", "warn", of_box(fragmented=True), "as one whole", "in pieces (fragmented)"
    ),
    "more pictures": Case(
        "video-extra-stream",
        "warn",
        {"facts": {"extra_video_streams": 1}},
        "0 more picture streams",
        "1 more picture stream",
    ),
    "codec": Case("video-codec", "fail", of_video(codec="VP9", profile=None, level=None), "H.264", "VP9"),
    "profile": Case("video-profile", "fail", of_video(profile="High 10"), "H.264 High", "H.264 High 10"),
    "lower profile": Case("video-profile", "note", of_video(profile="Main"), "H.264 High", "H.264 Main"),
    "level": Case("video-level", "fail", of_video(level="5.1"), "H.264 level 4", "H.264 level 5.1"),
    "lower level": Case(
        "video-level", "note", of_video(level="3.1", level_needed="3.1"), "H.264 level 4", "H.264 level 3.1"
    ),
    "bit depth": Case("video-bit-depth", "fail", of_video(bit_depth=10), "8 bits", "10 bits"),
    "chroma": Case("video-chroma", "fail", of_video(chroma="4:2:2"), "4:2:0", "4:2:2"),
    "size": Case("video-resolution", "fail", of_video(width=1280, height=720), "1920 x 1080", "1280 x 720"),
    "frame rate": Case(
        "video-frame-rate",
        "fail",
        of_video(frame_rate=Fraction(24000, 1001)),
        "30 frames per second",
        "23.976 frames per second",
    ),
    "rhythm": Case(
        "video-frame-rate-variable", "fail", of_video(frame_rate_mode="variable"), "even", "uneven"
    ),
    "bit rate": Case("video-bit-rate", "fail", of_video(bit_rate=24_000_000), "7.92 Mbit/s", "24 Mbit/s"),
    "lower bit rate": Case("video-bit-rate", "note", of_video(bit_rate=2_000_000), "7.92 Mbit/s", "2 Mbit/s"),
    "scan": Case(
        "video-interlaced",
        "fail",
        of_video(scan="interlaced"),
        "whole (progressive)",
        "woven of halves (interlaced)",
    ),
    "rotation": Case("video-rotation", "fail", of_video(rotation=90), "0 degrees", "90 degrees"),
    "pixel aspect": Case(
        "video-pixel-aspect", "fail", of_video(pixel_aspect=Fraction(4, 3)), "square", "4:3"
    ),
    "square again": Case(
        "video-pixel-aspect",
        "note",
        {},
        "4:3",
        "square",
        good_changes=of_video(pixel_aspect=Fraction(4, 3)),
    ),
    "colour": Case(
        "video-colour",
        "warn",
        of_video(colour_primaries="bt2020", colour_transfer="smpte2084"),
        "bt709, bt709",
        "bt2020, smpte2084",
    ),
    "gop": Case(
        "video-gop",
        "warn",
        of_video(packets=make.packet_facts(keyframe_every=150)),
        "1 s",
        "5 s",
    ),
    "no sound": Case("audio-missing", "warn", {"audio": ()}, "sound", "no sound"),
    "sound": Case("audio-unwanted", "warn", {}, "no sound", "sound", good_changes={"audio": ()}),
    "sound codec": Case("audio-codec", "fail", of_sound(codec="AC-3"), "AAC", "AC-3"),
    "sample rate": Case(
        "audio-sample-rate",
        "fail",
        of_sound(sample_rate=96_000),
        "48,000 samples per second",
        "96,000 samples per second",
    ),
    "channels": Case("audio-channels", "fail", of_sound(channels=6), "stereo", "6 channels"),
    "fewer channels": Case("audio-channels", "note", of_sound(channels=1), "stereo", "mono"),
    "sound bit rate": Case("audio-bit-rate", "fail", of_sound(bit_rate=512_000), "128 kbit/s", "512 kbit/s"),
    "length": Case("loop-length", "warn", {"facts": {"duration": Fraction(12)}}, "10 s", "12 s"),
}
STILLS: dict[str, tuple[RuleName | None, Severity, dict[str, Any], str, str]] = {
    "format": ("still-format", "fail", {"format": "PNG"}, "JPEG", "PNG"),
    "progressive": (
        "still-progressive",
        "fail",
        {"progressive": True},
        "plainly from top to bottom",
        "in progressive steps",
    ),
    "colour": ("still-colour", "fail", {"colour": "CMYK"}, "RGB with 8 bits", "CMYK with 8 bits"),
    "depth": ("still-colour", "fail", {"bit_depth": 16}, "RGB with 8 bits", "RGB with 16 bits"),
    "turned": (
        "still-orientation",
        "warn",
        {"orientation": 6},
        "marked upright",
        "marked to be turned (EXIF 6)",
    ),
    "size": ("still-resolution", "warn", {"width": 800, "height": 600}, "1920 x 1080", "800 x 600"),
    "frames": (None, "warn", {"frames": 12}, "1 picture", "12 pictures"),
}


@pytest.mark.parametrize("name", CASES)
def test_a_fact_that_differs_is_found_and_weighed_and_nothing_else_is(name: str) -> None:
    case = CASES[name]
    found = compared([clip(case.path, **case.good_changes)], [encoded_again(case.path, **case.changes)])
    told = [each for each in found.differences if each.rule is not None]
    assert [(each.rule, each.severity, each.good, each.bad) for each in told] == [
        (case.rule, case.severity, case.good, case.bad)
    ]
    assert [(each.good_path, each.bad_path) for each in told] == [(case.path, case.path)]
    for sentence in (told[0].message, told[0].action):
        assert_sentence(sentence)


@pytest.mark.parametrize("name", CASES)
def test_a_graver_fact_stands_before_the_line_about_the_file(name: str) -> None:
    case = CASES[name]
    found = compared([clip(case.path, **case.good_changes)], [encoded_again(case.path, **case.changes)])
    order = [each.rule for each in found.differences]
    assert order == ([None, case.rule] if case.severity == "note" else [case.rule, None])


@pytest.mark.parametrize("name", STILLS)
def test_a_fact_of_stills_that_differs_is_found(name: str) -> None:
    rule, severity, changes, good, bad = STILLS[name]
    other = still("a.jpg", "again", still=still_facts(**changes), size_bytes=9_000_000)
    found = compared([still()], [other])
    told = [each for each in found.differences if each.subject == "still"]
    assert [(each.rule, each.severity, each.good, each.bad) for each in told] == [(rule, severity, good, bad)]


def test_the_twin_of_every_case_gives_no_difference() -> None:
    for case in CASES.values():
        files = [clip(**case.changes)]
        assert compared(files, files).differences == ()


UNNOTABLE = {
    "bit rate": of_video(bit_rate=11_000_000),
    "frame rate": of_video(frame_rate=Fraction(30_001, 1000)),
    "gop": of_video(packets=make.packet_facts(keyframe_every=40)),
    "length": {"facts": {"duration": Fraction("10.4")}},
    "sound bit rate": of_sound(bit_rate=160_000),
}


@pytest.mark.parametrize("name", UNNOTABLE)
def test_what_differs_by_little_is_no_difference(name: str) -> None:
    found = compared([clip()], [encoded_again(**UNNOTABLE[name])])
    assert [each.rule for each in found.differences] == [None]


def test_what_other_files_of_the_good_card_are_weighs_less() -> None:
    other = clip("b.mp4", **of_video(codec="H.265", profile="Main", level="4"))
    bad = encoded_again(**of_video(codec="H.265", profile="Main", level="4"))
    found = compared([clip(), other], [bad, other])
    assert brief(found.differences)[0] == ("warn", "video-codec", "a.mp4", "a.mp4")
    assert "the good card has such files too and plays" in found.differences[0].message


def test_a_fact_in_which_all_others_agree_is_rarer_than_one_that_varies_anyway() -> None:
    good = [clip(f"{n}.mp4", **of_video(level=level)) for n, level in enumerate(("4", "4", "3", "3.1"))]
    bad = [encoded_again("0.mp4", **of_video(level="5.1", bit_depth=10)), *good[1:]]
    varieties = {each.rule: each.variety for each in compared(good, bad).differences}
    assert varieties["video-bit-depth"] == 0
    assert varieties["video-level"] == pytest.approx(4 / 7)


def test_rarity_decides_within_a_rule() -> None:
    """Two files with another sample rate: that of the one is on the card twice, that of the other once."""
    good = [clip(name) for name in ("a.mp4", "b.mp4", "c.mp4")]
    odd, common = of_sound(sample_rate=22_050), of_sound(sample_rate=96_000)
    bad = [
        encoded_again("a.mp4", **common),
        encoded_again("b.mp4", **common),
        encoded_again("c.mp4", **odd),
    ]
    told = [each.bad_path for each in compared(good, bad).differences if each.rule == "audio-sample-rate"]
    assert told == ["c.mp4", "a.mp4", "b.mp4"]


def test_an_item_that_nothing_stands_for_is_held_against_all_of_its_kind() -> None:
    good = [clip("a.mp4"), clip("b.mp4", **of_video(width=1280, height=720))]
    extra = [clip("x.mp4", **of_video(codec="H.265", profile="Main", width=1280, height=720))]
    found = compared(good, extra)
    assert brief(found.differences) == [
        ("fail", "video-codec", None, "x.mp4"),
        ("warn", None, "a.mp4", None),
        ("warn", None, "b.mp4", None),
        ("warn", None, None, "x.mp4"),
    ]
    assert found.differences[0].good == "H.264"


def test_what_a_file_does_not_say_is_not_called_the_same() -> None:
    found = compared([clip(**of_video(level=None))], [encoded_again()])
    assert [(gap.what, gap.reason, gap.expected) for gap in found.not_compared[:1]] == [
        ("the level", "the file on the good card does not say it", True)
    ]
    assert not [words for words in found.same if "the level" in words]


def test_a_file_that_cannot_be_read_on_the_bad_card_only() -> None:
    broken = make.unreadable_file("a.mp4", sha256=sha("broken"))
    found = compared([clip()], [broken])
    assert brief(found.differences)[0] == ("fail", "file-unreadable", "a.mp4", "a.mp4")
    assert isinstance(broken.facts, Unreadable)


def test_a_file_that_cannot_be_read_on_either_card_is_not_called_the_same() -> None:
    good, bad = (make.unreadable_file("a.mp4", sha256=sha(name), size_bytes=99) for name in ("x", "y"))
    found = compared([good], [bad])
    assert [(gap.what, gap.reason) for gap in found.not_compared if not gap.expected] == [
        ("what the file holds", f"it could not be read on the {side} card") for side in ("good", "bad")
    ]
    assert found.same == tuple(words for words in found.same if "alike" not in words)


def test_every_fact_has_words_that_make_sentences() -> None:
    assert {fact.says.count("{}") for fact in FACTS} == {1}
    assert [fact.name for fact in FACTS if fact.effect.endswith(".") or not fact.action.endswith(".")] == []
