"""How a picture is packed as H.264, with libx264.

It must not decide what the player takes: that is in the target.
"""

from __future__ import annotations

from collections.abc import Iterator

from mediacheck.encoding.model import Part, Target, Tools, part
from mediacheck.media.levels import max_dpb_frames

TOOLS = (
    Tools("High", ("-profile:v", "high"), "yuv420p"),
    Tools("Main", ("-profile:v", "main"), "yuv420p"),
    Tools("Constrained Baseline", ("-profile:v", "baseline"), "yuv420p"),
    Tools("Baseline", ("-profile:v", "baseline"), "yuv420p"),
    Tools("High 10", ("-profile:v", "high10"), "yuv420p10le", "4:2:0", 10),
    Tools("High 4:2:2", ("-profile:v", "high422"), "yuv422p", "4:2:2"),
    Tools("High 4:2:2", ("-profile:v", "high422"), "yuv422p10le", "4:2:2", 10),
    Tools("High 4:4:4 Predictive", ("-profile:v", "high444"), "yuv444p", "4:4:4"),
)
"""The best first: eight bits and 4:2:0 are what every player's chip decodes (common practice).

What libx264 writes for "baseline" is Constrained Baseline, which every Baseline decoder plays (ITU-T H.264
clause A.2.1.1).
"""
MOST_REFERENCES = 4
"""More help little and cost the player memory (common practice, no source)."""
PYRAMID_FRAMES = 4
"""What libx264 asks the player to hold where B-frames lean on each other (its set.c, from memory)."""


def settings(target: Target) -> Iterator[Part]:
    """libx264: constant quality, held down by the limits."""
    yield part("-c:v", "libx264", "-crf", "18", why="H.264, so good that the eye finds no fault (x264's 18).")
    yield rate_limit(target)
    profile = target.tools.profile or ""
    yield part(*target.tools.arguments, why=f"Profile {profile}: the best that this player's chip decodes.")
    if target.level is not None:
        yield part(
            "-level:v", target.level, why=f"Marked as level {target.level}, which holds size and rate."
        )
    yield from _references(target)
    yield keyframes(target)


def rate_limit(target: Target) -> Part:
    """The two settings that keep the average, the peaks and the level; without `:v` some sound encoders
    follow them too."""
    rate, buffer = target.budget.rate_kbit_s, target.budget.buffer_kbit
    return part(
        *("-maxrate:v", f"{rate}k", "-bufsize:v", f"{buffer}k"),
        why=f"Never more than {rate:,} kbit/s, counted over a buffer of {buffer:,} kbit: the player keeps up "
        "at busy places, and the average stays under its limit.",
    )


def keyframes(target: Target) -> Part:
    """A whole picture to start from, first and often."""
    return part(
        *("-g", str(target.keyframe_frames)),
        why=f"A whole picture to start from (keyframe) at least every {target.keyframe_frames} frames.",
    )


def _references(target: Target) -> Iterator[Part]:
    """As many pictures held as the level lets a player hold (ITU-T H.264 clause A.3.1)."""
    level = target.level or target.limits.level_max
    held = max_dpb_frames("H.264", level, target.frame.width, target.frame.height) if level else 16
    references = max(1, min(MOST_REFERENCES, held))
    yield part("-refs", str(references), why="No more pictures held in memory than the level allows.")
    if held < 2 or target.container == "AVI":
        yield part("-bf", "0", why="No pictures out of order: there is no room for them.")
    pyramid = ":b-pyramid=none" if held < PYRAMID_FRAMES else ""
    yield part(
        *("-x264-params", f"open-gop=0{pyramid}"),
        why="Each group of pictures stands alone, so that the loop starts clean.",
    )
