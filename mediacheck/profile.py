"""What one kind of player and screen can take: the model of the YAML that people write.

It must not check media: a profile states limits, and the rules compare with them.
"""

from __future__ import annotations

from collections.abc import Mapping
from difflib import get_close_matches
from types import MappingProxyType
from typing import Annotated, Any, Literal, get_args

from pydantic import Field, model_validator

from mediacheck.names import (
    LEVELS,
    PROFILES,
    AudioCodec,
    AudioUse,
    Chroma,
    Container,
    FileSystem,
    Order,
    PartitionTable,
    RuleName,
    Scan,
    StillFormat,
    VideoCodec,
)
from mediacheck.profile_values import (
    FROZEN_MAP,
    BitRate,
    CardPath,
    Count,
    Level,
    Name,
    NotNegative,
    Part,
    Pattern,
    Pixels,
    Positive,
    Rate,
    Some,
    impossible,
)

RuleSetting = Literal["off", "note", "warn", "fail"]
LIGHTEST_FIRST: tuple[RuleSetting, ...] = get_args(RuleSetting)


class Setting(Part):
    """One thing to set in the player's own menu."""

    name: str
    """As the menu calls it."""
    value: str
    """What to choose."""
    why: str = ""
    """What goes wrong on the screen otherwise."""


class Screen(Part):
    """The panel behind the face."""

    width: Pixels | None = None
    """Pixels across, as the panel takes them (before it is turned)."""
    height: Pixels | None = None
    """Pixels down, as the panel takes them (before it is turned)."""
    refresh_hz: Annotated[float, Field(gt=0, le=1000)] | None = None
    """Refresh rate in Hz."""
    overscan_percent: Annotated[float, Field(ge=0, le=20)] = 0.0
    """Part of the picture that the screen hides at each edge, in percent of width and height."""
    turned_degrees: Literal[0, 90, 180, 270] = 0
    """How the panel is mounted, clockwise, seen from the front."""
    input: str | None = None
    """The connector that the player is plugged into."""

    @model_validator(mode="after")
    def _both_sides(self) -> Screen:
        if (self.width is None) != (self.height is None):
            here, absent = ("height", "width") if self.width is None else ("width", "height")
            raise impossible(here, f"{absent} beside it", f"no {absent}")
        return self


class Player(Part):
    """The box that reads the card."""

    order: Order = "name"
    """Which order the player plays in: that of the card's directory, or that of the names."""
    buffer_seconds: Annotated[float, Field(gt=0, le=60)] = 1.0
    """How much the player reads ahead, in seconds at its greatest rate."""
    read_mbit_s: Positive | None = None
    """How fast the player reads a card, in Mbit/s (10^6)."""
    settings: tuple[Setting, ...] = ()
    """What to set in the player's own menu before it is left alone."""


class CardLimits(Part):
    """What the card itself must be."""

    file_systems: Annotated[tuple[FileSystem, ...], Some] | None = None
    """File systems that the player reads."""
    partition_tables: Annotated[tuple[PartitionTable, ...], Some] | None = None
    """Partition tables that the player reads; "none" is a card whose file system starts at its first byte."""
    capacity_max_gb: Positive | None = None
    """Largest card that the player takes, in decimal GB (10^9 bytes), as printed on the card."""
    cluster_bytes_max: Annotated[int, Field(ge=512)] | None = None
    """Largest cluster (the unit in which space is given to files), in bytes."""
    label_pattern: Pattern | None = None
    """Regular expression that the whole volume label must match."""
    free_percent_min: Annotated[float, Field(ge=0, lt=100)] | None = None
    """Part of the card that must stay free, in percent."""


class Layout(Part):
    """Where files belong and how they may be called."""

    media_folder: CardPath | None = None
    """Folder in which the player looks, relative to the root; "/" is the root itself."""
    subfolders: bool = True
    """Whether the player also looks in folders below the media folder."""
    other_files: tuple[str, ...] | None = None
    """Wildcards of other files that may be there, such as "*.txt"; an empty list allows none."""
    required_files: tuple[CardPath, ...] = ()
    """Paths that must be on the card besides the media."""
    name_pattern: Pattern | None = None
    """Regular expression that the whole file name must match."""
    name_length_max: Annotated[int, Field(ge=1, le=255)] | None = None
    """Longest file name, in characters, with the extension."""
    ascii_only: bool = False
    """Whether file names may hold only the characters of plain English (ASCII)."""

    @property
    def media_root(self) -> str | None:
        """The media folder as entries write it ("" is the root), or None where it is not restricted."""
        return None if self.media_folder is None else self.media_folder.strip("/")


class PictureLimits(Part):
    """Limits of the moving picture. Under `video` they hold for every codec."""

    level_max: Level | None = None
    """Highest level, as the codec's standard writes it; a level bounds size, rate and bit rate together."""
    width: Pixels | None = None
    """Exactly this many pixels across."""
    height: Pixels | None = None
    """Exactly this many pixels down."""
    width_max: Pixels | None = None
    """At most this many pixels across."""
    height_max: Pixels | None = None
    """At most this many pixels down."""
    frame_rates: Annotated[tuple[Rate, ...], Some] | None = None
    """Frames per second; 23.976, 29.97 and 59.94 stand for the exact 1000/1001 rates."""
    bit_rate_max: BitRate | None = None
    """Greatest bit rate of the picture, averaged over the clip, in bit/s."""
    bit_rate_peak_max: BitRate | None = None
    """What the player takes at the busiest place, over its buffer, in bit/s."""
    bit_depths: Annotated[tuple[Literal[8, 10, 12], ...], Some] | None = None
    """Bits for each colour of a pixel."""
    chroma: Annotated[tuple[Chroma, ...], Some] | None = None
    """How finely colour is stored beside brightness; 4:2:0 is the usual one."""
    scan: Scan | None = None
    """Whole frames (progressive) or half frames of every other line (interlaced)."""
    gop_seconds_max: Positive | None = None
    """Greatest distance between keyframes (frames that need no other frame), in seconds."""

    @model_validator(mode="after")
    def _exact_or_max(self) -> PictureLimits:
        for side in ("width", "height"):
            if getattr(self, side) is not None and getattr(self, f"{side}_max") is not None:
                raise impossible(f"{side}_max", f"either {side} or {side}_max", "both")
        return self


class CodecLimits(PictureLimits):
    """Limits under one codec; they take the place of the same keys under `video`."""

    profiles: Annotated[tuple[str, ...], Some] | None = None
    """Profiles of the codec (its sets of coding tools), as its standard names them."""


class Video(PictureLimits):
    """Moving pictures."""

    containers: tuple[Container, ...] | None = None
    """Kinds of file; an empty list: the player shows no videos."""
    codecs: Annotated[Mapping[VideoCodec, CodecLimits], *FROZEN_MAP] | None = None
    """Codecs that the player unpacks, each with its own limits, or {} for none of its own."""

    @model_validator(mode="after")
    def _known_to_the_codec(self) -> Video:
        for codec, limits in (self.codecs or {}).items():
            for kind, given, known in (
                ("profile", limits.profiles or (), PROFILES.get(codec)),
                ("level", (limits.level_max,) if limits.level_max else (), LEVELS.get(codec)),
            ):
                for name in given if known else ():
                    folded = {one.casefold(): one for one in known or ()}
                    if name.casefold() not in folded:
                        near = get_close_matches(name, known or (), 1)
                        hint = f' such as "{near[0]}"' if near else ""
                        raise impossible("codecs", f"a {kind} of {codec}{hint}", f'"{name}"')
        return self

    def limits_for(self, codec: str) -> CodecLimits:
        """The limits that hold for a codec: those under it, and those under `video` for the rest."""
        own = next((value for name, value in (self.codecs or {}).items() if name == codec), CodecLimits())
        shared = {
            key: value
            for key in PictureLimits.model_fields
            if (value := getattr(self, key)) is not None and not _overridden(own, key)
        }
        return CodecLimits(**{**_given(own), **shared})


def _given(part: Part) -> dict[str, Any]:
    return {key: value for key in type(part).model_fields if (value := getattr(part, key)) is not None}


def _overridden(own: CodecLimits, key: str) -> bool:
    """An exact size under the codec also replaces a greatest size under `video`, and the reverse."""
    side = key.removesuffix("_max")
    rivals = (side, f"{side}_max") if side in ("width", "height") else (key,)
    return any(getattr(own, rival) is not None for rival in rivals)


class SoundLimits(Part):
    """Limits under one sound codec."""

    sample_rates: Annotated[tuple[Annotated[int, Field(ge=8000, le=192_000)], ...], Some] | None = None
    """Samples per second, in Hz."""
    channels_max: Annotated[int, Field(ge=1, le=64)] | None = None
    """Most channels; 2 is stereo."""
    bit_rate_max: BitRate | None = None
    """Greatest bit rate of the sound, in bit/s."""


class Audio(Part):
    """Sound."""

    use: AudioUse = "allowed"
    """Whether videos have sound: none, allowed or required."""
    codecs: Annotated[Mapping[AudioCodec, SoundLimits], *FROZEN_MAP] | None = None
    """Codecs that the player unpacks, each with its own limits, or {} for none of its own."""
    loudness_lufs: Annotated[float, Field(ge=-70, le=0)] | None = None
    """Wanted loudness of an item, in LUFS."""
    loudness_tolerance_lu: Annotated[float, Field(gt=0, le=20)] = 1.0
    """How far the loudness may be off, in LU; means something only with `loudness_lufs`."""
    true_peak_dbtp_max: Annotated[float, Field(ge=-40, le=3)] | None = None
    """Greatest true peak, in dBTP."""


class Stills(Part):
    """Still pictures shown between or in place of videos."""

    formats: tuple[StillFormat, ...] | None = None
    """Formats that the player shows; an empty list: it shows no stills."""
    width_max: Pixels | None = None
    """At most this many pixels across."""
    height_max: Pixels | None = None
    """At most this many pixels down."""
    seconds: Positive | None = None
    """How long the player shows one, in seconds."""


class Loop(Part):
    """The whole that goes round and round."""

    items_min: Count | None = None
    """Fewest items."""
    items_max: Annotated[int, Field(ge=1)] | None = None
    """Most items."""
    seconds_min: NotNegative | None = None
    """Shortest round, in seconds."""
    seconds_max: Positive | None = None
    """Longest round, in seconds."""
    seamless: bool = False
    """Whether the end must run into the beginning without a jump."""
    black_seconds_max: NotNegative | None = None
    """Longest stretch of black picture, in seconds."""
    frozen_seconds_max: NotNegative | None = None
    """Longest stretch in which nothing moves, in seconds."""

    @model_validator(mode="after")
    def _not_crossed(self) -> Loop:
        for low, high in (("items_min", "items_max"), ("seconds_min", "seconds_max")):
            least, most = getattr(self, low), getattr(self, high)
            if least is not None and most is not None and least > most:
                raise impossible(low, f"at most {high}, which is {most:g}", f"{least:g}")
        return self


def _no_rules() -> Mapping[RuleName, RuleSetting]:
    return MappingProxyType({})


class Profile(Part):
    """What one kind of player and screen can take. A key that is left out does not restrict anything."""

    id: Name = ""
    """The profile's name: letters, digits, dots, hyphens and underscores. Left out: the file's name."""
    title: str = ""
    """What it is for, in a few words."""
    notes: str = ""
    """Where the values come from and what to look out for."""
    screen: Screen = Field(default_factory=Screen)
    player: Player = Field(default_factory=Player)
    card: CardLimits = Field(default_factory=CardLimits)
    layout: Layout = Field(default_factory=Layout)
    video: Video = Field(default_factory=Video)
    audio: Audio = Field(default_factory=Audio)
    stills: Stills = Field(default_factory=Stills)
    loop: Loop = Field(default_factory=Loop)
    rules: Annotated[Mapping[RuleName, RuleSetting], *FROZEN_MAP] = Field(default_factory=_no_rules)
    """Rules that are off, or weigh more or less than usual: a rule's name, and its severity or off."""
