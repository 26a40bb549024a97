"""A still that is written again: upright, in the size and colours that the player shows.

It must not choose the format: that is for `recipe`.
"""

from __future__ import annotations

from fractions import Fraction

from mediacheck.encoding.model import Frame, Refused
from mediacheck.encoding.picture import TURNS
from mediacheck.encoding.size import still_frame_for
from mediacheck.encoding.still import CODERS, FLAT
from mediacheck.media.facts import StillFacts
from mediacheck.names import StillFormat
from mediacheck.profile import Profile
from mediacheck.repair.geometry import Shown, box_for, placed, shown, turns_for_panel
from mediacheck.repair.model import PictureRecipe, Wishes

UPRIGHT = {
    2: "hflip",
    3: "hflip,vflip",
    4: "vflip",
    5: "transpose=cclock_flip",
    6: "transpose=clock",
    7: "transpose=clock_flip",
    8: "transpose=cclock",
}
"""What makes a picture with this EXIF orientation upright (EXIF 2.3, tag 0x0112)."""


def still_recipe(
    facts: StillFacts, kind: StillFormat, profile: Profile, wishes: Wishes
) -> tuple[PictureRecipe, tuple[str, ...]] | Refused:
    """The picture, and all arguments behind the input."""
    frame = still_frame_for(profile.stills, profile.screen)
    if isinstance(frame, Refused):
        return frame
    coder = CODERS[kind]
    seen = shown(facts.width, facts.height, Fraction(1), 90 if facts.orientation >= 5 else 0)
    lies = turns_for_panel(seen, frame, profile.screen.turned_degrees)
    if lies:
        seen = Shown(seen.height, seen.width, 1 / seen.shape)
    box = _box(seen, frame, profile, wishes)
    chain = [
        *([UPRIGHT[facts.orientation]] if facts.orientation in UPRIGHT else []),
        *([TURNS[profile.screen.turned_degrees][0]] if lies else []),
        FLAT.setting,
        *placed(seen.shape, box, wishes.fit, coder.colours),
        coder.finish,
    ]
    filters = ",".join(chain)
    picture = PictureRecipe(copied=False, filters=filters, width=box.width, height=box.height)
    line = ("-map", "0:v:0", "-frames:v", "1", "-vf", filters, *coder.arguments, "-map_metadata", "-1")
    return picture, line


def _box(seen: Shown, frame: Frame, profile: Profile, wishes: Wishes) -> Frame:
    """No rule asks for a still of the screen's shape: bars are left to the player, unless the wish is to fill
    the screen."""
    fills = wishes.fit != "contain" and profile.screen.width is not None
    return box_for(seen, Frame(frame.width, frame.height, bars=fills), exact=False)
