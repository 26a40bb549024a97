"""How states, days and findings of many stores are worded on every face of the summary.

It must not know any face: what it returns is plain text.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from zoneinfo import ZoneInfo

from mediacheck.report.words import counted
from mediacheck.stores.model import State
from mediacheck.stores.status import Change, Common, Row, Status, Trait, Visit

STATE_WORDS: Mapping[State, str] = {
    "right": "right",
    "wrong": "wrong loop",
    "outdated": "outdated",
    "will-not-play": "will not play",
    "not-sure": "not sure",
    "not-heard-of": "not heard of",
}
TELLING_SHARE = 0.5
"""A trait that fewer of the faces have in common says little."""
KINDS = {
    "check": "check of a card",
    "fix": "repair",
    "manifest": "card built",
    "identification": "identification",
    "photo": "photo",
    "sheet": "sheet",
}


def headline(status: Status) -> str:
    """All in one line: "14 of 20 faces in 10 stores are right; 3 outdated, 3 not heard of"."""
    faces = len(status.rows)
    if not faces:
        return "No face is planned that fits what was asked for."
    right = status.totals.get("right", 0)
    others = [f"{n:,} {STATE_WORDS[s]}" for s, n in status.totals.items() if s != "right"]
    where = counted(status.stores, "store")
    if not others and faces == 1:
        return f"The one face in {where} is right."
    if not others:
        return f"All {counted(faces, 'face')} in {where} are right."
    return f"{right:,} of {counted(faces, 'face')} in {where} are right; {', '.join(others)}."


def heard(row: Row) -> str:
    """When and by what the state is known; the day is that of the store, as all days are."""
    if row.evidence is None:
        return ""
    said = row.evidence.said
    return f"{KINDS[said.kind]}, {said.seen_at.astimezone(ZoneInfo(row.store.time_zone)):%Y-%m-%d}"


def common_words(common: Common) -> str:
    """What the faces with a finding have in common: "14 of 16 have file system exFAT"."""
    return "; ".join(trait_words(trait) for trait in telling(common.traits))


def telling(traits: Sequence[Trait]) -> tuple[Trait, ...]:
    """Traits that most of the faces have, and the others less often; the most telling first."""
    found = [t for t in traits if t.count >= 2 and t.count / t.of >= TELLING_SHARE and _lift(t) > 0]
    return tuple(sorted(found, key=lambda trait: -_lift(trait)))


def _lift(trait: Trait) -> float:
    return trait.count / trait.of - (trait.others / trait.of_others if trait.of_others else 0.0)


def trait_words(trait: Trait) -> str:
    """One of them; with how it is elsewhere, since a value that all have says nothing."""
    elsewhere = f" ({trait.others:,} of {trait.of_others:,} others)" if trait.of_others else ""
    return f"{trait.count:,} of {trait.of:,} have {trait.name} {trait.value}{elsewhere}"


def visit_words(visit: Visit) -> str:
    """A store that somebody is to visit: "0117 Mossford, 2026-03-04: 1 of 2 faces not right yet"."""
    open_faces = sum(row.state.state != "right" for row in visit.faces)
    of = f"{open_faces} of {counted(len(visit.faces), 'face')}" if open_faces else "every face"
    return f"{store_words(visit.faces[0])}, visit on {visit.day}: {of} {'not ' if open_faces else ''}right"


def face_words(row: Row, many_displays: bool) -> str:
    """A face, with its display where there are several."""
    return f"{row.face.name} ({row.display})" if many_displays else row.face.name


def change_words(change: Change, many_displays: bool) -> str:
    """A face whose state became another, from what to what, and why."""
    row, before = change.row, STATE_WORDS[change.before.state]
    now = STATE_WORDS[row.state.state]
    return f"{store_words(row)}, {face_words(row, many_displays)}: {before} became {now}. {row.state.reason}"


def has_many_displays(rows: Sequence[Row]) -> bool:
    """Whether a face's name alone does not say which one it is."""
    return len({row.display for row in rows}) > 1


def store_words(row: Row) -> str:
    """Number and name of a store."""
    return f"{row.store.number} {row.store.name}".strip()
