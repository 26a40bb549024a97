"""How the end of one item meets the start of the next, from what the decode of each kept of its ends.

It must not judge. Which item follows which is known only when a whole loop is looked at, long after the files
were decoded one by one.
"""

from __future__ import annotations

from mediacheck.measure.model import Seam, SoundEdge

TINY_PX = (32, 18)
"""Width and height of the pictures that are kept of the ends."""
STEP_MIN = 0.001
"""-60 dBFS: the greatest step near is taken for so much at least, so that a step which nobody hears stays a
small number (common practice, no source)."""


def pictures_meet(ending: Seam, starting: Seam) -> tuple[float, float] | None:
    """Change (0 to 255) and likeness (`measure.likeness`) from one item's last picture to another's first.

    Both are of pictures of 32 x 18, whatever the items' shapes. The change is never greater than that of the
    small pictures which `Seam.usual_change` is of, since averaging takes differences away. None where no
    pictures were kept.
    """
    if ending.last is None or starting.first is None:
        return None
    from mediacheck.measure.likeness import likeness
    from mediacheck.measure.seam import change, picture_of

    last, first = picture_of(ending.last), picture_of(starting.first)
    return change(last, first), likeness(last, first)


def sound_step(ending: SoundEdge, starting: SoundEdge) -> float | None:
    """Step from the last sample of one item to the first of another, beside the greatest step near both.

    As a multiple of the latter, of the channel where it is greatest. Sound of one channel comes out of every
    loudspeaker; None where the channels cannot be matched.
    """
    channels = max(len(ending.level), len(starting.level))
    ends = [_widened(edge, channels) for edge in (ending, starting)]
    if not channels or any(len(edge.level) != channels for edge in ends):
        return None
    return max(
        abs(first - last) / max(near_end, near_start, STEP_MIN)
        for last, near_end, first, near_start in zip(
            ends[0].level, ends[0].greatest_step, ends[1].level, ends[1].greatest_step, strict=True
        )
    )


def _widened(edge: SoundEdge, channels: int) -> SoundEdge:
    if len(edge.level) != 1:
        return edge
    return SoundEdge(edge.level * channels, edge.greatest_step * channels)
