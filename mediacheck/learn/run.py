"""The whole of learning: cards are looked at, what they teach is written, and they are held against it.

It must not print; nothing is written before all cards were looked at and accepted, and nothing on a card.
"""

from __future__ import annotations

import os
import re
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from mediacheck.card.device import raw_name
from mediacheck.card.mounts import System, mount_at
from mediacheck.check import judged
from mediacheck.errors import CardError, OutputError, WrongUse
from mediacheck.learn.derive import learned
from mediacheck.learn.document import document
from mediacheck.learn.merge import Merged, merged
from mediacheck.learn.model import Learned, Refused, Taught, Value
from mediacheck.learn.plain import dotted, one_line, shown
from mediacheck.learn.refusal import refusals
from mediacheck.names import Depth, VerdictWord
from mediacheck.output import write_atomically
from mediacheck.profile_files import LoadedProfile, read_profile
from mediacheck.report.model import Report
from mediacheck.report.words import counted
from mediacheck.survey import Surveyed

Look = Callable[[Path], Surveyed]
"""Surveys one card at the depth that is learned from. Raises CardError where there is none."""


class CannotTeach(CardError):
    """A card that is damaged, or holds what no player should need to take."""

    advice = "Put that right first, or say --even-so to learn from what is whole there."

    def __init__(self, refused: tuple[Refused, ...]) -> None:
        super().__init__(refused)
        self.refused = refused

    def __str__(self) -> str:
        return "\n".join(refusal_lines(self.refused))


@dataclass(frozen=True, slots=True)
class Lesson:
    """What is asked for."""

    cards: tuple[str, ...]
    """As the person named them."""
    out: Path
    merge: Path | None
    """A profile that is there already, to be widened."""
    even_so: bool
    depth: Depth


@dataclass(frozen=True, slots=True)
class Unfit:
    """A card that does not pass the profile that it helped to make, and why in one sentence."""

    card: str
    verdict: VerdictWord
    sentence: str


@dataclass(frozen=True, slots=True)
class Outcome:
    """What was done, for a person to read."""

    cards: tuple[tuple[str, int], ...]
    """Their names, and how many files each holds."""
    out: Path
    rounded: tuple[str, ...]
    open: tuple[str, ...]
    """Keys of which too little was seen for a limit; these two are empty after a merge."""
    widened: tuple[str, ...]
    kept: tuple[str, ...]
    refused: tuple[Refused, ...]
    """Cards that were learned from in spite of what is wrong with them."""
    unfit: tuple[Unfit, ...]


def learn(lesson: Lesson, look: Look) -> Outcome:
    """Look at all cards, and write what they teach.

    Raises WrongUse, CardError, CannotTeach, ProfileError or OutputError; then nothing was written.
    """
    _require(lesson)
    _before(lesson)
    taught = tuple(Taught(card, look(Path(card))) for card in lesson.cards)
    refused = refusals(taught, lesson.depth)
    if refused and not lesson.even_so:
        raise CannotTeach(refused)
    lessons = learned(taught, lesson.depth)
    _require(lesson)  # a person may have written there meanwhile
    before = _before(lesson)
    text, changes = _written(lesson, lessons, before)
    write_atomically(lesson.out, text)
    return Outcome(
        cards=tuple((each.shown, len(each.surveyed.files)) for each in taught),
        out=lesson.out,
        rounded=() if before is not None else tuple(map(_rounded, filter(_is_rounded, lessons.values))),
        open=() if before is not None else tuple(dotted(v.key) for v in lessons.values if not v.is_limit),
        widened=changes.widened,
        kept=changes.kept,
        refused=refused,
        unfit=_unfit(taught, read_profile(lesson.out), lesson),
    )


def refusal_lines(refused: tuple[Refused, ...]) -> tuple[str, ...]:
    """One line for each reason, with the card before it."""
    return tuple(one_line(f"{each.card}: {reason}") for each in refused for reason in each.reasons)


def _written(lesson: Lesson, lessons: Learned, before: str | None) -> tuple[str, Merged]:
    if before is not None:
        changes = merged(before, lessons)
        return changes.text, changes
    title = f"Learned from {counted(len(lesson.cards), 'card')} that {_plays(len(lesson.cards))}"
    text = document(lessons, _id(lesson.out), title)
    return text, Merged(text, (), ())


def _plays(cards: int) -> str:
    return "plays" if cards == 1 else "play"


def _id(out: Path) -> str:
    """The name of the file, as `read_profile` makes one of it."""
    return re.sub(r"[^A-Za-z0-9._-]+", "-", out.stem).lstrip("._-") or "profile"


def _before(lesson: Lesson) -> str | None:
    """The text of the profile to widen, with its line ends; None without one. Raises InvalidFile."""
    if lesson.merge is None:
        return None
    read_profile(lesson.merge)
    return lesson.merge.read_bytes().decode()


def _require(lesson: Lesson) -> None:
    """Say before long work what could not be done after it."""
    out = Path(os.path.realpath(lesson.out))
    cards = [Path(os.path.realpath(card)) for card in lesson.cards]
    if "" in map(str.strip, lesson.cards):
        raise WrongUse("A card without a name was given: name a folder, a drive or the image of a card.")
    if twice := next((card for card in cards if cards.count(card) > 1), None):
        raise WrongUse(f"{twice} was named twice, and a card can teach only once: name it once.")
    if any(card == out or card in out.parents or _is_on(out, card) for card in cards):
        raise WrongUse(f"{lesson.out} cannot be written: cards are only read. Choose another place.")
    if lesson.out.is_dir():
        raise OutputError(f"{lesson.out} cannot be written: it is a folder.")
    if not lesson.out.parent.is_dir():
        raise OutputError(f"{lesson.out} cannot be written: there is no folder {lesson.out.parent}.")
    is_merged = lesson.merge is not None and Path(os.path.realpath(lesson.merge)) == out
    if lesson.out.exists() and not is_merged:
        raise WrongUse(
            f"{lesson.out} is there already: choose another name, or widen it with --merge {lesson.out}."
        )


def _is_on(out: Path, device: Path) -> bool:
    """Whether a file lies on the drive that is read through this device."""
    if not device.is_block_device():
        return False
    system = System()
    mounts = [mount_at(folder, system) for folder in out.parents]
    first = next((mount for mount in mounts if mount is not None), None)
    return first is not None and first.device.startswith(raw_name(str(device)))


def _is_rounded(value: Value) -> bool:
    return value.is_limit and "rounded" in value.evidence


def _rounded(value: Value) -> str:
    return f"{dotted(value.key)}: {shown(value.key, value.value)} ({one_line(value.evidence)})"


def _unfit(taught: tuple[Taught, ...], loaded: LoadedProfile, lesson: Lesson) -> tuple[Unfit, ...]:
    """Cards that do not pass what was written, as with --even-so or with values that a person keeps."""
    reports = [(each.shown, judged(each.surveyed, loaded, lesson.depth)) for each in taught]
    return tuple(
        Unfit(name, report.verdict, _why(name, report))
        for name, report in reports
        if report.verdict != "pass"
    )


def _why(name: str, report: Report) -> str:
    """The worst of it in one sentence, and how to see the rest."""
    findings = [finding for finding in report.findings if finding.severity != "note"]
    if findings:
        worst = findings[0]
        what = f"{worst.path}: {worst.message}" if worst.path else worst.message
        more = f" That is one of {len(findings):,} such findings." if len(findings) > 1 else ""
    else:
        gap = next((gap for gap in report.not_checked if not gap.expected), None)
        what, more = f"not everything could be checked{f' ({gap.reason})' if gap else ''}.", ""
    passes = "passes with a warning" if report.verdict == "warn" else "does not pass this profile"
    return one_line(f"{name} {passes}: {what}{more} `mediacheck check` tells all of it.")
