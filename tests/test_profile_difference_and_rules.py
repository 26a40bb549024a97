"""The difference of two profiles held against the rules: what fits A and breaks a rule of B was foretold."""

from __future__ import annotations

import re
from collections.abc import Container, Iterable, Mapping
from copy import deepcopy
from dataclasses import replace
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import HealthCheck, assume, example, given, settings
from hypothesis import strategies as st
from pydantic import ValidationError

from mediacheck.card.model import Card
from mediacheck.judge import Judgement, judge
from mediacheck.loop import File, loop_of
from mediacheck.media.facts import AudioFacts, VideoFacts
from mediacheck.media.levels import h264_level_needed, h265_level_needed, level_order
from mediacheck.profile import Profile
from mediacheck.profile_difference import Lack, lacks
from mediacheck.profile_difference.accepted import takes_videos
from mediacheck.profile_difference.keys import RULES_OF, plain_key
from mediacheck.rules.catalogue import RULES
from tests.rules import make, measuring

Sections = dict[str, Any]


def of(section: str, *values: Sections) -> list[Sections]:
    """Fragments of profiles that set one section."""
    return [{section: value} for value in values]


def avc(**limits: Any) -> Sections:
    return {"codecs": {"H.264": limits}}


def hevc(**limits: Any) -> Sections:
    return {"codecs": {"H.265": limits}}


FRAGMENTS: list[Sections] = [
    *of(
        "screen",
        {"width": 1920, "height": 1080},
        {"width": 1366, "height": 768},
        {"width": 1920, "height": 540},
    ),
    *of("player", {"order": "disk"}, {"buffer_seconds": 0.2}, {"read_mbit_s": 8}, {"read_mbit_s": 20}),
    *of("card", {"file_systems": ["FAT32"]}, {"file_systems": ["FAT32", "exFAT"]}, {"file_systems": ["ext"]}),
    *of("card", {"partition_tables": ["MBR"]}, {"capacity_max_gb": 32}, {"cluster_bytes_max": 32768}),
    *of("card", {"label_pattern": "[A-Z_]+"}, {"free_percent_min": 5}, {"free_percent_min": 30}),
    *of("layout", {"media_folder": "/"}, {"media_folder": "media"}, {"media_folder": "media/loop"}),
    *of("layout", {"media_folder": "/", "subfolders": False}, {"media_folder": "media", "subfolders": False}),
    *of("layout", {"other_files": []}, {"other_files": ["*.txt"]}, {"other_files": ["no*", "*.mp4"]}),
    *of("layout", {"required_files": ["notes.txt"]}, {"name_pattern": "[a-z0-9.]+"}, {"name_length_max": 8}),
    *of("layout", {"ascii_only": True}),
    *of("video", {"containers": ["MP4"]}, {"containers": ["MP4", "MOV"]}, {"containers": []}, {"codecs": {}}),
    *of(
        "video",
        avc(),
        hevc(),
        avc(profiles=["High"]),
        avc(profiles=["High", "High 10"]),
        hevc(profiles=["Main"]),
    ),
    *of("video", avc(level_max="3.1"), avc(level_max="4.1"), hevc(level_max="4"), {"level_max": "4.1"}),
    *of("video", avc(width=1920, height=1080), {"width": 1280, "height": 720}, {"width_max": 1920}),
    *of("video", {"height_max": 720}, hevc(width_max=1280), {"height": 1080}),
    *of("video", {"frame_rates": [25, 30]}, {"frame_rates": [29.97]}, {"bit_rate_max": 5_000_000}),
    *of("video", {"bit_rate_max": 10_000_000}, avc(bit_rate_max=5_000_000), {"bit_rate_peak_max": 9_000_000}),
    *of("video", {"bit_rate_peak_max": 30_000_000}, {"bit_depths": [8]}, {"bit_depths": [8, 10]}),
    *of("video", {"chroma": ["4:2:0"]}, {"scan": "progressive"}, {"scan": "interlaced"}),
    *of("video", {"gop_seconds_max": 2}, {"gop_seconds_max": 0.5}),
    *of("audio", {"use": "none"}, {"use": "required"}, {"codecs": {}}, {"codecs": {"AAC": {}}}),
    *of("audio", {"codecs": {"AAC": {"sample_rates": [48_000], "channels_max": 2}, "MP3": {}}}),
    *of("audio", {"codecs": {"MP3": {"bit_rate_max": 64_000}}}),
    *of("audio", {"loudness_lufs": -23}, {"loudness_lufs": -20, "loudness_tolerance_lu": 4}),
    *of("audio", {"loudness_lufs": -16}, {"true_peak_dbtp_max": -1}, {"true_peak_dbtp_max": -4}),
    *of("stills", {"formats": ["JPEG"]}, {"formats": []}, {"width_max": 1920}, {"height_max": 1080}),
    *of("stills", {"seconds": 5}, {"seconds": 20}),
    *of(
        "loop", {"items_min": 2}, {"items_max": 2}, {"items_max": 1}, {"seconds_min": 15}, {"seconds_max": 25}
    ),
    *of("loop", {"seamless": True}, {"black_seconds_max": 1}, {"black_seconds_max": 3}),
    *of("loop", {"frozen_seconds_max": 1}, {"frozen_seconds_max": 4}),
    *of("rules", {"video-level": "off"}, {"video-codec": "note"}, {"audio-unwanted": "off"}),
    *of("rules", {"video-level": "warn"}, {"file-misplaced": "off"}, {"container-index": "note"}),
    *of("rules", {"container-format": "off"}, {"audio-codec": "off"}, {"play-order": "off"}),
    *of("rules", {"picture-black": "off"}, {"still-format": "note"}, {"video-shape": "off"}),
]


def merged(fragments: Iterable[Sections]) -> Sections:
    """All fragments in one; of two values for a key the later one."""
    whole: Sections = {}
    for fragment in fragments:
        _into(whole, deepcopy(fragment))
    return whole


def _into(whole: Sections, more: Mapping[str, Any]) -> None:
    for key, value in more.items():
        if isinstance(value, dict) and isinstance(whole.get(key), dict):
            _into(whole[key], value)
        else:
            whole[key] = value


@st.composite
def pairs(draw: st.DrawFn) -> tuple[Profile, Profile]:
    """Two profiles that share some limits, each with a few of its own."""
    some = st.lists(st.sampled_from(FRAGMENTS), max_size=3)
    shared, left, right = draw(some), draw(some), draw(some)
    try:
        return (
            make.bare_profile(**merged([*shared, *left])),
            make.bare_profile(**merged([*shared, *right])),
        )
    except ValidationError:
        assume(False)
        raise


SIZES = ((1920, 1080), (1280, 720), (1366, 768), (1920, 540), (3840, 2160))
STREAMS = (
    ("H.264", "Baseline", 8, "4:2:0"),
    ("H.264", "High", 8, "4:2:0"),
    ("H.264", "High", 8, "4:0:0"),
    ("H.264", "Constrained High", 8, "4:2:0"),
    ("H.264", "High 10", 10, "4:2:0"),
    ("H.264", "High 4:2:2", 10, "4:2:2"),
    ("H.265", "Main", 8, "4:2:0"),
    ("H.265", "Main 10", 10, "4:2:0"),
    ("VP9", "Profile 0", 8, "4:2:0"),
)
"""As the standards allow them: a High stream of 10 bits is not made."""
WHOLE_ONLY = ("Baseline", "Constrained High")
RATES = (Fraction(25), Fraction(30), Fraction(30000, 1001), Fraction(60))
FRAME_BYTES = 20_000, 33_000


@st.composite
def pictures(draw: st.DrawFn) -> VideoFacts:
    """A picture stream that keeps to its own standard, in its level too."""
    codec, profile, depth, chroma = draw(st.sampled_from(STREAMS))
    (width, height), rate = draw(st.sampled_from(SIZES)), draw(st.sampled_from(RATES))
    sizes = [draw(st.sampled_from(FRAME_BYTES))] * make.FRAMES
    sizes[100:110] = [draw(st.sampled_from((20_000, 120_000)))] * 10
    keyframe_every = draw(st.sampled_from((15, 30, 90)))
    whole = codec != "H.264" or profile in WHOLE_ONLY or (width, height) != (1920, 1080)
    made = make.video_facts(
        codec=codec,
        profile=profile,
        width=width,
        height=height,
        frame_rate=rate,
        bit_depth=depth,
        chroma=chroma,
        scan="progressive" if whole else draw(st.sampled_from(("progressive", "interlaced"))),
        bit_rate=sum(sizes) * 8 // 10,
        packets=make.packet_facts(sizes_bytes=sizes, keyframe_every=keyframe_every),
    )
    return with_level(made, draw(st.sampled_from(("3", "4.1", "5.1"))))


def with_level(picture: VideoFacts, marked: str) -> VideoFacts:
    """Marked with the level, or a higher one if the picture needs it."""
    size: dict[str, Any] = {
        "width": picture.width,
        "height": picture.height,
        "frame_rate": picture.frame_rate,
    }
    if picture.codec == "H.264":
        need = h264_level_needed(
            profile=picture.profile or "",
            reference_frames=4,
            bit_rate=picture.bit_rate,
            interlaced=False,
            **size,
        )
    else:
        need = h265_level_needed(dpb_frames=6, bit_rate=None, high_tier=False, **size)
    needed = need.level if need else marked
    codec = picture.codec if picture.codec in ("H.264", "H.265") else "H.265"
    ranks = level_order(codec, needed) or 0, level_order(codec, marked) or 0
    return replace(picture, level=needed if ranks[0] > ranks[1] else marked, level_needed=needed)


@st.composite
def tracks(draw: st.DrawFn) -> tuple[AudioFacts, ...]:
    """No sound or one track."""
    codec = draw(st.sampled_from(("", "AAC", "MP3", "AC-3")))
    if not codec:
        return ()
    facts = {
        "codec": codec,
        "sample_rate": draw(st.sampled_from((44_100, 48_000))),
        "channels": draw(st.sampled_from((2, 6))),
        "bit_rate": draw(st.sampled_from((64_000, 128_000))),
    }
    return (make.audio_facts(**facts),)


FOLDERS = ("", "", "media/", "media/loop/", "media/loop/a/")
NAMES = ("a", "b1", "C_3", "a long name of it", "é")


@st.composite
def media_files(draw: st.DrawFn, number: int) -> File:
    """A video or still that nothing is wrong with in itself."""
    stem = draw(st.sampled_from(FOLDERS)) + draw(st.sampled_from(NAMES)) + str(number)
    size_bytes = 10_000_000 + number
    if draw(st.integers(0, 3)) == 0:
        form = draw(st.sampled_from(("JPEG", "PNG")))
        width, height = draw(st.sampled_from(((1920, 1080), (4096, 2160))))
        name = f"{stem}.{'jpg' if form == 'JPEG' else 'png'}"
        return make.still_file(
            name, still=make.still_facts(format=form, width=width, height=height), size_bytes=size_bytes
        )
    picture, audio = draw(pictures()), draw(tracks())
    wrapping = draw(st.sampled_from(("MP4", "MOV", "MKV")))
    sound = measuring.sound(
        loudness_lufs=draw(st.sampled_from((-23.0, -20.0, -16.0))),
        true_peak_dbtp=draw(st.sampled_from((-5.0, -3.0, -0.5))),
    )
    measured = replace(
        measuring.CLEAN,
        width=picture.width,
        height=picture.height,
        black=measuring.spans(*draw(st.sampled_from(((), ((2.0, 4.0),), ((2.0, 3.5),))))),
        frozen=measuring.spans(*draw(st.sampled_from(((), ((5.0, 7.0),))))),
        sound=sound if audio else None,
    )
    return make.video_file(
        f"{stem}.{wrapping.lower()}",
        container=make.container_facts(
            name=wrapping, index=draw(st.sampled_from(("first", "first", "last")))
        ),
        video=picture,
        audio=audio,
        measurements=measured,
        size_bytes=size_bytes,
    )


@st.composite
def cards(draw: st.DrawFn) -> tuple[Card, tuple[File, ...]]:
    """A card with a few files, in any order."""
    files = [draw(media_files(number)) for number in range(draw(st.integers(1, 3)))]
    others = draw(st.sampled_from(((), (), ("notes.txt",), ("list.ini",))))
    placed = make.placed(draw(st.permutations([*files, *map(make.other_file, others)])))
    kind = draw(st.sampled_from(("FAT32", "exFAT", "ext")))
    volume = make.volume(
        file_system=kind,
        partition_table=draw(st.sampled_from(("MBR", "none"))),
        label=draw(st.sampled_from(("ROSE_LEFT", "R1"))),
        cluster_bytes=draw(st.sampled_from((16_384, 65_536))),
        medium_bytes=draw(st.sampled_from((16_004_194_304, 64_000_000_000))),
    )
    return make.card(*placed, volume=volume), placed


def held(card: tuple[Card, tuple[File, ...]], profile: Profile) -> Judgement:
    """What the whole check says of this card."""
    return judge(RULES, card[0], loop_of(card[1], profile, card[0].order_known), profile, "full")


def broken(judgement: Judgement, spared: Container[str | None] = ()) -> set[str]:
    """Rules whose finding is more than a note, but for those about some paths."""
    grave = [finding for finding in judgement.findings if finding.severity != "note"]
    return {finding.rule for finding in grave if finding.path not in spared}


def not_shown(files: Iterable[File], profile: Profile) -> set[str | None]:
    """Videos that the player does not show at all: that is what they lack, whatever else they would."""
    codecs = profile.video.codecs
    return {
        file.entry.path
        for file in files
        if file.media
        and file.media.video
        and (not takes_videos(profile) or (codecs is not None and file.media.video.codec not in codecs))
    }


FOLLOWS_FROM: Mapping[str, set[str]] = {
    "player.order": {"play-order"},
    "layout.media_folder": {"loop-count", "loop-length"},
    "layout.subfolders": {"loop-count", "loop-length"},
}
"""Rules that speak because another key lacks: what is never shown is missing in the loop too."""


def foretold(found: Iterable[Lack]) -> set[str]:
    """Rules that go by a key that lacks."""
    names: set[str] = set()
    for lack in found:
        plain = plain_key(lack.key)
        names |= set(RULES_OF[plain]) | FOLLOWS_FROM.get(plain, set())
        names |= {lack.key.removeprefix("rules.")} if plain == "rules" else set()
    return names


@settings(max_examples=60, suppress_health_check=[HealthCheck.filter_too_much, HealthCheck.too_slow])
@given(both=pairs(), card=cards())
def test_what_fits_a_and_breaks_a_rule_of_b_was_foretold(
    both: tuple[Profile, Profile], card: tuple[Card, tuple[File, ...]]
) -> None:
    here = held(card, both[0])
    assume(not broken(here) and all(item.expected for item in here.not_checked))
    found, there = foretold(lacks(*both)), held(card, both[1])
    shown = broken(there, not_shown(card[1], both[1]))
    assert shown - found == set()
    assert not broken(there) or found


def certain(both: tuple[Profile, Profile]) -> list[Lack]:
    """What everything lacks and a rule can see."""
    return [lack for lack in lacks(*both) if lack.always and RULES_OF[plain_key(lack.key)]]


@settings(max_examples=20, suppress_health_check=[HealthCheck.filter_too_much, HealthCheck.too_slow])
@given(both=pairs().filter(certain), card=cards())
@example(
    both=(make.bare_profile(video={"width": 1920, "height": 1080}), make.bare_profile(video={"width": 1280})),
    card=(make.card(make.video_file()), make.placed([make.video_file()])),
)
def test_what_always_lacks_is_found_in_every_file_that_it_is_about(
    both: tuple[Profile, Profile], card: tuple[Card, tuple[File, ...]]
) -> None:
    here = held(card, both[0])
    assume(not broken(here) and all(item.expected for item in here.not_checked))
    findings = held(card, both[1]).findings
    for lack in certain(both):
        rules = RULES_OF[plain_key(lack.key)]
        found = {finding.path for finding in findings if finding.rule in rules}
        assert about(lack, card[1], both[1]) <= found, lack


def about(lack: Lack, files: Iterable[File], profile: Profile) -> set[str | None]:
    """The files of which the lack says that all fail; the card itself is None."""
    section = lack.key.partition(".")[0]
    if section == "card":
        return {None}
    if section == "stills":
        return {file.entry.path for file in files if file.kind == "still"}
    if section not in ("video", "screen"):
        return set()
    named = re.search(r"^Every video in (.+) for bare ", lack.message)
    videos = [(file.entry.path, file.media.video) for file in files if file.media and file.media.video]
    told: set[str | None] = {
        path for path, each in videos if named is None or each.codec in named[1].split(" or ")
    }
    return told if lack.key in ("video.containers", "video.codecs") else told - not_shown(files, profile)


EXACT: Sections = {"video": {"width": 1920, "height": 1080}}
OTHER_16_TO_9: Sections = {"screen": {"width": 1366, "height": 768}}


@pytest.mark.parametrize(
    ("a", "b", "keys"),
    [
        ({"video": avc(profiles=["High"])}, {"video": avc(chroma=["4:2:0"])}, ["video.codecs.H.264.chroma"]),
        (EXACT, {**EXACT, **OTHER_16_TO_9}, []),
        ({"screen": {"width": 1920, "height": 1080}}, OTHER_16_TO_9, ["screen.width"]),
        (
            {"video": avc(), "rules": {"video-codec": "off"}},
            {"video": {"codecs": {"H.264": {}, "H.265": {"level_max": "4"}}}},
            ["video.codecs.H.265.level_max", "rules.video-codec"],
        ),
        (
            {"audio": {"use": "none"}, "rules": {"audio-unwanted": "off"}},
            {"audio": {"codecs": {"AAC": {}}}},
            ["audio.codecs"],
        ),
        (
            {"stills": {"formats": []}, "rules": {"still-format": "note"}},
            {"stills": {"width_max": 1920}},
            ["stills.width_max"],
        ),
        ({"video": {"containers": []}}, {"video": {"width": 1920}, "audio": {"use": "required"}}, []),
    ],
)
def test_what_a_lets_through_is_what_counts(a: Sections, b: Sections, keys: list[str]) -> None:
    assert [lack.key for lack in lacks(make.bare_profile(**a), make.bare_profile(**b))] == keys
