"""What a report says of the rules of a cause: found, ruled out, or why neither.

It must not order anything. A rule counts as checked only where the report leaves no doubt: a rule that is
off, that was given no limit to hold files against, or that saw no file, rules nothing out.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any, Literal

from mediacheck import __version__
from mediacheck.names import WORST_FIRST, FileKind, RuleName
from mediacheck.profile import Profile
from mediacheck.profile_difference.keys import RULES_OF, plain_key
from mediacheck.report.model import Finding, Report
from mediacheck.report.words import counted, listed

State = Literal["found", "ruled out", "not checked", "unknown"]
NO_REPORT = ""
OFF_THE_CARD = "A check of the card cannot tell this."
FOUND = "The check of the card found this."
RULED_OUT = "The check of the card looked for this and found nothing of it."

PATHS_MAX = 2
ABOUT: Mapping[str, FileKind] = MappingProxyType(
    {"still": "still", "video": "video", "picture": "video", "audio": "video"}
)
"""Which files a rule can be about, by the first part of its name; rules that are left out are about any."""

ORDER = "player.order"
BY_FACE: tuple[RuleName, ...] = ("loop-wrong-face", "loop-outdated")
ONLY_MODIFY = frozenset(
    (
        "player.buffer_seconds", "layout.subfolders", "layout.other_files", "audio.loudness_tolerance_lu",
        "stills.seconds",
    )
)  # fmt: skip
"""Keys that alone do not make a rule compare anything, where it goes by other keys too."""


@dataclass(frozen=True, slots=True)
class Evidence:
    """What is known of one cause. `findings` are those of its rules, the worst first."""

    state: State
    why: str
    findings: tuple[Finding, ...] = ()


def evidence_of(rules: tuple[RuleName, ...], report: Report | None, profile: Profile | None) -> Evidence:
    """What a report says of a cause with these rules.

    `profile` is the one that the check went by; None: it is not at hand, and nothing can be ruled out.
    """
    if report is None:
        return Evidence("unknown", NO_REPORT)
    if not rules:
        return Evidence("unknown", OFF_THE_CARD)
    findings = [finding for finding in report.findings if finding.rule in rules]
    if findings:
        worst_first = sorted(findings, key=lambda finding: WORST_FIRST.index(finding.severity))
        return Evidence("found", FOUND, tuple(worst_first))
    doubts = tuple(dict.fromkeys(_all_doubts(rules, report, profile)))
    if doubts:
        more = f", and for {counted(len(doubts) - 1, 'more reason')}" if len(doubts) > 1 else ""
        return Evidence("not checked", f"{doubts[0]}{more}.")
    return Evidence("ruled out", RULED_OUT)


def _all_doubts(rules: tuple[RuleName, ...], report: Report, profile: Profile | None) -> Iterator[str]:
    """Why rules without a finding do not rule a cause out, the weightiest first; none where they do."""
    yield from _gaps(rules, report)
    if report.version != __version__:
        yield f"the report was made by version {report.version}, and this is {__version__}"
    if profile is None:
        yield f"the profile of that check is not at hand ({report.profile.id}; give it with --profile)"
    limits = _stated(profile) if profile else frozenset()
    for rule in rules:
        if profile:
            yield from _not_asked(rule, profile, limits, report)
        yield from _not_shown(rule, report)


def _gaps(rules: tuple[RuleName, ...], report: Report) -> Iterator[str]:
    """What the report itself says was not checked, with where."""
    gaps: dict[str, list[str]] = {}
    for gap in report.not_checked:
        if gap.rule in rules:
            paths = gaps.setdefault(gap.reason.rstrip(". "), [])
            paths += [gap.path] if gap.path and gap.path not in paths else []
    for reason, paths in gaps.items():
        yield f"{reason} ({listed(tuple(paths), PATHS_MAX)})" if paths else reason


def _not_asked(rule: RuleName, profile: Profile, limits: frozenset[str], report: Report) -> Iterator[str]:
    """A profile that has no limit for a rule, or has it off, is not in the report's list of gaps."""
    needed, kind = KEYS.get(rule), ABOUT.get(rule.partition("-")[0])
    if profile.rules.get(rule) == "off":
        yield f"the profile has {rule} switched off"
    elif needed and needed.isdisjoint(limits) and any(kind in (None, file.kind) for file in report.files):
        yield f"the profile has no limit to check this by ({rule})"


def _not_shown(rule: RuleName, report: Report) -> Iterator[str]:
    """What a report cannot show: rules about files on a card without files, and what was not handed over."""
    if not report.files and not rule.startswith("card-"):
        yield "no file of the card was looked at"
    elif not report.items and rule.startswith(("loop-", "play-")):
        yield "the card holds no item that would be played"
    if rule.startswith("manifest-"):
        yield "the report does not say that the card was compared with its manifest"
    if rule in BY_FACE and report.face is None:
        yield "the check was not told which face the card is for (--display and --face)"
    if rule == "loop-outdated" and any(finding.rule == "loop-wrong-face" for finding in report.findings):
        yield "the card carries the loop of another face"


def _keys_of_rules() -> Mapping[str, frozenset[str]]:
    """The keys of a profile without all of which a rule has nothing to compare with."""
    rules = {rule for names in RULES_OF.values() for rule in names}
    keys = {rule: {key for key, names in RULES_OF.items() if rule in names} for rule in rules}
    compared = {str(rule): frozenset(own - ONLY_MODIFY or own) for rule, own in keys.items()}
    return MappingProxyType({**compared, "play-order": frozenset((ORDER,))})


KEYS = _keys_of_rules()


def _stated(profile: Profile) -> frozenset[str]:
    """The keys with which a profile restricts something, and its order of play where it is written."""
    order = frozenset((ORDER,) if "order" in profile.player.model_fields_set else ())
    return order.union(_keys(profile.model_dump(exclude_defaults=True, exclude_none=True), ""))


def _keys(values: Mapping[str, Any], above: str) -> Iterator[str]:
    for key, value in values.items():
        yield plain_key(above + key)
        if isinstance(value, Mapping):
            yield from _keys(value, f"{above}{key}.")
