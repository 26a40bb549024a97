"""What the terminal and the page both say of a comparison, in order, worded and cut to a length that can be
read.

It must not draw: colours, widths and tags belong to the faces. Every text in it is safe to show.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

from mediacheck.compare.model import Comparison, Difference, NotCompared, Side
from mediacheck.names import Severity
from mediacheck.report.words import (
    DEPTH_WORDS,
    KIND_WORDS,
    counted,
    moment_words,
    safe,
    volume_words,
)
from mediacheck.rules.wording import capital

WEIGHT_WORDS: dict[Severity, str] = {
    "fail": "COULD STOP IT",
    "warn": "COULD MATTER",
    "note": "UNLIKELY",
}
"""What a difference could do, in words, so that no colour is needed."""
MATTERS, MATTERS_NOT = "against the profile", "the profile does not tell the cards apart in this"
ALL_IN_JSON = "the JSON record (option --json) lists them all"
Tone = Literal["pass", "warn", "fail", "incomplete"]


@dataclass(frozen=True, slots=True)
class Limits:
    """How much a face shows before it says "and N more"."""

    groups: int
    paths: int


@dataclass(frozen=True, slots=True)
class Answer:
    """The first line. `tone` is for colour alone; the words say the same."""

    headline: str
    rest: str
    tone: Tone

    def __str__(self) -> str:
        return f"{self.headline}; {self.rest}"


@dataclass(frozen=True, slots=True)
class Group:
    """Differences that say the same of one or more files."""

    severity: Severity
    weight: str
    rule: str
    places: tuple[str, ...]
    more_places: int
    good: str
    bad: str
    message: str
    action: str
    matters: str


@dataclass(frozen=True, slots=True)
class Gap:
    """What was not compared for one and the same reason."""

    text: str
    expected: bool
    places: tuple[str, ...]
    more_places: int


@dataclass(frozen=True, slots=True)
class Outline:
    """The whole comparison, ready to be drawn. A text that has nothing to say is empty."""

    answer: Answer
    about: tuple[tuple[str, str], ...]
    groups: tuple[Group, ...]
    more_groups: str
    no_differences: str
    same: tuple[str, ...]
    no_same: str
    gaps: tuple[Gap, ...]
    no_gaps: str
    profile_note: str


def outline_of(comparison: Comparison, limits: Limits) -> Outline:
    """Word the comparison."""
    groups = tuple(_groups(comparison.differences, limits))
    left = groups[limits.groups :]
    more = sum(len(each.places) + each.more_places for each in left)
    same = (*comparison.same, *_matched(comparison, limits))
    return Outline(
        answer=answer_of(comparison),
        about=tuple((name, safe(text)) for name, text in _about(comparison) if text),
        groups=groups[: limits.groups],
        more_groups=f"and {counted(more, 'more difference')}; {ALL_IN_JSON}." if more else "",
        no_differences="" if groups else "None was found in what was compared.",
        same=tuple(map(safe, same)),
        no_same="" if same else "Nothing that was compared is the same.",
        gaps=tuple(_gaps(comparison.not_compared, limits)),
        no_gaps="" if comparison.not_compared else "Nothing was left out.",
        profile_note=_profile_note(comparison),
    )


def answer_of(comparison: Comparison) -> Answer:
    """The line that stands first on every face."""
    counts = Counter(each.severity for each in comparison.differences)
    if counts["fail"]:
        many = f"{counted(counts['fail'], 'difference')} could stop the bad card from playing"
        return Answer(many, f"first: {_first(comparison, 'fail')}", "fail")
    lesser = _lesser(comparison, counts)
    if any(not gap.expected for gap in comparison.not_compared):
        return Answer(
            "Not sure what stops the bad card", f"not everything could be compared; {lesser}", "incomplete"
        )
    limits = " in what was compared" if comparison.not_compared else ""
    nothing = f"Nothing was found{limits} that could stop the bad card from playing"
    return Answer(nothing, lesser, "warn" if counts["warn"] else "pass")


def _lesser(comparison: Comparison, counts: Counter[Severity]) -> str:
    """What is left to say where no difference could stop the card."""
    if counts["warn"]:
        many = counted(counts["warn"], "difference")
        return f"{many} could change what it shows; first: {_first(comparison, 'warn')}"
    small = f"only {counted(counts['note'], 'small difference')} found" if counts["note"] else ""
    return f"{small or 'no difference was found'}: {_next(comparison)}."


def _next(comparison: Comparison) -> str:
    """The player is not to be suspected before the cards have been compared whole."""
    if any(not gap.expected for gap in comparison.not_compared):
        return "see what was not compared"
    if not all(side.volume and side.volume.file_system for side in (comparison.good, comparison.bad)):
        return "compare the cards themselves next, since how they are formatted was not compared"
    return "look at the player, its power and its screen next"


def _first(comparison: Comparison, severity: Severity) -> str:
    """The first one of this weight: what matters to a profile may stand before it and weigh less."""
    difference = next(each for each in comparison.differences if each.severity == severity)
    path = difference.bad_path or difference.good_path
    about = f'"{path}": ' if path and f'"{path}"' not in difference.message else ""
    return safe(f"{about}{difference.message}")


def _about(comparison: Comparison) -> Iterator[tuple[str, str]]:
    for name, side in (("Good card", comparison.good), ("Bad card", comparison.bad)):
        yield name, _side(side)
        yield f"{name}: note", "; ".join(side.notes)
    if comparison.profile:
        title = f" ({comparison.profile.title})" if comparison.profile.title else ""
        yield "Profile", f"{comparison.profile.id}{title}"
    yield "Depth", DEPTH_WORDS[comparison.depth]
    yield "Compared", f"{moment_words(comparison.compared_at)}, mediacheck {comparison.version}"


def _side(side: Side) -> str:
    parts = (
        f"{side.source} ({KIND_WORDS[side.kind]})",
        volume_words(side.volume),
        f"{counted(side.items, 'item')} in {counted(side.files, 'file')}",
    )
    return ", ".join(part for part in parts if part)


def _groups(differences: Sequence[Difference], limits: Limits) -> Iterator[Group]:
    """Differences that say the same are one group, which stands where its first one stands."""
    bundles: dict[tuple[object, ...], list[Difference]] = {}
    for each in differences:
        key = (each.severity, each.rule, each.message, each.action, each.good, each.bad, each.matters)
        bundles.setdefault(key if _may_join(each) else (id(each),), []).append(each)
    for bundle in bundles.values():
        first = bundle[0]
        places = tuple(safe(_place(each)) for each in bundle)
        yield Group(
            first.severity,
            WEIGHT_WORDS[first.severity],
            first.rule or "",
            places[: limits.paths],
            max(0, len(places) - limits.paths),
            safe(first.good),
            safe(first.bad),
            safe(first.message),
            safe(first.action),
            "" if first.matters is None else MATTERS if first.matters else MATTERS_NOT,
        )


def _may_join(difference: Difference) -> bool:
    """Two things that are wrong with a card as a whole stay apart, even where the words are the same."""
    return difference.subject != "card"


def _place(difference: Difference) -> str:
    good, bad = difference.good_path, difference.bad_path
    if good is None and bad is None:
        return "The order of the items" if difference.subject == "order" else "The card as a whole"
    if good is None or bad is None:
        side = "bad" if good is None else "good"
        return (
            f"{bad or good} (on the {side} card only)" if difference.subject == "item" else f"{bad or good}"
        )
    return bad if good == bad else f"{bad} (on the good card: {good})"


def _matched(comparison: Comparison, limits: Limits) -> Iterator[str]:
    """Which files were known again under another name."""
    found = [match for match in comparison.matched if match.good_path != match.bad_path]
    for match in found[: limits.paths]:
        yield f"{match.bad_path} on the bad card is {match.good_path} on the good card ({match.how})."
    if (more := len(found) - limits.paths) > 0:
        yield f"{counted(more, 'more file')} of another name or folder; {ALL_IN_JSON}."


def _gaps(gaps: Sequence[NotCompared], limits: Limits) -> Iterator[Gap]:
    bundles: dict[tuple[bool, str, str], list[NotCompared]] = {}
    for gap in sorted(gaps, key=lambda each: each.expected):
        bundles.setdefault((gap.expected, gap.what, gap.reason), []).append(gap)
    for (expected, what, reason), bundle in bundles.items():
        places = dict.fromkeys(each.bad_path or each.good_path for each in bundle)
        named = tuple(safe(place) for place in places if place)
        text = safe(f"{capital(what)}: {reason}.")
        yield Gap(text, expected, named[: limits.paths], max(0, len(named) - limits.paths))


def _profile_note(comparison: Comparison) -> str:
    decides = "Where the player's data sheet says otherwise, the data sheet decides."
    if comparison.profile is None:
        return "Compared without a profile: what this player can take is not known. " + decides
    return f"Differences that matter to the profile {safe(comparison.profile.id)} come first. {decides}"
