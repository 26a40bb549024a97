"""What a repair is: the changes that each file needs, the recipe of each new file, and how it was proved.

It must not decide or run anything: `plan` decides, `recipe` writes recipes, `work` carries one out.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction
from typing import Literal, get_args

from mediacheck.loop import File
from mediacheck.names import RuleName, StillFormat

Change = Literal["copy", "move", "container", "sound", "picture", "still"]
"""The least first: as it is; under another name; the same streams wrapped anew; the sound encoded again; the
picture (and the sound where it must be) encoded again; a still written again."""
CHANGES: tuple[Change, ...] = get_args(Change)
Fit = Literal["contain", "cover", "stretch"]
"""How a picture gets another shape: whole with bars, cut to fill, or stretched."""
QUALITY_FLOOR = 90.0
"""VMAF points below which a new picture fails: differences that a viewer would begin to mind (common
practice, no source)."""


@dataclass(frozen=True, slots=True)
class Wishes:
    """What whoever asks for the repair wants beside the profile."""

    fit: Fit = "contain"
    trim_bars: bool = False
    """Cut off black bars that are part of the picture."""
    trim_ends: bool = False
    """Cut off leaders and black at head and tail."""
    quality_floor: float = QUALITY_FLOOR
    """VMAF points, 0 to 100."""
    prove: bool = True
    """Compare each new picture with its source."""
    size_bytes: int | None = None
    """Capacity of the card that all must fit on; None: what the profile says."""


@dataclass(frozen=True, slots=True)
class Step:
    """One change of one file, and which rules made it necessary."""

    change: Change
    what: str
    """A clause for people, without capital and full stop: "put the index first"."""
    rules: tuple[RuleName, ...]


@dataclass(frozen=True, slots=True)
class Ask:
    """What no program can mend, and what to ask the sender for."""

    rule: RuleName
    path: str | None
    """In the source; None: about the card or the loop as a whole."""
    problem: str
    """One sentence: what is wrong (the message of the finding)."""
    ask: str
    """One sentence: what to ask for."""


@dataclass(frozen=True, slots=True)
class Span:
    """The part of a master that is kept, in seconds from its first picture; `end_s` None: to its end."""

    start_s: float = 0.0
    end_s: float | None = None


@dataclass(frozen=True, slots=True)
class Levels:
    """What the sound is brought to. None: not asked for."""

    loudness_lufs: float | None
    tolerance_lu: float
    true_peak_dbtp_max: float | None


@dataclass(frozen=True, slots=True)
class SoundRecipe:
    """The sound of a new file.

    With `copied`, the packets of the master's track stay as they are. Else the filters stand in this order:
    `mixing`, what the levels ask for (`loudness.levelling` finds it by listening first), then `ending`.
    """

    track: str
    """For `-map`: "0:a:0" of the master, "1:a:0" of the silence in `input`."""
    copied: bool
    input: tuple[str, ...] = ()
    """A second input, where the master has no sound: the arguments up to and with `-i ...`."""
    mixing: str = ""
    """Filters that give the channels and samples of the new file."""
    levels: Levels | None = None
    ending: str = ""
    """Filters that give the length."""
    encoder: tuple[str, ...] = ()
    """`-c:a` and what belongs to it."""
    rate_hz: int = 48_000


@dataclass(frozen=True, slots=True)
class Tone:
    """A picture of HDR or wide colour that becomes one for an ordinary screen (`tone.cube`)."""

    transfer: str | None
    """As in `VideoFacts.colour_transfer`."""
    primaries: str | None


@dataclass(frozen=True, slots=True)
class PictureRecipe:
    """The picture of a new file. With `copied`, the packets stay as they are (`also` may name a filter of
    packets that changes what the headers say)."""

    copied: bool
    also: tuple[str, ...] = ()
    """Further output arguments: of the encoder, or a `-bsf:v`."""
    filters: str = ""
    """The whole `-vf`. Where it holds `LUT`, the path of the table of `tone` goes there."""
    tone: Tone | None = None
    two_passes: bool = False
    """The encoder aims at a size, and is told in `also` which rate to reach."""
    frames_per_s: Fraction | None = None
    width: int | None = None
    height: int | None = None


LUT = "@LUT@"
"""Stands in the filters for the file with the table of colours."""


@dataclass(frozen=True, slots=True)
class Recipe:
    """All that one new file follows from, beside the bytes of its master. Equal recipes make equal files."""

    change: Change
    """container, sound, picture or still."""
    suffix: str
    """Ending of its name, with the dot."""
    before: tuple[str, ...] = ()
    """Arguments of ffmpeg before the master's `-i`: what is kept of it, how its colours are read."""
    picture: PictureRecipe | None = None
    """None: no moving picture."""
    sound: SoundRecipe | None = None
    """None: no sound."""
    still: StillFormat | None = None
    still_arguments: tuple[str, ...] = ()
    """Of a still: everything behind the input."""
    wrapping: tuple[str, ...] = ()
    """Arguments of the container, at the end of the line."""
    span: Span = field(default_factory=Span)
    """What of the master is kept; `before` says the same to ffmpeg."""
    seconds: float | None = None
    """How long the new file plays."""
    size_max_bytes: int | None = None
    """The new file must not be larger."""


@dataclass(frozen=True, slots=True)
class Item:
    """One file of the source that goes into the copy, and what becomes of it."""

    source: File
    path: str
    """In the copy."""
    change: Change
    """The greatest of its steps; "copy" has none."""
    steps: tuple[Step, ...] = ()
    recipe: Recipe | None = None
    """None: its bytes stay as they are."""
    expected_bytes: int = 0
    expected_s: float = 0.0
    """About how long the making takes on this machine."""


@dataclass(frozen=True, slots=True)
class LeftOut:
    """A file of the source that does not go into the copy, and why: a clause for people."""

    path: str
    why: str
    rules: tuple[RuleName, ...]


@dataclass(frozen=True, slots=True)
class Plan:
    """All files of a source, each in one of three places. Items stand in play order, then other files."""

    items: tuple[Item, ...]
    left_out: tuple[LeftOut, ...]
    asks: tuple[Ask, ...]
    notes: tuple[str, ...] = ()
    """What a person should know and need not do anything about, one sentence each."""
    capacity_bytes: int | None = None
    """What the copy must fit into; None: not limited."""


@dataclass(frozen=True, slots=True)
class Likeness:
    """How like the new picture is to its source, shown in the new file's size and rate."""

    measure: Literal["VMAF", "SSIM"]
    value: float
    """VMAF 0 to 100, mean of all frames compared; SSIM 0 to 1, of luminance, likewise."""
    worst: float
    """Of the worst frame compared."""
    floor: float
    """In the same measure."""
    frames: int
    """How many were compared."""
    every: int
    """1: each frame; 5: each fifth."""

    @property
    def enough(self) -> bool:
        """Whether it keeps the floor."""
        return self.value >= self.floor


@dataclass(frozen=True, slots=True)
class Same:
    """Streams that came through unchanged: equal hashes on both sides."""

    stream: Literal["picture", "sound"]
    of: Literal["packets", "decoded"]
    """Decoded: where the new container packs the same packets differently."""
    sha256: str


@dataclass(frozen=True, slots=True)
class Made:
    """A new file that is complete. `likeness` is None where nothing was encoded, or no proof was wanted."""

    sha256: str
    size_bytes: int
    commands: tuple[tuple[str, ...], ...]
    """What was run to make it, without the paths of this run: MASTER and NEW stand for them."""
    same: tuple[Same, ...] = ()
    likeness: Likeness | None = None
    loudness_lufs: float | None = None
    """As measured in the new file, where levels were asked for."""
    true_peak_dbtp: float | None = None
    notes: tuple[str, ...] = ()
    """What a person should know of it, one sentence each: that its sound could not be measured, say."""


@dataclass(frozen=True, slots=True)
class NotMade:
    """Why there is no new file: a sentence for people. `ask`: what to do or to ask for."""

    problem: str
    ask: str
