"""The sentences: what may be so with a thing that fits A, what this player takes, and what then shows.

It must not compare: it is told what breaks which key.
"""

from __future__ import annotations

from typing import NamedTuple

from mediacheck.profile import Profile
from mediacheck.profile_difference.keys import plain_key
from mediacheck.profile_difference.model import Lack, Share
from mediacheck.profile_difference.words import ALIKE, WORDS

OTHERS = ("this ", "sound for this ")
"""How what is wanted begins where it is not the player that wants it."""


class Values(NamedTuple):
    """What a sentence and a row need of both sides."""

    in_a: str
    in_b: str
    has: str | None
    """What the thing has that B does not take; None: anything at all."""
    kind: str = ""
    """Which kind of the thing it is about, such as " in H.264"; nothing where it is about all."""


def lack(a: Profile, key: str, share: Share, values: Values, takes: str | None = None) -> Lack:
    """A lack in the words of its key; `takes` where this player takes none of it."""
    plain = plain_key(key)
    words = WORDS[ALIKE.get(plain, plain)]
    every = share == "every"
    thing = f"{words.thing}{values.kind} for {name_of(a)}"
    has = words.has_any if values.has is None else words.has.format(_spoken(values.has))
    wants = takes or words.takes.format(_spoken(values.in_b))
    by = wants if wants.startswith(OTHERS) else f"this player {wants}"
    head = f"Every {thing} has" if every else f"A {thing} may have"
    return Lack(key, values.in_a, values.in_b, f"{head} {has}; {by}, so {words.so}.", every)


def _spoken(text: str) -> str:
    """A list as people say it: "24, 25 or 30 frames per second"."""
    return " or ".join(text.rsplit(", ", 1))


def said(key: str, share: Share, in_a: str, in_b: str, message: str) -> Lack:
    """A lack with a sentence of its own."""
    return Lack(key, in_a, in_b, message, share == "every")


def name_of(profile: Profile) -> str:
    """How a profile is called in a sentence."""
    return profile.id or "the first profile"
