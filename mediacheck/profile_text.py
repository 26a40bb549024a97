"""A profile as text for people: every value with its unit, and what is not restricted said so.

It must not print: the command line and the sheets decide where the text goes.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from mediacheck.profile import Player, Profile, Screen, Video
from mediacheck.profile_values import NTSC_RATES, Part
from mediacheck.said_of_keys import attribute_docstrings

NOT_RESTRICTED = "not restricted"


@dataclass(frozen=True, slots=True)
class Line:
    """One key of a profile: its value as text, and what the key means."""

    key: str
    value: str
    meaning: str


@dataclass(frozen=True, slots=True)
class Section:
    """One section of a profile, with every key in it, also those that the file leaves out."""

    name: str
    meaning: str
    lines: tuple[Line, ...]


def profile_sections(profile: Profile) -> tuple[Section, ...]:
    """The whole profile. Under each codec stand the limits that hold for it, shared ones included."""
    return tuple(_sections(profile))


def screen_text(screen: Screen) -> str:
    """The screen in a few words: `1920x1080, turned 90 degrees`."""
    size = "any size" if screen.width is None else f"{screen.width}x{screen.height}"
    return size + (f", turned {screen.turned_degrees} degrees" if screen.turned_degrees else "")


def _sections(profile: Profile) -> Iterator[Section]:
    for name in Profile.model_fields:
        part = getattr(profile, name)
        if isinstance(part, Video):
            yield from _video(part)
        elif isinstance(part, Player):
            yield _section(name, part)
            yield from _settings(part)
        elif isinstance(part, Part):
            yield _section(name, part)
            yield from _codecs(name, getattr(part, "codecs", None) or {})
        elif name == "rules":
            lines = tuple(Line(rule, str(setting), "") for rule, setting in part.items())
            meaning = "" if lines else "Every rule keeps its usual severity."
            yield Section(name, meaning or _meaning(Profile, name), lines)


def _video(video: Video) -> Iterator[Section]:
    """Where codecs are named, the shared limits stand under each of them and not twice."""
    if not video.codecs:
        yield _section("video", video)
        return
    yield _section("video", video, ("containers", "codecs"))
    yield from _codecs("video", {codec: video.limits_for(codec) for codec in video.codecs})


def _settings(player: Player) -> Iterator[Section]:
    if player.settings:
        lines = tuple(Line(setting.name, setting.value, setting.why) for setting in player.settings)
        yield Section("player.settings", _meaning(Player, "settings"), lines)


def _codecs(name: str, codecs: Mapping[str, Part]) -> Iterator[Section]:
    for codec, limits in codecs.items():
        yield _section(f"{name}.codecs.{codec}", limits)


def _section(name: str, part: Part, keys: tuple[str, ...] | None = None) -> Section:
    kind = type(part)
    shown = tuple(kind.model_fields) if keys is None else keys
    lines = tuple(Line(key, value_text(key, getattr(part, key)), _meaning(kind, key)) for key in shown)
    return Section(name, " ".join((kind.__doc__ or "").split()), lines)


def _meaning(kind: type[Part], key: str) -> str:
    return " ".join(attribute_docstrings(kind).get(key, "").split())


def value_text(key: str, value: Any) -> str:
    """A value with the unit that its key implies."""
    if value is None:
        return NOT_RESTRICTED
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, tuple | Mapping):
        return _list_text(key, tuple(value))
    if isinstance(value, str):
        return value or "(none)"
    write = next((write for ending, write in _UNITS if key.endswith(ending)), _number)
    return write(value)


def _list_text(key: str, values: tuple[Any, ...]) -> str:
    if not values:
        return "none"
    if key == "settings":
        return f"{len(values)}, listed below"
    if isinstance(values[0], Fraction):
        return ", ".join(map(rate_text, values)) + " frames per second"
    unit = {"sample_rates": " Hz", "bit_depths": " bits"}.get(key, "")
    return ", ".join(map(str, values)) + unit


def rate_text(rate: Fraction) -> str:
    """A frame rate as people write it: 25, 29.97."""
    rounded = {exact: spelling for spelling, exact in NTSC_RATES.items()}
    return f"{float(rounded.get(rate, rate)):.6g}"


def _number(value: float) -> str:
    return f"{value:,.10g}" if value >= 10_000 else f"{value:g}"


def _bit_rate(value: int) -> str:
    return f"{_number(value / 1_000_000)} Mbit/s" if value >= 1_000_000 else f"{_number(value / 1000)} kbit/s"


def _with_unit(unit: str) -> Callable[[float], str]:
    return lambda value: f"{_number(value)} {unit}"


_UNITS: tuple[tuple[str, Callable[[Any], str]], ...] = (
    ("bit_rate_max", _bit_rate),
    ("bit_rate_peak_max", _bit_rate),
    ("read_mbit_s", _with_unit("Mbit/s")),
    ("width", _with_unit("pixels")),
    ("height", _with_unit("pixels")),
    ("width_max", _with_unit("pixels")),
    ("height_max", _with_unit("pixels")),
    ("bytes_max", _with_unit("bytes")),
    ("_gb", _with_unit("GB")),
    ("_hz", _with_unit("Hz")),
    ("percent", _with_unit("%")),
    ("percent_min", _with_unit("%")),
    ("degrees", _with_unit("degrees")),
    ("seconds", _with_unit("s")),
    ("seconds_min", _with_unit("s")),
    ("seconds_max", _with_unit("s")),
    ("_lufs", _with_unit("LUFS")),
    ("_lu", _with_unit("LU")),
    ("dbtp_max", _with_unit("dBTP")),
    ("length_max", _with_unit("characters")),
)
"""The unit stands in the key's name; the first ending that fits counts."""
