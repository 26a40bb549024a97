"""What goes unnoticed where one picture or sound gives way to the next, at any seam of the loop.

It must not answer for a rule: it knows limits, and the items that they are told from are handed over.
"""

from __future__ import annotations

from mediacheck.measure.model import Seam

JUMP_MIN = 2.0
"""Mean difference of two small pictures, in steps of 0 to 255, below which a jump goes unseen: a keyframe
beside the picture before it differs by less (common practice, no source)."""
USUAL_TIMES = 3.0
GREATEST_TIMES = 1.5
"""A seam jumps when its change is more than so many times the usual, and more than so many times the
greatest change inside the clip (common practice, no source)."""
SEEN_ANYWAY = 12.0
"""A change of more than about a twentieth of the range is seen even where nothing but the brightness changes
(common practice, no source)."""
UNLIKE_MIN = 0.1
UNLIKE_TIMES = 3.0
LIKE_SHARE = 0.5
"""A lesser change is a jump only if the pictures are less alike than 1 (the same) by more than so much, and
by more than so many times what neighbours inside the clip are, or not half as alike as these (common
practice, no source).

Change alone takes a scene that slowly grew brighter by 5 of 255 for a jump: its ends differ by far more than
any neighbours. Their structure is the same still, and their likeness above 0.95. Grain makes neighbours less
alike than they look, so that the limit moves with them; cuts in real footage bring 0.6 and less, where
neighbours have 0.9 and more."""
STEP_TIMES = 4.0
"""A seam clicks when its step in the sound is more than so many times the greatest near it (common practice,
no source)."""
SILENCE_S_MAX = 1.0
"""Common practice, no source."""


def change_unseen(*clips: Seam) -> float:
    """The greatest change (0 to 255) that nobody notices between pictures of these clips."""
    usual, greatest = max(clip.usual_change for clip in clips), max(clip.greatest_change for clip in clips)
    return max(JUMP_MIN, USUAL_TIMES * usual, GREATEST_TIMES * greatest)


def alike_enough(*clips: Seam) -> float:
    """The least likeness (1: the same) of two pictures of these clips that pass for neighbours."""
    usual = min(clip.usual_likeness for clip in clips)
    return min(1 - UNLIKE_MIN, max(1 - UNLIKE_TIMES * (1 - usual), LIKE_SHARE * usual))


def jumps(change: float, likeness: float, *clips: Seam) -> bool:
    """Whether a change with that likeness, from one picture of these clips to another, is seen as a jump."""
    if change <= change_unseen(*clips):
        return False
    return change > SEEN_ANYWAY or likeness < alike_enough(*clips)
