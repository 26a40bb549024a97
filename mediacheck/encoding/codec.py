"""The codecs for which a line can be made: where the settings of each stand, and what they go into.

It must not hold settings: those have a place of their own for each codec.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction
from types import MappingProxyType

from mediacheck.encoding import av1, h264, h265, mjpeg, mpeg2, mpeg4, prores, vp9
from mediacheck.encoding.model import Part, Refused, Target, Tools
from mediacheck.names import AudioCodec, Container, VideoCodec
from mediacheck.profile import CodecLimits


@dataclass(frozen=True, slots=True)
class Coder:
    """How one codec is written. `bits_per_pixel` is about the most that it can use to good effect."""

    settings: Callable[[Target], Iterator[Part]]
    tools: tuple[Tools, ...]
    containers: tuple[Container, ...]
    """The usual ones first."""
    bits_per_pixel: float
    least_bits_per_pixel: float
    """What busy pictures take at the coarsest setting; noise takes up to four times as much (measured)."""
    rates: frozenset[Fraction] | None = None
    holds_average: bool = True
    holds_peaks: bool = True
    colour_range: str = "tv"
    never: tuple[AudioCodec, ...] = ()
    """Sound that does not go beside this codec."""


CODERS: Mapping[VideoCodec, Coder] = MappingProxyType(
    {
        "H.264": Coder(h264.settings, h264.TOOLS, ("MP4", "MOV", "MKV", "MPEG-TS", "AVI"), 0.4, 0.03),
        "H.265": Coder(h265.settings, h265.TOOLS, ("MP4", "MOV", "MKV", "MPEG-TS"), 0.3, 0.02),
        "MPEG-4": Coder(mpeg4.settings, mpeg4.TOOLS, ("MP4", "AVI", "MOV", "MKV"), 0.6, 0.06),
        "MPEG-2": Coder(
            mpeg2.settings_2, mpeg2.TOOLS_2, ("MPEG-PS", "MPEG-TS", "MKV"), 0.8, 0.1, rates=mpeg2.RATES
        ),
        "MPEG-1": Coder(
            mpeg2.settings_1, mpeg2.TOOLS_1, ("MPEG-PS",), 0.8, 0.1, rates=mpeg2.RATES, never=("AC-3",)
        ),
        "VP9": Coder(vp9.settings, vp9.TOOLS, ("WebM", "MKV", "MP4"), 0.3, 0.1, holds_peaks=False),
        "AV1": Coder(
            av1.settings,
            av1.TOOLS,
            ("MP4", "WebM", "MKV"),
            0.25,
            0.02,
            holds_average=False,
            holds_peaks=False,
        ),
        "MJPEG": Coder(mjpeg.settings, mjpeg.TOOLS, ("AVI", "MOV", "MKV"), 2.0, 0.3, colour_range="pc"),
        "ProRes": Coder(
            prores.settings, prores.TOOLS, ("MOV",), 6.0, 1.0, holds_average=False, holds_peaks=False
        ),
    }
)
"""Shares of bits are common practice. VC-1 is missing: no encoder of ffmpeg writes it."""

SAME_AS = MappingProxyType({"constrained baseline": "baseline"})
"""A profile that counts as another one: its streams are made to be played by it (ITU-T H.264 A.2.1.1)."""


def tools_for(codec: VideoCodec, limits: CodecLimits) -> Tools | Refused:
    """The best tools of the codec that the profile allows."""
    fitting = [tools for tools in CODERS[codec].tools if _named(tools, limits)]
    if not fitting:
        return Refused(
            f"of the profiles that it allows ({', '.join(limits.profiles or ())}) ffmpeg makes none"
        )
    for tools in fitting:
        if (limits.chroma is None or tools.chroma in limits.chroma) and (
            limits.bit_depths is None or tools.bit_depth in limits.bit_depths
        ):
            return tools
    return Refused("ffmpeg makes none of the combinations of profile, bits and colour that it allows")


def _named(tools: Tools, limits: CodecLimits) -> bool:
    if limits.profiles is None:
        return True
    allowed = {name.casefold() for name in limits.profiles}
    name = (tools.profile or "").casefold()
    return bool({name, SAME_AS.get(name, name)} & allowed)
