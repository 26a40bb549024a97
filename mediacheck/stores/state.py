"""What is known of one face on one day: from what is planned for it and what was last heard.

It must not know the ledger: the same plan, evidence and day give the same state, in whichever order it came.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from mediacheck.face_names import folded, the_face
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

    def face(self, display: str, name: str) -> PlannedFace | None:
        """The face of this name, whatever its capitals."""
        return self._by_name.get((display, folded(name)))

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
    seen = _seen(display, face, said, seen_on, today, known)
    found = _answer(said) if said.kind == "identification" else _played(said, seen)
    if found is None:
        found = _by_loop(display, face, said, seen, seen_on, today)
    state, reason, version = found
    return FaceState(state, reason, version, _version(due))


Found = tuple[State, str, str | None]


def _played(said: Said, seen: Shown | None) -> Found | None:
    """Where a card does not play, which loop it holds is the smaller question."""
    fails = [finding for finding in said.findings if finding.severity == "fail"]
    version = seen.loop.version if seen else None
    for worst in fails:
        if worst.rule not in ABOUT_THE_LOOP:
            return "will-not-play", f"{clause(worst.message)}.", version
    if said.verdict == "fail" and not fails:
        return "not-sure", "Its report fails it, and does not say why.", version
    return None


def _answer(said: Said) -> Found | None:
    """Of a photo, clip or card that was held against the loops that are known."""
    if said.answer == "none":
        return "wrong", "It shows none of the known loops.", None
    if said.answer == "not recognised":
        return "not-sure", "No loop was recognised in it for certain.", None
    if said.answer == "one of":
        return "not-sure", "It shows a moment that several loops have in common.", None
    if said.shows_face is None:
        return (
            "not-sure",
            "The loop was recognised, and whose it is was not told: no display was named.",
            None,
        )
    return None


def _by_loop(
    display: str, face: PlannedFace, said: Said, seen: Shown | None, seen_on: date, today: date
) -> Found:
    if seen is None:
        found = _without_content(face, said, seen_on, today)
    elif seen.display != display or seen.face.key != face.key:
        elsewhere = "" if seen.display == display else f" of the display {seen.display}"
        words = f"It shows the loop of {the_face(seen.face.name)}{elsewhere}."
        return "wrong", words, seen.loop.version
    elif said.answer == "other version":
        found = _like_version(face, seen.loop, today)
    else:
        found = _by_version(face, seen.loop, today)
    if found[0] == "right" and said.verdict == "incomplete":
        return "not-sure", "It holds the right loop, and not all of it could be checked.", found[2]
    return found


def _seen(
    display: str, face: PlannedFace, said: Said, seen_on: date, today: date, known: Known
) -> Shown | None:
    """The loop that was seen, or that is most like it; where several faces share it, this one first."""
    if said.content is not None:
        all_ = known.shown(said.content)
        here = [one for one in all_ if one.display == display and one.face.key == face.key]
        return _standing_now(here, today) or next(iter(all_), None)
    if said.answer in ("match", "other version") and said.shows_face is not None:
        whose = said.shows_display or display
        its = known.face(whose, said.shows_face) or PlannedFace(said.shows_face)
        return Shown(whose, its, _named(its, said, seen_on))
    return None


def _standing_now(here: Sequence[Shown], today: date) -> Shown | None:
    """Of versions with the same files, as of one that comes back, the one by which its state is told: the
    last that has begun, else the next that will."""
    by_date = sorted(here, key=lambda one: one.loop.starts or date.min)
    begun = [one for one in by_date if (one.loop.starts or date.min) <= today]
    return next(iter((*reversed(begun), *by_date)), None)


def _named(its: PlannedFace, said: Said, seen_on: date) -> PlannedLoop:
    """By its version; a display file without versions tells of the loop that belonged there on that day."""
    if said.version is None:
        return due_loop(its, seen_on) or PlannedLoop("not known")
    same = (loop for loop in its.loops if folded(loop.version) == folded(said.version or ""))
    return next(same, PlannedLoop(said.version))


def _like_version(face: PlannedFace, like: PlannedLoop, today: date) -> Found:
    """What was seen is like this version and is not this version; which one it is, nobody knows."""
    due = due_loop(face, today)
    last = last_day(due) if due else None
    if due is not None and like.version == due.version and last is not None and today > last:
        since = _day(due.starts)
        return "outdated", f"It shows another version than version {due.version}, due since {since}.", None
    return (
        "not-sure",
        f"It shows a version of its loop that is like version {like.version} and is not it.",
        None,
    )


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
    failed = next((finding for finding in said.findings if finding.severity == "fail"), None)
    if failed is not None:
        return "not-sure", f"{clause(failed.message)}.", None
    if said.held:
        return _held(face, seen_on, today)
    if said.content is None:
        return "not-sure", "The report does not tell which loop is on the card: check it at full depth.", None
    without = (loop for loop in face.loops if loop.content is None)
    open_ones = [loop for loop in without if _by_version(face, loop, today)[0] == "right"]
    if open_ones or not face.loops:
        which = f" version {open_ones[0].version} of" if open_ones else ""
        return "not-sure", f"The plan does not say by which files{which} its loop is known.", None
    return "wrong", "It shows none of the loops that the plan knows.", None


def _held(face: PlannedFace, seen_on: date, today: date) -> Found:
    """A display file told that the loop belongs there; which one of the plan it is follows from the day."""
    then, now = due_loop(face, seen_on), due_loop(face, today)
    if now is None or (then is not None and then.version == now.version):
        return "right", "It was held against its display file and belongs there.", _version(then)
    if then is not None:
        return _by_version(face, then, today)
    last = last_day(now)
    if last is not None and today <= last:
        words = (
            f"It was held against its display file; version {now.version} is to be confirmed by {_day(last)}."
        )
        return "right", words, None
    words = f"It was held against a display file before version {now.version} was due on {_day(now.starts)}."
    return "not-sure", words, None


def _version(loop: PlannedLoop | None) -> str | None:
    return loop.version if loop else None


def _day(day: date | None) -> str:
    return day.isoformat() if day else "an unknown day"
