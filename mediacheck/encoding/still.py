"""The whole line for a still picture: scaled to fit, upright, eight bits, in plain colours.

It must not run anything. Colours for printing (CMYK) are converted without their colour profile.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import get_args

from mediacheck.encoding.model import Frame, Part, Reason, Refused, arguments_of, part
from mediacheck.encoding.picture import sized, turned
from mediacheck.encoding.size import still_frame_for
from mediacheck.media.extensions import extensions_for
from mediacheck.names import StillFormat
from mediacheck.profile import Profile

FLAT = Reason(
    "format=gbrap,premultiply=inplace=1",
    "Eight bits for each colour; what is transparent becomes black, as players show it.",
)


@dataclass(frozen=True, slots=True)
class StillCoder:
    """How one format is written: colours for the scaler, last filters, arguments, and why they are so."""

    colours: str
    finish: str
    arguments: tuple[str, ...]
    why_finish: str
    why: str


ONE_FILE = ("-update", "1")
"""One picture, not a numbered row of them: an option of ffmpeg's writer of single pictures."""
CODERS: Mapping[StillFormat, StillCoder] = MappingProxyType(
    {
        "JPEG": StillCoder(
            "out_color_matrix=bt601:out_range=pc",
            "format=yuvj420p",
            ("-c:v", "mjpeg", "-q:v", "2", *ONE_FILE),
            "Colours as in every JPEG (JFIF, ITU-T T.871).",
            "Baseline JPEG, the kind that simple players show, in high quality.",
        ),
        "PNG": StillCoder(
            "out_range=pc",
            "format=rgb24",
            ("-c:v", "png", *ONE_FILE),
            "Red, green and blue of eight bits, without transparency.",
            "PNG, nothing lost.",
        ),
        "BMP": StillCoder(
            "out_range=pc",
            "format=bgr24",
            ("-c:v", "bmp", *ONE_FILE),
            "Red, green and blue of eight bits.",
            "BMP, nothing lost.",
        ),
        "WebP": StillCoder(
            "out_color_matrix=bt601:out_range=tv",
            "format=yuv420p",
            ("-c:v", "libwebp", "-quality", "90"),
            "Colours as in every WebP (RFC 6386).",
            "WebP in high quality.",
        ),
        "GIF": StillCoder(
            "out_range=pc",
            "format=rgb24,split[a][b];[a]palettegen=reserve_transparent=0[p];[b][p]paletteuse",
            ("-c:v", "gif"),
            "The 256 colours that suit this picture best: GIF has no more.",
            "GIF.",
        ),
    }
)


@dataclass(frozen=True, slots=True)
class StillLine:
    """Everything that ffmpeg is told, and the size that comes out."""

    format: StillFormat
    frame: Frame
    parts: tuple[Part, ...]

    @property
    def suffix(self) -> str:
        """The ending of the file's name, with its dot."""
        return extensions_for(self.format)[0]

    def arguments(self, master: str, output: str) -> tuple[str, ...]:
        """All arguments of ffmpeg for one master."""
        return ("-i", master, *arguments_of(self.parts), output)


def still_formats(profile: Profile) -> tuple[StillFormat, ...]:
    """The formats to make lines for: those that the profile names, else the one that every player knows."""
    formats = profile.stills.formats
    return ("JPEG",) if formats is None else tuple(name for name in get_args(StillFormat) if name in formats)


def still_line(profile: Profile, still_format: StillFormat) -> StillLine | Refused:
    """The line for one format."""
    frame = still_frame_for(profile.stills, profile.screen)
    if isinstance(frame, Refused):
        return frame
    return StillLine(still_format, frame, tuple(_parts(profile, CODERS[still_format], frame)))


def _parts(profile: Profile, coder: StillCoder, frame: Frame) -> Iterator[Part]:
    steps = (
        *turned(profile.screen.turned_degrees),
        FLAT,
        *sized(frame, coder.colours),
        Reason(coder.finish, coder.why_finish),
    )
    yield part("-map", "0:v:0", "-frames:v", "1", why="One picture.")
    yield Part(("-vf", ",".join(step.setting for step in steps)), steps)
    yield part(*coder.arguments, why=coder.why)
    yield part(
        "-map_metadata",
        "-1",
        why="No notes of the camera; its turning mark has been followed (EXIF orientation).",
    )
