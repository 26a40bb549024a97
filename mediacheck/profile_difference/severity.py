"""What the rules of a profile weigh: how grave each is by itself, and what a profile makes of it.

It must not know what a rule looks for.
"""

from __future__ import annotations

from mediacheck.names import RuleName, Severity
from mediacheck.profile import LIGHTEST_FIRST, Profile, RuleSetting
from mediacheck.rules.catalogue import USUAL_SEVERITIES


def usual(rule: RuleName) -> Severity:
    """What a rule's finding weighs where the profile says nothing; fail, where it is not in the catalogue."""
    return USUAL_SEVERITIES.get(rule, "fail")


def weight(profile: Profile, rule: RuleName) -> RuleSetting:
    """What a rule's finding weighs with this profile, or off."""
    return profile.rules.get(rule, usual(rule))


def counts(profile: Profile, rule: RuleName) -> bool:
    """Whether a finding of the rule is more than a note."""
    return weight(profile, rule) in ("warn", "fail")


def lets_pass(profile: Profile, rule: RuleName) -> bool:
    """Whether what the rule finds does no harm: it is off, or a note."""
    return not counts(profile, rule)


def graver(one: RuleSetting, other: RuleSetting) -> bool:
    """Whether the one setting is graver than the other."""
    return LIGHTEST_FIRST.index(one) > LIGHTEST_FIRST.index(other)
