"""Hand-made and drawn values of a profile, for the tests of what is written and merged.

It must not use the writer that is tested.
"""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction
from typing import Any, get_args

from hypothesis import strategies as st

from mediacheck.learn.model import Key, Learned, Plain, Value
from mediacheck.names import (
    H264_LEVELS,
    H265_LEVELS,
    PROFILES,
    RULE_NAMES,
    AudioUse,
    Chroma,
    Container,
    FileSystem,
    PartitionTable,
    StillFormat,
)
from mediacheck.profile import Profile

SEEN = "seen on 3 of 3 cards: 12 files"
SEEN_ONCE = "seen on 1 of 1 card: 1 file; one file is too little for a limit"


def learned(*values: tuple[str | Key, Plain], cards: tuple[str, ...] = ("card-b",), **of: Any) -> Learned:
    """Limits at dotted places (codecs with a dot in their name: a tuple), each seen in 12 files."""
    made = [Value(_key(place), value, of.get("evidence", SEEN)) for place, value in values]
    return Learned(tuple(made), cards, "From cards that play.")


def once(place: str | Key, value: Plain) -> Value:
    """What was seen in one file only."""
    return Value(_key(place), value, SEEN_ONCE, is_limit=False)


def _key(place: str | Key) -> Key:
    return tuple(place.split(".")) if isinstance(place, str) else place


def at(profile: Profile, key: Key) -> Any:
    """What a profile holds at a place, as the plain value that was learned; None where nothing."""
    held: Any = profile
    for name in key:
        held = held.get(name) if isinstance(held, Mapping) else getattr(held, name)
        if held is None:
            return None
    return held


def same(held: object, value: object) -> bool:
    """Whether the profile holds what was learned: rates are fractions there."""
    if isinstance(held, tuple) and isinstance(value, tuple):
        return len(held) == len(value) and all(map(same, held, value))
    if isinstance(held, Fraction):
        return held in (RATES.get(value), value) if isinstance(value, int | float) else str(held) == value
    return (type(held) is type(value) and held == value) or (isinstance(held, float) and held == value)


RATES: Mapping[object, Fraction] = {
    23.976: Fraction(24000, 1001), 24: Fraction(24), 25: Fraction(25), 29.97: Fraction(30000, 1001),
    30: Fraction(30), 50: Fraction(50), 59.94: Fraction(60000, 1001), 60: Fraction(60), 12.5: Fraction(25, 2),
}  # fmt: skip


def some(names: Any, least: int = 1) -> st.SearchStrategy[tuple[Any, ...]]:
    """Some of these, in the order in which they stand."""
    every = tuple(names)
    chosen = st.sets(st.sampled_from(every), min_size=least)
    return chosen.map(lambda wanted: tuple(one for one in every if one in wanted))


PIXELS = st.integers(16, 4096)
BIT_RATES = st.integers(1, 50_000_000)
TEXTS = st.text(st.characters(exclude_categories=["Cs"]), max_size=12)
"""Any text at all: colons, quotes, marks of comments, words that mean something in YAML."""
WORDS = st.sampled_from(("*.txt", "yes", "null", "4.1", "- a", "# b", "a: b", "/", "é", " ", "1e5", "=", "~"))

PICTURE: dict[str, st.SearchStrategy[Plain]] = {
    "frame_rates": some(RATES),
    "bit_rate_max": BIT_RATES,
    "bit_rate_peak_max": BIT_RATES,
    "bit_depths": some((8, 10, 12)),
    "chroma": some(get_args(Chroma)),
    "scan": st.sampled_from(("progressive", "interlaced")),
    "gop_seconds_max": st.floats(0.5, 30),
}
CODEC_NAMES = ("H.264", "H.265", "VC-1")
FLAT: dict[str, dict[str, st.SearchStrategy[Plain]]] = {
    "player": {"order": st.sampled_from(("disk", "name"))},
    "card": {
        "file_systems": some(get_args(FileSystem)),
        "partition_tables": some(get_args(PartitionTable)),
        "capacity_max_gb": st.sampled_from((4, 32, 64.2)),
        "cluster_bytes_max": st.sampled_from((4096, 32768)),
        "free_percent_min": st.floats(0, 99),
    },
    "layout": {
        "media_folder": st.sampled_from(("/", "/media/loop", "clips")),
        "subfolders": st.booleans(),
        "other_files": st.lists(TEXTS | WORDS, max_size=3, unique=True).map(tuple),
        "name_length_max": st.integers(1, 255),
        "ascii_only": st.booleans(),
    },
    "video": {"containers": some(get_args(Container), 0), **PICTURE},
    "audio": {"use": st.sampled_from(get_args(AudioUse)), "true_peak_dbtp_max": st.floats(-40, 3)},
    "stills": {"formats": some(get_args(StillFormat), 0), "width_max": PIXELS, "height_max": PIXELS},
    "loop": {
        "items_min": st.integers(0, 5),
        "items_max": st.integers(5, 99),
        "seconds_min": st.integers(0, 5),
        "seconds_max": st.integers(5, 99),
        "seamless": st.booleans(),
        "black_seconds_max": st.floats(0, 9),
    },
    "rules": dict.fromkeys(RULE_NAMES[::9], st.sampled_from(("off", "note"))),
}
LEVELS = {"H.264": H264_LEVELS, "H.265": H265_LEVELS}


@st.composite
def learnings(draw: st.DrawFn, text: st.SearchStrategy[str] = TEXTS) -> Learned:
    """Anything that may be learned, with some of it no limit, in the order of a profile's keys."""
    values: list[Value] = []
    for section, kinds in FLAT.items():
        for key in draw(some(kinds, 0)):
            values.append(_value(draw, (section, key), kinds[key]))
        if section == "video":
            values += _sizes(draw, ("video",))
            values += _video_codecs(draw)
        if section == "audio":
            values += _audio_codecs(draw)
    cards = draw(some(("card-a", "card b", "E:\\"), 1))
    return Learned(tuple(values), cards, draw(text))


def _value(draw: st.DrawFn, key: Key, kind: st.SearchStrategy[Plain]) -> Value:
    is_limit = draw(st.booleans()) or key[0] in ("rules", "player")
    evidence = draw(st.sampled_from((SEEN, f"{SEEN}; rounded up from 18.3 Mbit/s {'x y ' * 30}")))
    return Value(key, draw(kind), evidence if is_limit else SEEN_ONCE, is_limit)


def _sizes(draw: st.DrawFn, above: Key) -> list[Value]:
    ends = draw(st.sampled_from((None, "", "_max")))
    return [] if ends is None else [_value(draw, (*above, f"{side}{ends}"), PIXELS) for side in SIDES]


SIDES = ("width", "height")


def _video_codecs(draw: st.DrawFn) -> list[Value]:
    values: list[Value] = []
    for codec in draw(some(CODEC_NAMES, 0)):
        above = ("video", "codecs", codec)
        values.append(Value(above, (), SEEN, draw(st.booleans())))
        kinds = dict(PICTURE)
        if codec in LEVELS:
            kinds |= {"level_max": st.sampled_from(LEVELS[codec]), "profiles": some(PROFILES[codec])}
        values += [_value(draw, (*above, key), kinds[key]) for key in draw(some(kinds, 0))]
        values += _sizes(draw, above)
    return values


def _audio_codecs(draw: st.DrawFn) -> list[Value]:
    kinds: dict[str, st.SearchStrategy[Plain]] = {
        "sample_rates": some((8000, 44_100, 48_000)),
        "channels_max": st.integers(1, 6),
        "bit_rate_max": BIT_RATES,
    }
    return [
        _value(draw, ("audio", "codecs", codec, key), kinds[key])
        for codec in draw(some(("AAC", "MP3"), 0))
        for key in draw(some(kinds, 0))
    ]
