"""All lacks of one profile against another, the certain ones first.

It must not compare anything itself: each room of the profile has its own module.
"""

from __future__ import annotations

from mediacheck.profile import Profile
from mediacheck.profile_difference.card import card_lacks
from mediacheck.profile_difference.keys import RULES_OF, plain_key
from mediacheck.profile_difference.layout import layout_lacks
from mediacheck.profile_difference.loop import loop_lacks, still_lacks
from mediacheck.profile_difference.model import Lack
from mediacheck.profile_difference.player import player_lacks
from mediacheck.profile_difference.rules import is_judged, rule_lacks
from mediacheck.profile_difference.screen import screen_lacks
from mediacheck.profile_difference.sound import sound_lacks
from mediacheck.profile_difference.video import video_lacks

PARTS = (
    screen_lacks,
    player_lacks,
    card_lacks,
    layout_lacks,
    video_lacks,
    sound_lacks,
    still_lacks,
    loop_lacks,
)
ORDER = {key: place for place, key in enumerate(RULES_OF)}


def lacks(a: Profile, b: Profile) -> tuple[Lack, ...]:
    """What a file or card that fits A may not keep to on B; nothing where all that fits A fits B.

    To fit means that no rule of a full check finds more than a note. A limit that is looser in B is no lack,
    and neither is one whose rule is off or a note there.
    """
    found = [each for part in PARTS for each in part(a, b) if is_judged(plain_key(each.key), b)]
    every = [*found, *rule_lacks(a, b)]
    return tuple(sorted(every, key=lambda each: (not each.always, ORDER[plain_key(each.key)])))
