"""A learned profile as text: it reads back as what was learned, and says where each value comes from."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from mediacheck.learn.document import WIDTH, comment, document
from mediacheck.learn.model import Key, Learned, Plain, Value
from mediacheck.learn.plain import flow
from mediacheck.profile import Profile
from mediacheck.profile_files import read_profile
from mediacheck.strict_yaml import parse_mapping
from tests.learn.plain_values import SEEN, TEXTS, WORDS, at, learned, learnings, once, same

EXAMPLE = """\
# Made by `mediacheck profile learn`. A line `# learned ...` says what was seen on the cards.
# Change the value below it, and it is yours: `--merge` then leaves it as it is.

id: my-player
title: Learned from 3 cards that play
notes: >-
  From cards that play.

  The data sheet of your player decides: where it differs, change the value.

card:
  # learned [FAT32]: seen on 3 of 3 cards: 12 files
  file_systems: [FAT32]

video:
  # learned [H.264, VC-1]: H.264 seen on 3 of 3 cards: 12 files
  codecs:
    H.264:
      # learned [Main, High]: seen on 3 of 3 cards: 12 files
      profiles: [Main, High]
      # learned "4.1": seen on 3 of 3 cards: 12 files
      level_max: "4.1"
    VC-1: {}
      # bit_rate_max: 8000000  # seen on 1 of 1 card: 1 file; one file is too little for a limit
  # learned [25, 29.97]: seen on 3 of 3 cards: 12 files
  frame_rates: [25, 29.97]

# audio:
#   codecs:
#     AAC:
#       channels_max: 2  # seen on 1 of 1 card: 1 file; one file is too little for a limit
"""


def profile_of(text: str) -> Profile:
    """The profile that the text is, read as from any file."""
    with TemporaryDirectory() as folder:
        path = Path(folder) / "my-player.yaml"
        path.write_text(text, "utf-8", newline="")
        return read_profile(path).profile


def test_each_value_stands_under_its_evidence_and_one_file_makes_no_limit() -> None:
    limits = learned(
        ("card.file_systems", ("FAT32",)),
        (("video", "codecs", "H.264"), ()),
        (("video", "codecs", "H.264", "profiles"), ("Main", "High")),
        (("video", "codecs", "H.264", "level_max"), "4.1"),
        ("video.frame_rates", (25, 29.97)),
    )
    single = (
        once(("video", "codecs", "VC-1", "bit_rate_max"), 8_000_000),
        once("audio.codecs.AAC.channels_max", 2),
    )
    values = (*limits.values[:-1], single[0], limits.values[-1], single[1])
    text = document(
        Learned(values, limits.cards, limits.notes), "my-player", "Learned from 3 cards that play"
    )
    assert text == EXAMPLE


def test_sections_stand_in_the_order_of_a_profile() -> None:
    text = document(learned(("loop.items_min", 1), ("card.free_percent_min", 5)), "x", "")
    assert text.index("card:") < text.index("loop:")


@settings(max_examples=25, deadline=None)
@given(learnings(), TEXTS | WORDS)
def test_what_was_learned_is_what_the_text_reads_back_as(taught: Learned, title: str) -> None:
    profile = profile_of(document(taught, "my-player", title))
    limits = [value for value in taught.values if value.is_limit]
    assert [v for v in limits if not _holds(profile, v)] == []
    assert profile.id == "my-player"
    assert _limited(profile) == {v.key for v in limits if v.key[1:2] != ("codecs",) or len(v.key) > 3}


def _holds(profile: Profile, value: Value) -> bool:
    held = at(profile, value.key)
    return held is not None and (len(value.key) == 3 or same(held, value.value))


def _limited(profile: Profile) -> set[Key]:
    """Every place of the profile where a value was given, codecs left out."""
    given = profile.model_dump(exclude_unset=True, exclude={"id", "title", "notes"})
    return set(_leaves(given, ()))


def _leaves(held: Mapping[str, object], above: Key) -> list[Key]:
    places: list[Key] = []
    for name, value in held.items():
        is_part = isinstance(value, Mapping)
        places += (
            _leaves(value, (*above, name)) if isinstance(value, Mapping) else [(*above, name)] * (not is_part)
        )
    return places


@settings(max_examples=15, deadline=None)
@given(learnings())
def test_all_codecs_that_were_seen_are_named_where_any_is(taught: Learned) -> None:
    profile = profile_of(document(taught, "x", ""))
    for section, codecs in (("video", profile.video.codecs), ("audio", profile.audio.codecs)):
        under = [value for value in taught.values if value.key[:2] == (section, "codecs")]
        names = {value.key[2] for value in under} if any(value.is_limit for value in under) else None
        assert (None if codecs is None else set(codecs)) == names


PLAIN = st.recursive(
    st.booleans()
    | st.integers(-(10**15), 10**15)
    | st.floats(allow_nan=False, allow_infinity=False)
    | TEXTS
    | WORDS,
    lambda inner: st.lists(inner, max_size=4).map(tuple),
    max_leaves=6,
)


@settings(max_examples=150, deadline=None)
@given(PLAIN, TEXTS)
def test_any_value_survives_on_one_line_as_value_and_as_key(value: Plain, key: str) -> None:
    data = parse_mapping(f"{flow(key)}: {flow(value)}  # x\n".encode(), "x").data
    assert dict(data) == {key: value}
    assert type(data[key]) is type(value)
    assert "\n" not in flow(value)


@pytest.mark.parametrize(
    ("value", "text"),
    [
        ("4.1", '"4.1"'),
        ("4:2:0", '"4:2:0"'),
        ("off", '"off"'),
        ("*.txt", '"*.txt"'),
        ("ISO 9660", "ISO 9660"),
        ("/", "/"),
        (("H.264", 29.97, True), "[H.264, 29.97, true]"),
        ((), "[]"),
    ],
)
def test_values_are_quoted_only_where_they_need_it(value: Plain, text: str) -> None:
    assert flow(value) == text


def test_a_long_comment_goes_on_in_further_lines() -> None:
    lines = comment("4.1", f"{SEEN}; rounded up from 4 {'and so on ' * 12}", "  ")
    assert lines[0] == '  # learned "4.1":'
    assert all(line.startswith("  #   ") and len(line) <= WIDTH for line in lines[1:])
    assert len(lines) > 2
