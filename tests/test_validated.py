"""What a person reads who made a mistake in a profile: file, line, key, what was expected, what was meant."""

from __future__ import annotations

import json
import re
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mediacheck.names import RULE_NAMES
from mediacheck.profile import Profile
from mediacheck.strict_yaml import InvalidFile, Problem, parse_mapping
from mediacheck.validated import validated

RATE = "a frame rate above 0 and up to 1000, such as 25, 29.97 or 30000/1001"
LEVEL = "a level as the standard writes it, such as 4.1"
UNKNOWN = "a key that is known here"
VIDEO_CODECS = "H.264, H.265, MPEG-4, MPEG-2, MPEG-1, VP9, AV1, MJPEG, VC-1 or ProRes"


def profile_of(text: str) -> Profile:
    """The profile in a text."""
    return validated(parse_mapping(text.encode(), "f.yaml"), Profile)


def problems_of(text: str) -> list[tuple[int | None, str, str, str, str | None]]:
    """Line, key, expected, found and nearest of each problem, in the order in which they are told."""
    with pytest.raises(InvalidFile) as refused:
        profile_of(text)
    assert {problem.file for problem in refused.value.problems} == {"f.yaml"}
    return [(p.line, p.key, p.expected, p.found, p.nearest) for p in refused.value.problems]


def given_values(text: str) -> dict[str, Any]:
    """What a profile says beyond the defaults."""
    return profile_of(text).model_dump(mode="json", exclude_defaults=True)


def test_words_that_look_like_numbers_or_a_yes_are_words_where_words_are_wanted() -> None:
    assert given_values(
        "id: 7\ntitle: 1.10\nscreen: {input: on}\nlayout: {name_pattern: 12_3}\n"
        "player: {settings: [{name: true, value: 2024}]}\nrules: {video-gop: off}\n"
    ) == {
        "id": "7",
        "title": "1.10",
        "screen": {"input": "on"},
        "layout": {"name_pattern": "12_3"},
        "player": {"settings": [{"name": "true", "value": "2024"}]},
        "rules": {"video-gop": "off"},
    }


def test_a_section_with_nothing_in_it_is_as_if_it_had_been_left_out() -> None:
    assert profile_of("id: a\nscreen:\nloop:\nrules:\n") == Profile(id="a")
    assert given_values("id: a\nvideo:\n  codecs:\n    H.264:\n    VP9:\n") == {
        "id": "a",
        "video": {"codecs": {"H.264": {}, "VP9": {}}},
    }


@pytest.mark.parametrize("level", ["4.1", '"4.1"', "'4.1'", "4.10"])
def test_a_level_may_stand_with_or_without_quotes(level: str) -> None:
    profile = profile_of(f"id: a\nvideo: {{codecs: {{H.264: {{level_max: {level}}}}}}}\n")
    assert profile.video.limits_for("H.264").level_max == "4.1"


@pytest.mark.parametrize(
    ("text", "problem"),
    [
        ("a:\n", (1, "a", UNKNOWN, '"a"', None)),
        ("screen:\n  widht: 3\n  height: 1\n", (2, "screen.widht", UNKNOWN, '"widht"', "screen.width")),
        ("\nframe_rates: [25]\n", (2, "frame_rates", UNKNOWN, '"frame_rates"', "video.frame_rates")),
        (
            "video:\n  profiles: [High]\n",
            (2, "video.profiles", UNKNOWN, '"profiles"', "video.codecs.NAME.profiles"),
        ),
        (
            "video:\n  codecs:\n    H.264:\n      levelmax: 4\n",
            (4, "video.codecs.H.264.levelmax", UNKNOWN, '"levelmax"', "video.codecs.H.264.level_max"),
        ),
        ("video:\n  codecs:\n    h264: {}\n", (3, "video.codecs.h264", VIDEO_CODECS, '"h264"', "H.264")),
        (
            "audio:\n  codecs:\n    AAC:\n      channels: 2\n",
            (4, "audio.codecs.AAC.channels", UNKNOWN, '"channels"', "audio.codecs.AAC.channels_max"),
        ),
        (
            "rules:\n  video-gob: off\n",
            (
                2,
                "rules.video-gob",
                f"one of the {len(RULE_NAMES)} names that are known here",
                '"video-gob"',
                "video-gop",
            ),
        ),
        (
            "rules:\n  video-gop: no\n",
            (2, "rules.video-gop", "off, note, warn or fail", 'the text "no"', None),
        ),
        (
            "rules:\n  video-gop: false\n",
            (2, "rules.video-gop", "off, note, warn or fail", "false", None),
        ),
        ("screen:\n  turned_degrees: 45\n", (2, "screen.turned_degrees", "0, 90, 180 or 270", "45", None)),
        (
            "video:\n  scan: Progressive\n",
            (2, "video.scan", "progressive or interlaced", 'the text "Progressive"', "progressive"),
        ),
        ("screen:\n  refresh_hz: fast\n", (2, "screen.refresh_hz", "a number", 'the text "fast"', None)),
        ("screen:\n  refresh_hz: -1\n", (2, "screen.refresh_hz", "more than 0", "-1", None)),
        ("video:\n  width: 19.5\n", (2, "video.width", "a whole number", "19.5", None)),
        ("video:\n  width: '1920'\n", (2, "video.width", "a whole number", 'the text "1920"', None)),
        ("video:\n  width: true\n", (2, "video.width", "a whole number", "true", None)),
        ("video:\n  width: 0\n", (2, "video.width", "1 or more", "0", None)),
        ("video:\n  width: 70_000\n", (2, "video.width", "at most 65536", "70_000", None)),
        ("video:\n  bit_rate_max: -5\n", (2, "video.bit_rate_max", "1 or more", "-5", None)),
        ("card:\n  free_percent_min: 100\n", (2, "card.free_percent_min", "less than 100", "100", None)),
        ("stills:\n  seconds: 1e999\n", (2, "stills.seconds", "a number", "1e999", None)),
        ("layout:\n  subfolders: no\n", (2, "layout.subfolders", "true or false", 'the text "no"', None)),
        ("layout:\n  subfolders:\n", (2, "layout.subfolders", "true or false", "nothing", None)),
        ("title:\n", (1, "title", "a text", "nothing", None)),
        ("title: [a]\n", (1, "title", "a text", "a list", None)),
        ("loop: 3\n", (1, "loop", "keys with values", "3", None)),
        ("loop: [a]\n", (1, "loop", "keys with values", "a list", None)),
        (
            "layout:\n  other_files: {a: b}\n",
            (2, "layout.other_files", "a list, such as [a, b]", "keys with values", None),
        ),
        ("video:\n  chroma: []\n", (2, "video.chroma", "at least one entry", "an empty list", None)),
        (
            "video:\n  frame_rates:\n    - 25\n    - fast\n",
            (4, "video.frame_rates[2]", RATE, 'the text "fast"', None),
        ),
        ("video:\n  frame_rates: [1/0]\n", (2, "video.frame_rates[1]", RATE, 'the text "1/0"', None)),
        ("video:\n  level_max: 41\n", (2, "video.level_max", LEVEL, "41", None)),
        ("video:\n  bit_depths: [9]\n", (2, "video.bit_depths[1]", "8, 10 or 12", "9", None)),
        (
            "layout:\n  name_pattern: '('\n",
            (
                2,
                "layout.name_pattern",
                "a regular expression without faults (missing ), unterminated subpattern at position 0)",
                'the text "("',
                None,
            ),
        ),
        ("screen:\n  input: HDMI\n  width: 3\n", (3, "screen.width", "height beside it", "no height", None)),
        (
            "video:\n  width_max: 4\n  width: 3\n",
            (2, "video.width_max", "either width or width_max", "both", None),
        ),
        (
            "loop:\n  seamless: true\n  items_max: 3\n  items_min: 5\n",
            (4, "loop.items_min", "at most items_max, which is 3", "5", None),
        ),
        (
            "player:\n  settings:\n    - name: a\n      value: b\n    - name: c\n",
            (5, "player.settings[2].value", "a value", "nothing", None),
        ),
    ],
)
def test_each_mistake_is_told_with_line_key_expectation_and_nearest_name(
    text: str, problem: tuple[int, str, str, str, str | None]
) -> None:
    assert problems_of(f"{text}id: a\n") == [problem]


def test_a_missing_key_is_told_for_the_place_that_it_is_missing_from() -> None:
    text = "id: a\nplayer:\n  settings:\n    - value: x\n"
    assert problems_of(text) == [(4, "player.settings[1].name", "a value", "nothing", None)]


def test_one_word_is_a_list_of_one() -> None:
    text = "id: a\nvideo: {containers: MP4, chroma: 4:2:0, bit_depths: 8, bit_rate_max: 20e6}\n"
    video = profile_of(text).video
    assert (video.containers, video.chroma, video.bit_depths) == (("MP4",), ("4:2:0",), (8,))
    assert video.bit_rate_max == 20_000_000


def test_an_id_that_cannot_be_a_file_name_is_refused() -> None:
    assert problems_of("id: My Player\n") == [
        (1, "id", "letters, digits, dots, hyphens and underscores", 'the text "My Player"', None)
    ]


def test_all_problems_are_told_in_the_order_of_their_lines() -> None:
    text = (
        "id: a\nrules: {video-gop: loud}\nvideo:\n  scan: x\n  width: -1\nscreen:\n  height: x\n  size: 3\n"
    )
    with pytest.raises(InvalidFile) as refused:
        profile_of(text)
    assert str(refused.value).splitlines() == [
        'f.yaml, line 2: rules.video-gop: expected off, note, warn or fail, found the text "loud".',
        'f.yaml, line 4: video.scan: expected progressive or interlaced, found the text "x".',
        "f.yaml, line 5: video.width: expected 1 or more, found -1.",
        'f.yaml, line 7: screen.height: expected a whole number, found the text "x".',
        'f.yaml, line 8: screen.size: expected a key that is known here, found "size".',
    ]


def test_a_list_with_only_wrong_entries_is_not_called_too_short_as_well() -> None:
    assert problems_of("id: a\nvideo:\n  chroma: [x]\n") == [
        (3, "video.chroma[1]", "4:0:0, 4:2:0, 4:1:1, 4:2:2, 4:4:0 or 4:4:4", 'the text "x"', None)
    ]


names = st.text(st.characters(codec="utf-8", categories=("L", "N")), min_size=1, max_size=8)
known = st.sampled_from(
    ["id", "screen", "video", "codecs", "H.264", "width", "settings", "rules", "video-gop"]
)
anything = st.recursive(
    st.none() | st.booleans() | st.integers(-5, 5) | st.floats(-2, 2) | names,
    lambda inside: (
        st.lists(inside, max_size=3).map(tuple) | st.dictionaries(names | known, inside, max_size=3)
    ),
    max_leaves=8,
)


@given(st.dictionaries(known | names, anything, max_size=4))
def test_any_values_end_in_a_profile_or_in_problems_with_a_line_and_a_key(data: dict[str, Any]) -> None:
    problems = refused_with(json.dumps(data, ensure_ascii=False))
    jargon = re.compile(r"Input should|pydantic|valid dictionary|NoneType|tuple|Extra inputs")
    assert [p for p in problems if p.line is None or not p.key or jargon.search(str(p))] == []


def refused_with(text: str) -> tuple[Problem, ...]:
    """The problems of a text, or none where it is a profile."""
    try:
        profile_of(text)
    except InvalidFile as error:
        return error.problems
    return ()
