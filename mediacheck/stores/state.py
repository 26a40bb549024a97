"""What is known of one face on one day: from what is planned for it and what was last heard.

It must not know the ledger: the same plan, evidence and day give the same state, in whichever order it came.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from mediacheck.display import the_face
from mediacheck.rules.wording import clause
from mediacheck.stores.model import FaceState, Plan, PlannedFace, PlannedLoop, Said, State

ABOUT_THE_LOOP = (
    "loop-wrong-face",
    "loop-outdated",
    "manifest-missing",
    "manifest-changed",
    "manifest-extra",
)
"""Findings that say which loop it is, and not whether it plays."""


@dataclass(frozen=True, slots=True)
class Shown:
    """A loop that the plan knows: whose it is."""

    display: str
    face: PlannedFace
    loop: PlannedLoop


class Known:
    """Every loop of a plan, by what its files hold."""

    def __init__(self, plan: Plan) -> None:
        self._by_content: dict[str, list[Shown]] = {}
        self._by_name: dict[tuple[str, str], PlannedFace] = {}
        for display in plan.displays:
            for face in display.faces:
                self._by_name[display.id, face.key] = face
                for loop in face.loops:
                    if loop.content is not None:
                        self._by_content.setdefault(loop.content, []).append(Shown(display.id, face, loop))

    def face(self, display: str, key: str) -> PlannedFace | None:
        """A face of the plan."""
        return self._by_name.get((display, key))

    def shown(self, content: str) -> Sequence[Shown]:
        """All loops with these very files: faces may share one."""
        return self._by_content.get(content, ())


def due_loop(face: PlannedFace, today: date) -> PlannedLoop | None:
    """The loop that belongs on the face on this day; None before the first."""
    begun = [loop for loop in face.loops if loop.starts is not None and loop.starts <= today]
    return max(begun, key=lambda loop: loop.starts or date.min, default=None)


def last_day(loop: PlannedLoop) -> date | None:
    """The last day on which the version before may still be shown."""
    return loop.confirm_by or (loop.starts - timedelta(days=1) if loop.starts else None)


def state_of(
    display: str, face: PlannedFace, said: Said | None, seen_on: date | None, today: date, known: Known
) -> FaceState:
    """The state of a face. `seen_on` and `today` are days by the clock of its store."""
    due = due_loop(face, today)
    if said is None or seen_on is None:
        wait = f"version {due.version} has been due since {_day(due.starts)}" if due else "no loop is due yet"
        return FaceState("not-heard-of", f"Nothing has been heard of it; {wait}.", None, _version(due))
    found = _answer(said) if said.kind == "identification" else _played(said)
    if found is None:
        found = _by_loop(display, face, said, seen_on, today, known)
    state, reason, version = found
    return FaceState(state, reason, version, _version(due))


Found = tuple[State, str, str | None]


def _played(said: Said) -> Found | None:
    """Where a card does not play, which loop it holds is the smaller question."""
    worst = next((f for f in said.findings if f.severity == "fail" and f.rule not in ABOUT_THE_LOOP), None)
    if worst is not None:
        return "will-not-play", f"{clause(worst.message)}.", said.version
    return None


def _answer(said: Said) -> Found | None:
    """Of a photo or clip that was held against the loops that are known."""
    if said.answer == "none":
        return "wrong", "The photo shows none of the known loops.", None
    if said.answer == "one of":
        return "not-sure", "The photo shows a moment that several loops have in common.", None
    return None


def _by_loop(display: str, face: PlannedFace, said: Said, seen_on: date, today: date, known: Known) -> Found:
    shown = _shown(display, face, said, known)
    if shown is None:
        found = _without_content(face, said, seen_on, today)
    elif shown.display != display or shown.face.key != face.key:
        elsewhere = "" if shown.display == display else f" of the display {shown.display}"
        words = f"It shows the loop of {the_face(shown.face.name)}{elsewhere}."
        return "wrong", words, shown.loop.version
    else:
        found = _by_version(face, shown.loop, today)
    if found[0] == "right" and said.verdict == "incomplete":
        return "not-sure", "It holds the right loop, and not all of it could be checked.", found[2]
    return found


def _shown(display: str, face: PlannedFace, said: Said, known: Known) -> Shown | None:
    """The loop that was seen; where several faces share it, this one first."""
    if said.content is not None:
        all_ = known.shown(said.content)
        here = [one for one in all_ if one.display == display and one.face.key == face.key]
        due_first = sorted(here, key=lambda one: one.loop.starts or date.min, reverse=True)
        return next(iter((*due_first, *all_)), None)
    if said.answer in ("match", "other version") and said.shows_face is not None:
        its = known.face(said.shows_display or display, said.shows_face)
        if its is None:
            return None
        named = next((loop for loop in its.loops if loop.version == said.version), None)
        return Shown(said.shows_display or display, its, named or PlannedLoop(said.version or "not known"))
    return None


def _by_version(face: PlannedFace, seen: PlannedLoop, today: date) -> Found:
    """The right face's loop, in some version."""
    due = due_loop(face, today)
    if due is None:
        return "right", f"It shows version {seen.version}, before any is due.", seen.version
    if seen.version == due.version:
        return "right", f"It shows version {seen.version}, which is due.", seen.version
    if seen.starts is not None and due.starts is not None and seen.starts > due.starts:
        return "right", f"It shows version {seen.version} already.", seen.version
    last = last_day(due)
    if last is not None and today <= last and _was_before(face, seen, due):
        words = f"It shows version {seen.version}; version {due.version} is to be confirmed by {_day(last)}."
        return "right", words, seen.version
    words = f"It shows version {seen.version}; version {due.version} has been due since {_day(due.starts)}."
    return "outdated", words, seen.version


def _was_before(face: PlannedFace, seen: PlannedLoop, due: PlannedLoop) -> bool:
    """Whether the version that was seen is the one right before, or one without a date."""
    if due.starts is None:
        return False
    before = due_loop(face, due.starts - timedelta(days=1))
    return before is None or before.version == seen.version


def _without_content(face: PlannedFace, said: Said, seen_on: date, today: date) -> Found:
    """The plan does not know these files, or the report does not tell them."""
    about = {finding.rule: finding for finding in said.findings}
    wrong, old = about.get("loop-wrong-face"), about.get("loop-outdated")
    if wrong is not None:
        return "wrong", f"{clause(wrong.message)}.", None
    if old is not None:
        return "outdated", f"{clause(old.message)}.", None
    if said.held:
        then, now = due_loop(face, seen_on), due_loop(face, today)
        if then is None or now is None or then.version == now.version:
            return "right", "It was held against its display file and belongs there.", _version(then)
        return _by_version(face, then, today)
    if said.content is None:
        return "not-sure", "The report does not tell which loop is on the card.", None
    if any(loop.content is not None for loop in face.loops):
        return "wrong", "It shows none of the loops that the plan knows.", None
    return "not-sure", "The plan does not say by which files its loop is known.", None


def _version(loop: PlannedLoop | None) -> str | None:
    return loop.version if loop else None


def _day(day: date | None) -> str:
    return day.isoformat() if day else "an unknown day"
