"""Rules that B has asked more gravely than A: what A lets pass may stop B.

It must not know what a rule looks for, only which keys it goes by.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from mediacheck.names import RULE_NAMES, RuleName
from mediacheck.profile import Profile
from mediacheck.profile_difference.keys import RULES_OF
from mediacheck.profile_difference.model import Lack
from mediacheck.profile_difference.severity import counts, graver, weight
from mediacheck.profile_difference.wording import name_of, said
from mediacheck.profile_values import Part

NEVER_SILENT: frozenset[RuleName] = frozenset(
    {"card-file-system", "card-label", "file-name", "loop-count", "loop-seam", "video-gop"}
)
"""Rules that go by a key and have something to say without it too."""
WORDS = {"off": "is not looked for", "note": "is only a note", "warn": "is a warning", "fail": "stops a card"}


def rule_lacks(a: Profile, b: Profile) -> Iterator[Lack]:
    """One lack for each rule that is graver in B, where its finding there is more than a note."""
    for rule in (name for name in RULE_NAMES if name in {*a.rules, *b.rules}):
        before, now = weight(a, rule), weight(b, rule)
        if graver(now, before) and now in ("warn", "fail") and _can_speak(rule, b):
            yield said(
                f"rules.{rule}",
                "some",
                before,
                now,
                f"What the rule {rule} looks for {WORDS[before]} for {name_of(a)} and {WORDS[now]} here, so "
                "what fits there may not fit here.",
            )


def is_judged(key: str, profile: Profile) -> bool:
    """Whether any rule that goes by this key gives more than a note; so it is where no rule can see it."""
    rules: tuple[RuleName, ...] = RULES_OF[key]
    if key == "audio.use":
        rules = ("audio-unwanted",) if profile.audio.use == "none" else ("audio-missing",)
    return not rules or any(counts(profile, rule) for rule in rules)


def _can_speak(rule: str, profile: Profile) -> bool:
    if rule == "play-order":
        return profile.player.order == "disk"
    if rule in ("audio-unwanted", "audio-missing"):
        return profile.audio.use == ("none" if rule == "audio-unwanted" else "required")
    keys = [key for key, rules in RULES_OF.items() if rule in rules]
    return not keys or rule in NEVER_SILENT or any(_is_restricted(profile, key) for key in keys)


def _is_restricted(profile: Profile, key: str) -> bool:
    """Whether the profile sets a key, in its section or under any codec."""
    section, _, name = key.partition(".")
    part: Part = getattr(profile, section)
    return any(_is_set(each, name) for each in (part, *(getattr(part, "codecs", None) or {}).values()))


def _is_set(part: Any, name: str) -> bool:
    field = type(part).model_fields.get(name)
    return field is not None and getattr(part, name) != field.get_default(call_default_factory=True)
