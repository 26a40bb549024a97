"""The picture of a new file: one chain of filters from the master's frames to those of the target.

It must not choose the target: that is for `aim`.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from mediacheck.encoding.codec import CODERS
from mediacheck.encoding.model import Frame, arguments_of
from mediacheck.encoding.picture import coloured
from mediacheck.encoding.size import exact
from mediacheck.loop import File
from mediacheck.measure.model import Bars, Measurements
from mediacheck.media.facts import VideoFacts
from mediacheck.names import RuleName
from mediacheck.profile import Profile
from mediacheck.repair import tone
from mediacheck.repair.aim import Aim
from mediacheck.repair.geometry import (
    BY_FLAG,
    Shown,
    against_panel,
    box_for,
    cut,
    placed,
    shown,
    turns_for_panel,
)
from mediacheck.repair.model import LUT, PictureRecipe, Span, Tone, Wishes

HD_WIDTH_PX, HD_HEIGHT_PX = 1280, 720
"""Pictures of this size that do not say how their colours are stored are BT.709, smaller ones BT.601 (common
practice, no source)."""


def begins_s(video: VideoFacts) -> float:
    """When the picture begins, from the earliest time in the file."""
    return video.packets.begins_s if video.packets else 0.0


def before(video: VideoFacts, span: Span) -> tuple[str, ...]:
    """Arguments before the master: what is kept of it, and how its colours are read where it does not say."""
    first_s = begins_s(video)
    cuts: tuple[str, ...] = ("-ss", f"{first_s + span.start_s:.6f}") if span.start_s else ()
    cuts += ("-to", f"{first_s + span.end_s:.6f}") if span.end_s is not None else ()
    large = video.width >= HD_WIDTH_PX or video.height >= HD_HEIGHT_PX
    return (*cuts, "-colorspace", "bt709" if large else "smpte170m")


def picture_recipe(
    file: File,
    video: VideoFacts,
    profile: Profile,
    aim: Aim,
    wishes: Wishes,
    rules: frozenset[RuleName],
    early_s: float = 0.0,
) -> PictureRecipe:
    """All filters, and the settings of the encoder (`encoding` has their reasons). The first `early_s` of the
    file hold no picture and are cut off."""
    target, coder = aim.target, CODERS[aim.codec]
    bars = _bars(file) if wishes.trim_bars else None
    (across, down), crop = cut(video.width, video.height, bars)
    seen = shown(across, down, video.pixel_aspect, video.rotation)
    lies = turns_for_panel(seen, target.frame, profile.screen.turned_degrees)
    if lies:
        seen = Shown(seen.height, seen.width, 1 / seen.shape)
    box = box_for(seen, target.frame, exact(target.limits))
    toned = _tone(video)
    chain = [
        *([f"setpts=PTS-{early_s:.6f}/TB"] if early_s else []),
        *_as_stored(video, [*_whole_frames(video, rules), *([crop] if crop else [])]),
        f"fps={target.rate}:start_time=0",
        *([against_panel(profile.screen.turned_degrees)] if lies else []),
        *_scaled(seen.shape, box, wishes, toned, coder.colour_range),
        coloured(target.tools.pixel_format, coder.colour_range).setting,
    ]
    return PictureRecipe(
        copied=False,
        also=arguments_of(tuple(coder.settings(target))),
        filters=",".join(chain),
        tone=toned,
        frames_per_s=target.rate,
        width=box.width,
        height=box.height,
    )


def _scaled(
    shape: Fraction, box: Frame, wishes: Wishes, toned: Tone | None, colour_range: str
) -> Iterator[str]:
    """Made small first and converted then: tables of colours are slow."""
    colours = f"out_color_matrix=bt709:out_range={colour_range}"
    if toned is None:
        yield from placed(shape, box, wishes.fit, colours)
        return
    first, *rest = placed(shape, box, wishes.fit, "in_color_matrix=auto")
    yield first
    yield f"format=gbrp16le,lut3d=file={LUT}:interp=tetrahedral"
    yield f"scale={colours}"
    yield from rest


def _as_stored(video: VideoFacts, steps: list[str]) -> list[str]:
    """Steps that need the picture as it is stored. ffmpeg has turned it by its mark, and so taken the mark
    off: told not to, it would hand the mark on to the new file (5.1)."""
    if not steps or not video.rotation:
        return steps
    return [BY_FLAG[360 - video.rotation], *steps, BY_FLAG[video.rotation]]


def _whole_frames(video: VideoFacts, rules: frozenset[RuleName]) -> Iterator[str]:
    """Half pictures become whole ones; combed ones that are marked as whole, too."""
    if video.scan == "interlaced":
        yield "bwdif=mode=send_frame:deint=interlaced"
    elif "picture-combed" in rules:
        yield "bwdif=mode=send_frame:deint=all"


def _tone(video: VideoFacts) -> Tone | None:
    found = Tone(video.colour_transfer, video.colour_primaries)
    return found if tone.needs(found.transfer, found.primaries) else None


def _bars(file: File) -> Bars | None:
    return file.measurements.bars if isinstance(file.measurements, Measurements) else None
