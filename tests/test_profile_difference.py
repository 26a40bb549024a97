"""The laws of a difference: what is contained is no lack, what is not is one, and the rules agree."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from copy import deepcopy
from typing import Any, get_args, get_origin

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import BaseModel

from mediacheck.names import RULE_NAMES
from mediacheck.profile import Profile
from mediacheck.profile_difference import Lack, lacks
from mediacheck.profile_difference.keys import RULES_OF, WITHOUT_MEANING_FOR_A_FILE, plain_key
from tests.rules import make
from tests.test_profile_difference_bundled import reads_well

Sections = dict[str, Any]


def keys(a: Profile, b: Profile) -> list[str]:
    """Which keys lack."""
    return [lack.key for lack in lacks(a, b)]


def model_keys(part: type[BaseModel], section: str = "") -> Iterator[str]:
    """Every leaf of the model, dotted; what stands under a codec stands in its section, as in `plain_key`."""
    for name, field in part.model_fields.items():
        key = f"{section}{name}"
        inner = [kind for kind in _kinds(field.annotation) if isinstance(kind, type)]
        parts = [kind for kind in inner if issubclass(kind, BaseModel)]
        if parts and name == "codecs":
            yield key
            yield from model_keys(parts[0], section)
        elif parts and get_origin(field.annotation) is not tuple:
            yield from model_keys(parts[0], f"{key}.")
        else:
            yield key


def _kinds(annotation: Any) -> Iterator[Any]:
    yield annotation
    for inner in get_args(annotation):
        yield from _kinds(inner)


def test_every_key_of_a_profile_is_compared_or_said_to_be_without_meaning_and_why() -> None:
    in_model = set(model_keys(Profile))
    assert {"video.level_max", "audio.sample_rates", "player.settings", "rules", "id"} <= in_model
    assert set(RULES_OF) & set(WITHOUT_MEANING_FOR_A_FILE) == set()
    assert set(RULES_OF) | set(WITHOUT_MEANING_FOR_A_FILE) == in_model
    assert all(len(reason.split()) > 3 for reason in WITHOUT_MEANING_FOR_A_FILE.values())


def test_each_key_names_rules_that_there_are() -> None:
    assert {rule for rules in RULES_OF.values() for rule in rules} <= set(RULE_NAMES)


AVC, HEVC = "video.codecs.H.264", "video.codecs.H.265"
LOOSE: Sections = {
    "player": {"buffer_seconds": 2, "read_mbit_s": 200},
    "card": {
        "file_systems": ["FAT32", "exFAT"],
        "partition_tables": ["none", "MBR"],
        "capacity_max_gb": 64,
        "cluster_bytes_max": 65536,
        "free_percent_min": 1,
    },
    "layout": {"media_folder": "/media", "other_files": ["*.txt", "*.pdf"], "name_length_max": 64},
    "video": {
        "containers": ["MP4", "MOV"],
        "codecs": {
            "H.264": {"profiles": ["Main", "High 10"], "level_max": "5.1", "bit_rate_max": 40_000_000},
            "H.265": {"level_max": "5.1"},
        },
        "width_max": 3840,
        "height_max": 2160,
        "frame_rates": [25, 30, 60],
        "bit_rate_max": 50_000_000,
        "bit_rate_peak_max": 60_000_000,
        "bit_depths": [8, 10],
        "chroma": ["4:0:0", "4:2:0"],
        "gop_seconds_max": 10,
    },
    "audio": {
        "codecs": {
            "AAC": {"sample_rates": [44_100, 48_000], "channels_max": 6, "bit_rate_max": 500_000},
            "MP3": {"channels_max": 2},
        },
        "loudness_lufs": -23,
        "loudness_tolerance_lu": 2,
        "true_peak_dbtp_max": -1,
    },
    "stills": {"formats": ["JPEG", "PNG"], "width_max": 4096, "height_max": 4096},
    "loop": {
        "items_min": 1,
        "items_max": 20,
        "seconds_min": 5,
        "seconds_max": 600,
        "black_seconds_max": 3,
        "frozen_seconds_max": 10,
    },
    "rules": {"container-index": "note"},
}
TIGHTER: tuple[tuple[str, Any], ...] = (
    ("screen", {"width": 1920, "height": 1080}),
    ("screen.overscan_percent", 5),
    ("player.buffer_seconds", 1),
    ("player.read_mbit_s", 5),
    ("card.file_systems", ["FAT32"]),
    ("card.partition_tables", ["MBR"]),
    ("card.capacity_max_gb", 32),
    ("card.cluster_bytes_max", 32768),
    ("card.label_pattern", "[A-Z]+"),
    ("card.free_percent_min", 5),
    ("layout.media_folder", "/media/loop"),
    ("layout.subfolders", False),
    ("layout.other_files", ["*.txt"]),
    ("layout.required_files", ["list.txt"]),
    ("layout.name_pattern", "[a-z.]+"),
    ("layout.name_length_max", 32),
    ("layout.ascii_only", True),
    ("video.containers", ["MP4"]),
    (f"{AVC}.profiles", ["High 10"]),
    (f"{AVC}.level_max", "4.1"),
    (f"{HEVC}.level_max", "5"),
    (f"{AVC}.bit_rate_max", 30_000_000),
    ("video.width_max", 1920),
    ("video.height_max", 1080),
    ("video.frame_rates", [25, 30]),
    ("video.bit_rate_max", 30_000_000),
    ("video.bit_rate_peak_max", 30_000_000),
    ("video.bit_depths", [8]),
    ("video.chroma", ["4:2:0"]),
    ("video.scan", "progressive"),
    ("video.gop_seconds_max", 2),
    ("audio.use", "required"),
    ("audio.codecs.AAC.sample_rates", [48_000]),
    ("audio.codecs.AAC.channels_max", 2),
    ("audio.codecs.AAC.bit_rate_max", 320_000),
    ("audio.codecs.MP3.channels_max", 1),
    ("audio.loudness_tolerance_lu", 1),
    ("audio.true_peak_dbtp_max", -2),
    ("stills.formats", ["JPEG"]),
    ("stills.width_max", 1920),
    ("stills.height_max", 1080),
    ("loop.items_min", 3),
    ("loop.items_max", 10),
    ("loop.seconds_min", 60),
    ("loop.seconds_max", 300),
    ("loop.seamless", True),
    ("loop.black_seconds_max", 1),
    ("loop.frozen_seconds_max", 5),
    ("rules.container-index", "fail"),
)
BESIDE = {
    "layout.subfolders": ("layout.media_folder",),
    "audio.loudness_tolerance_lu": ("audio.loudness_lufs", "audio.loudness_tolerance_lu"),
    "player.buffer_seconds": ("player.buffer_seconds", "video.bit_rate_peak_max"),
}
"""Keys without which a tighter one means nothing."""


def path_of(key: str) -> tuple[str, ...]:
    """The steps to a key: codec names have full stops of their own."""
    named = re.fullmatch(r"(video|audio)\.codecs\.(.+)\.(\w+)", key)
    return (named[1], "codecs", named[2], named[3]) if named else tuple(key.split(".", 1))


def leaves(sections: Mapping[str, Any], before: tuple[str, ...] = ()) -> Iterator[tuple[str, ...]]:
    """The path of every value."""
    for key, value in sections.items():
        if isinstance(value, Mapping) and value:
            yield from leaves(value, (*before, key))
        else:
            yield (*before, key)


def with_value(sections: Sections, key: str, value: Any) -> Sections:
    """The sections with one value set."""
    made = deepcopy(sections)
    *steps, last = path_of(key)
    part = made
    for step in steps:
        part = part.setdefault(step, {})
    part[last] = value
    return made


def without(sections: Sections, path: tuple[str, ...]) -> Sections:
    """The sections with one value left out; the codec that it stood under stays."""
    made = deepcopy(sections)
    part = made
    for step in path[:-1]:
        part = part[step]
    del part[path[-1]]
    return made


def profile_of(sections: Sections) -> Profile:
    return make.bare_profile(**sections)


LEAVES = tuple(leaves(LOOSE))
SPARED = frozenset({("video", "codecs", "H.264", "profiles"), ("rules", "container-index")})


@st.composite
def loose_profiles(draw: st.DrawFn, kept: tuple[str, ...] = ()) -> Sections:
    """The loose profile with some limits left out."""
    given_up = draw(st.sets(st.sampled_from(LEAVES), max_size=len(LEAVES)))
    sections = LOOSE
    for path in given_up:
        if path not in SPARED and path not in {path_of(key) for key in kept}:
            sections = without(sections, path)
    return sections


@pytest.mark.parametrize(("key", "value"), TIGHTER, ids=[key for key, _ in TIGHTER])
@settings(max_examples=12)
@given(data=st.data())
def test_one_limit_tightened_is_one_lack_of_that_key_and_loosened_is_none(
    key: str, value: Any, data: st.DataObject
) -> None:
    under_codec = ("" if plain_key(key) == key or key.startswith("rules") else key,)
    sections = data.draw(loose_profiles((*BESIDE.get(key, ()), *filter(None, under_codec))))
    loose, tight = profile_of(sections), profile_of(with_value(sections, key, value))
    found = lacks(loose, tight)
    assert [lack.key for lack in found] == ["screen.width" if key == "screen" else key]
    assert found[0].in_a != found[0].in_b
    assert not found[0].always
    reads_well(found[0])
    assert lacks(tight, loose) == ()


@given(loose_profiles())
def test_a_profile_lacks_nothing_on_its_own_player(sections: Sections) -> None:
    assert lacks(profile_of(sections), profile_of(sections)) == ()


FULL_HD = {"screen": {"width": 1920, "height": 1080}}
STRIP = {"screen": {"width": 1920, "height": 540}}
NEED = {"layout": {"required_files": ["a.ini"]}}
NEITHER_LOOSER: tuple[tuple[str, Sections, Sections, bool], ...] = (
    ("screen.height", FULL_HD, STRIP, True),
    ("screen.turned_degrees", {}, {"screen": {"turned_degrees": 90}}, True),
    ("player.order", {}, {"player": {"order": "disk"}}, False),
    ("player.order", {"player": {"order": "disk"}}, {}, False),
    ("card.file_systems", {"card": {"file_systems": ["exFAT"]}}, {"card": {"file_systems": ["FAT32"]}}, True),
    ("card.file_systems", {"card": {"file_systems": ["ext"]}}, {}, False),
    ("layout.media_folder", {"layout": {"media_folder": "a"}}, {"layout": {"media_folder": "b"}}, True),
    ("layout.other_files", NEED, {"layout": {"other_files": []}}, True),
    ("layout.required_files", {"layout": {"other_files": []}}, NEED, True),
    ("video.containers", {"video": {"containers": ["MP4"]}}, {"video": {"containers": ["AVI"]}}, True),
    ("video.containers", {"video": {"containers": ["MP4"]}}, {"video": {"containers": []}}, True),
    ("video.codecs", {"video": {"codecs": {"H.264": {}}}}, {"video": {"codecs": {"VP9": {}}}}, True),
    ("video.codecs", {}, {"video": {"codecs": {}}}, False),
    ("video.width", {"video": {"width": 1920}}, {"video": {"width": 1280}}, True),
    ("video.height", {"video": {"height_max": 720}}, {"video": {"height": 1080}}, True),
    ("video.height_max", {"video": {"height": 1080}}, {"video": {"height_max": 720}}, True),
    ("video.frame_rates", {"video": {"frame_rates": [50]}}, {"video": {"frame_rates": [60]}}, True),
    ("video.frame_rates", {"video": {"frame_rates": [59.94]}}, {"video": {"frame_rates": [60]}}, True),
    ("video.scan", {"video": {"scan": "interlaced"}}, {"video": {"scan": "progressive"}}, True),
    ("audio.use", {"audio": {"use": "none"}}, {"audio": {"use": "required"}}, True),
    ("audio.use", {"audio": {"use": "required"}}, {"audio": {"use": "none"}}, True),
    ("audio.use", {}, {"audio": {"use": "none", "loudness_lufs": -23}}, False),
    ("audio.codecs", {"audio": {"codecs": {"MP3": {}}}}, {"audio": {"codecs": {"AAC": {}}}}, True),
    ("audio.loudness_lufs", {"audio": {"loudness_lufs": -23}}, {"audio": {"loudness_lufs": -16}}, True),
    ("audio.loudness_lufs", {"audio": {"loudness_lufs": -23}}, {"audio": {"loudness_lufs": -22}}, False),
    ("stills.formats", {"stills": {"formats": ["PNG"]}}, {"stills": {"formats": []}}, True),
    ("loop.items_min", {"loop": {"items_max": 2}}, {"loop": {"items_min": 3}}, True),
    ("loop.seconds_max", {"loop": {"seconds_min": 60}}, {"loop": {"seconds_max": 30}}, True),
    ("rules.container-index", {"rules": {"container-index": "off"}}, {}, False),
)  # fmt: skip
"""The key that lacks, A, B, and whether everything that fits A lacks it."""


@pytest.mark.parametrize(("key", "a", "b", "always"), NEITHER_LOOSER)
def test_where_two_limits_do_not_meet_everything_lacks_it(
    key: str, a: Sections, b: Sections, always: bool
) -> None:
    found = lacks(profile_of(a), profile_of(b))
    assert [(lack.key, lack.always) for lack in found] == [(key, always)]
    reads_well(found[0])


def test_another_time_for_stills_matters_where_the_round_is_limited() -> None:
    a, b = {"stills": {"seconds": 10}}, {"stills": {"seconds": 20}}
    limit = {"loop": {"seconds_max": 100}}
    assert keys(profile_of({**a, **limit}), profile_of({**b, **limit})) == ["stills.seconds"]
    assert keys(profile_of(a), profile_of(b)) == []


def test_every_key_has_a_witness() -> None:
    shown = [key for key, _ in TIGHTER if key != "screen"] + [key for key, *_ in NEITHER_LOOSER]
    rest = {"screen.width", "stills.seconds"}
    assert {plain_key(key) for key in shown} | rest == set(RULES_OF)


NO_LACK: tuple[tuple[str, Sections, Sections], ...] = (
    ("codec's profile: 8 bits", {"H.264": {"profiles": ["High"]}}, {"H.264": {"bit_depths": [8]}}),
    ("codec's profile: 4:2:0", {"H.264": {"profiles": ["Main"]}}, {"H.264": {"chroma": ["4:2:0"]}}),
    ("codec's profile: whole", {"H.264": {"profiles": ["Baseline"]}}, {"H.264": {"scan": "progressive"}}),
    ("codec's profile: H.265", {"H.265": {"profiles": ["Main"]}}, {"H.265": {"bit_depths": [8]}}),
    ("codec alone: whole", {"AV1": {}}, {"AV1": {"scan": "progressive"}}),
    ("kin", {"H.264": {"profiles": ["Constrained High"]}}, {"H.264": {"profiles": ["High"]}}),
    ("no levels", {"MJPEG": {}}, {"MJPEG": {"level_max": "4.1"}}),
    ("top level", {"H.264": {}}, {"H.264": {"level_max": "6.2"}}),
    ("exact within max", {"H.264": {"width": 1280}}, {"H.264": {"width_max": 1920}}),
)


@pytest.mark.parametrize(("why", "a", "b"), NO_LACK)
def test_what_the_codec_itself_settles_is_no_lack(why: str, a: Sections, b: Sections) -> None:
    assert keys(profile_of({"video": {"codecs": a}}), profile_of({"video": {"codecs": b}})) == [], why


def test_what_a_profile_of_the_codec_leaves_open_is_a_lack() -> None:
    a, b = {"profiles": ["High 10"]}, {"bit_depths": [8], "chroma": ["4:2:0"], "scan": "progressive"}
    found = keys(
        profile_of({"video": {"codecs": {"H.264": a}}}), profile_of({"video": {"codecs": {"H.264": b}}})
    )
    assert found == [f"{AVC}.bit_depths", f"{AVC}.chroma", f"{AVC}.scan"]


def test_a_shared_limit_is_one_lack_and_names_the_codecs_that_break_it() -> None:
    codecs: Sections = {"H.264": {"bit_rate_max": 10_000_000}, "H.265": {}, "VP9": {}}
    a = profile_of({"video": {"codecs": codecs, "bit_rate_max": 30_000_000}})
    b = profile_of({"video": {"codecs": {codec: {} for codec in codecs}, "bit_rate_max": 20_000_000}})
    assert lacks(a, b) == (
        Lack(
            "video.bit_rate_max",
            "30 Mbit/s",
            "20 Mbit/s",
            "A video in H.265 or VP9 for bare may have a bit rate of 30 Mbit/s; this player takes 20 Mbit/s "
            "at most, so it stutters or skips such a file.",
            False,
        ),
    )


def test_limits_that_differ_from_codec_to_codec_are_told_apart() -> None:
    a = {"H.264": {"bit_rate_max": 40_000_000}, "H.265": {"bit_rate_max": 30_000_000}}
    b = {"codecs": {"H.264": {}, "H.265": {}}, "bit_rate_max": 20_000_000}
    found = lacks(profile_of({"video": {"codecs": a}}), profile_of({"video": b}))
    assert [(lack.key, lack.in_a) for lack in found] == [
        (f"{AVC}.bit_rate_max", "40 Mbit/s"),
        (f"{HEVC}.bit_rate_max", "30 Mbit/s"),
    ]


@pytest.mark.parametrize(
    ("one", "others", "within"),
    [
        ("*.txt", ["*.TXT"], True),
        ("notes.txt", ["*.txt"], True),
        ("docs/*.txt", ["*.txt"], True),
        ("?.txt", ["*.txt"], True),
        ("*.txt", ["*"], True),
        ("*.[ct]xt", ["*.txt"], False),
        ("*.txt", ["notes.txt"], False),
        ("notes.txt", ["docs/*.txt"], False),
        ("*.txt", [], False),
        ("a.txt", ["/a.txt"], False),
        ("/a.txt", ["a.txt"], True),
        ("docs/*", ["docs/*"], True),
    ],
)
def test_a_wildcard_lies_within_another_only_where_that_is_plain(
    one: str, others: list[str], within: bool
) -> None:
    found = keys(
        profile_of({"layout": {"other_files": [one]}}), profile_of({"layout": {"other_files": others}})
    )
    assert found == ([] if within else ["layout.other_files"])


def test_a_rule_that_is_off_or_a_note_in_b_asks_for_nothing() -> None:
    limit = {"video": {"width": 1280}}
    for setting in ("off", "note"):
        assert keys(profile_of({}), profile_of({**limit, "rules": {"video-resolution": setting}})) == []
    assert keys(profile_of({}), profile_of({**limit, "rules": {"video-resolution": "warn"}})) == [
        "video.width"
    ]


HIGH = {"profiles": ["High"]}
SHAPED = {"width": 1920, "height": 1080}
LET_PASS: tuple[tuple[str, str, Sections, Sections], ...] = (
    (
        f"{AVC}.bit_depths",
        "video-profile",
        {"video": {"codecs": {"H.264": HIGH}}},
        {"video": {"codecs": {"H.264": {**HIGH, "bit_depths": [8]}}}},
    ),
    ("screen.width", "video-resolution", {"video": SHAPED}, {"video": SHAPED, "screen": SHAPED}),
    ("audio.codecs", "audio-unwanted", {}, {"audio": {"use": "none", "codecs": {"AAC": {}}}}),
    (
        "stills.width_max",
        "still-format",
        {"stills": {"formats": ["JPEG"]}},
        {"stills": {"formats": ["PNG"], "width_max": 1280}},
    ),
    (
        "player.order",
        "loop-count",
        {"loop": {"items_max": 1}},
        {"loop": {"items_max": 1}, "player": {"order": "disk"}},
    ),
)
"""The key that lacks, a rule that neither A nor B insists on, and both."""


@pytest.mark.parametrize("setting", ["off", "note"])
@pytest.mark.parametrize(("key", "rule", "a", "b"), LET_PASS)
def test_a_limit_that_is_not_insisted_on_rules_nothing_out(
    key: str, rule: str, a: Sections, b: Sections, setting: str
) -> None:
    rules = {"rules": {rule: setting}}
    found = lacks(profile_of({**a, **rules}), profile_of({**b, **rules}))
    assert [(lack.key, lack.always) for lack in found] == [(key, False)]
    reads_well(found[0])


def test_the_level_that_an_exact_size_needs_counts_only_where_a_insists_on_that_size() -> None:
    a, b = ({"video": {"codecs": {"H.264": each}}} for each in (SHAPED, {"level_max": "3"}))
    free = {"rules": {"video-resolution": "note"}}
    assert [lack.always for lack in lacks(profile_of(a), profile_of(b))] == [True]
    assert [lack.always for lack in lacks(profile_of({**a, **free}), profile_of(b))] == [False]


def test_where_b_welcomes_every_other_file_none_is_too_much() -> None:
    assert keys(profile_of({}), profile_of({"layout": {"other_files": ["*"]}})) == []
