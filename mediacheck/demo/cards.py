"""The two cards of the demo's display: which clip is called what, and what is wrong with it on purpose.

It must not make media: that is `clips`.
"""

from __future__ import annotations

from dataclasses import dataclass

from mediacheck.demo.clips import Clip, Flaw
from mediacheck.demo.scenes import SCENES_MEADOW, SCENES_WATER, Scene
from mediacheck.names import RuleName

SECONDS = 5
"""Of each clip but the one in H.265, whose encoder takes its time: the demo has to be quick."""
LOW_HZ, HIGH_HZ = 174.6, 220.0
"""The roots of the tunes: F3 and A3."""


@dataclass(frozen=True, slots=True)
class Planned:
    """One clip of a card. `breaks` names the rules that it breaks on purpose."""

    path: str
    clip: Clip
    breaks: tuple[RuleName, ...] = ()


@dataclass(frozen=True, slots=True)
class Leftover:
    """A file that a computer left behind."""

    path: str
    data: bytes
    breaks: tuple[RuleName, ...] = ("file-junk",)


@dataclass(frozen=True, slots=True)
class DemoFace:
    """One face of the display: its card's folder, its profile, and all that lies on the card."""

    name: str
    folder: str
    profile: str
    items: tuple[Planned, ...]
    leftovers: tuple[Leftover, ...] = ()

    @property
    def files(self) -> tuple[Planned | Leftover, ...]:
        """All that lies on the card."""
        return (*self.items, *self.leftovers)

    @property
    def flaws(self) -> frozenset[tuple[RuleName, str]]:
        """Every rule that is broken on purpose, with the path that breaks it."""
        return frozenset((rule, file.path) for file in self.files for rule in file.breaks)


def _aisle(
    path: str,
    scene: str,
    breaks: tuple[RuleName, ...] = (),
    *,
    flaw: Flaw | None = None,
    size: tuple[int, int] = (1920, 1080),
    seconds: int = SECONDS,
) -> Planned:
    clip = Clip(SCENES_WATER[scene], seconds, *size, flaw=flaw, root_hz=HIGH_HZ)
    return Planned(path, clip, breaks)


def _window(path: str, scene: Scene) -> Planned:
    return Planned(path, Clip(scene, SECONDS, upright=True, root_hz=LOW_HZ))


APPLE_DOUBLE = (
    b"\x00\x05\x16\x07\x00\x02\x00\x00Mac OS X        \x00\x02"
    b"\x00\x00\x00\x09\x00\x00\x00\x32\x00\x00\x00\x20\x00\x00\x00\x02\x00\x00\x00\x52\x00\x00\x00\x00"
).ljust(4096, b"\0")
"""A side file as macOS writes it (AppleDouble, RFC 1740; from memory): Finder notes and an empty fork."""
DS_STORE = b"\x00\x00\x00\x01Bud1".ljust(6148, b"\0")
"""The usual size and first bytes of the file in which macOS keeps the look of a folder (from memory)."""

AISLE = DemoFace(
    name="aisle side",
    folder="card-aisle",
    profile="basic-1080p",
    items=(
        _aisle("01-drizzle.mp4", "drizzle"),
        _aisle("02-ten-pots.mp4", "ten-pots", ("video-codec",), flaw="H.265", seconds=3),
        _aisle("03-rain-on-request.mp4", "rain-on-request", ("video-resolution",), size=(1280, 720)),
        _aisle("04-never-forgets.mp4", "never-forgets", ("video-frame-rate-variable",), flaw="uneven rhythm"),
        _aisle(
            "05-happy-tomatoes.mp4",
            "happy-tomatoes",
            ("container-format", "file-extension"),
            flaw="MOV inside",
        ),
        _aisle("06-off-to-the-lake.mp4", "off-to-the-lake", ("container-index",), flaw="index last"),
        _aisle("07-frühling.mp4", "spring", ("file-name",)),
        _aisle("08-aisle-four.mp4", "aisle-four", ("container-truncated", "picture-damaged"), flaw="cut off"),
        _aisle("09-good-evening.mp4", "good-evening"),
        _aisle("new/10-one-drop.mp4", "one-drop", ("file-misplaced",)),
    ),
    leftovers=(Leftover("._01-drizzle.mp4", APPLE_DOUBLE), Leftover(".DS_Store", DS_STORE)),
)
WINDOW = DemoFace(
    name="window side",
    folder="card-window",
    profile="portrait-1080p",
    items=(
        _window("01-windowsill-meadow.mp4", SCENES_MEADOW["meadow"]),
        _window("02-scatter-water-wait.mp4", SCENES_MEADOW["scatter"]),
        _window("03-poppies.mp4", SCENES_MEADOW["poppies"]),
        _window("04-bees-welcome.mp4", SCENES_MEADOW["bees"]),
    ),
)
FACES = (AISLE, WINDOW)
