"""The state of every face in every store at one moment, with what a supervisor asks next.

It must not word a page or a table: it counts and compares.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from mediacheck.stores.ledger import Ledger
from mediacheck.stores.model import (
    STATES,
    Evidence,
    FaceState,
    Place,
    Plan,
    PlannedFace,
    State,
    Store,
)
from mediacheck.stores.state import Known, due_loop, state_of

MOST_COMMON = 10
CALL_FROM, CALL_TO = timedelta(hours=24), timedelta(hours=72)
"""Before the day of a visit, a store is called in this window (common practice, no source)."""
TRAITS: Mapping[str, Callable[[Row], str]]


@dataclass(frozen=True, slots=True)
class Wanted:
    """Which faces are asked for; empty: all."""

    states: tuple[State, ...] = ()
    regions: tuple[str, ...] = ()
    displays: tuple[str, ...] = ()
    profiles: tuple[str, ...] = ()
    stores: tuple[str, ...] = ()
    older_days: int | None = None
    """Only faces of which nothing was heard for more days than this."""


@dataclass(frozen=True, slots=True)
class Row:
    """One face in one store."""

    store: Store
    display: str
    face: PlannedFace
    state: FaceState
    evidence: Evidence | None = None
    """What tells its state."""
    photo: tuple[datetime, str] | None = None
    """When the last photo was taken, and its key."""
    loop_picture: str | None = None
    """Key of the picture of the loop that belongs there."""
    age_days: int | None = None
    """Whole days since something was heard."""

    @property
    def place(self) -> Place:
        """By which it is known in the ledger."""
        return Place(self.store.number, self.display, self.face.key)

    @property
    def profile(self) -> str:
        """By the plan, or by the last report."""
        return self.face.profile or (self.evidence.said.profile if self.evidence else "")


@dataclass(frozen=True, slots=True)
class Trait:
    """What many faces with the same finding have in common: `count` of `of` have this value."""

    name: str
    value: str
    count: int
    of: int
    others: int
    """How many faces without the finding have it."""
    of_others: int


@dataclass(frozen=True, slots=True)
class Common:
    """A finding that many faces have."""

    rule: str
    severity: str
    faces: int
    message: str
    """As one report has it."""
    traits: tuple[Trait, ...]


@dataclass(frozen=True, slots=True)
class Visit:
    """A store where somebody is to be."""

    store: Store
    day: date
    faces: tuple[Row, ...]


@dataclass(frozen=True, slots=True)
class Change:
    """A face whose state became another."""

    row: Row
    before: FaceState


@dataclass(frozen=True, slots=True)
class Status:
    """All of it."""

    made_at: datetime
    rows: tuple[Row, ...]
    """The worst first."""
    totals: Mapping[State, int]
    """Of these rows."""
    stores: int
    common: tuple[Common, ...]
    call_today: tuple[Visit, ...]
    overdue: tuple[Visit, ...]
    """Visits that should have been, in stores where not every face is right."""
    since: date | None = None
    changes: tuple[Change, ...] = field(default=())


def status_of(
    ledger: Ledger,
    wanted: Wanted = Wanted(),
    now: datetime | None = None,
    since: date | None = None,
) -> Status:
    """The state of all faces that are asked for; with `since`, what changed from that day on."""
    moment = (now or datetime.now(UTC)).astimezone(UTC)
    plan = ledger.plan()
    found = _rows(plan, ledger.current(), ledger.photos(), _Clock(moment))
    rows = [row for row in found if _is_wanted(row, wanted)]
    rows.sort(key=lambda row: (STATES.index(row.state.state), row.store.number, row.display, row.face.key))
    numbers = {row.store.number for row in rows}
    visits = _visits([row for row in found if row.store.number in numbers])
    return Status(
        made_at=moment.replace(microsecond=0),
        rows=tuple(rows),
        totals={state: count for state in STATES if (count := sum(r.state.state == state for r in rows))},
        stores=len(numbers),
        common=_common(rows),
        call_today=tuple(visit for visit in visits if _is_to_call(visit, moment)),
        overdue=tuple(visit for visit in visits if _is_overdue(visit, moment)),
        since=since,
        changes=_changes(plan, ledger, rows, since) if since else (),
    )


class _Clock:
    """Days by the clock of each store."""

    def __init__(self, now: datetime, today: date | None = None) -> None:
        """`today`: the same day for every store."""
        self._now, self._today = now, today
        self._zones: dict[str, ZoneInfo] = {}

    def today(self, store: Store) -> date:
        return self._today or self.day(store, self._now)

    def day(self, store: Store, moment: datetime) -> date:
        zone = self._zones.setdefault(store.time_zone, ZoneInfo(store.time_zone))
        return moment.astimezone(zone).date()

    def age_days(self, moment: datetime) -> int:
        return max(0, (self._now - moment).days)


def _rows(
    plan: Plan,
    current: Mapping[Place, Evidence],
    photos: Mapping[Place, tuple[datetime, str]],
    clock: _Clock,
) -> list[Row]:
    known, displays = Known(plan), {display.id: display for display in plan.displays}
    found = []
    for store in plan.stores:
        today = clock.today(store)
        for display in (displays[id_] for id_ in store.displays if id_ in displays):
            for face in display.faces:
                place = Place(store.number, display.id, face.key)
                evidence = current.get(place)
                seen = evidence.said.seen_at if evidence else None
                seen_on = clock.day(store, seen) if seen else None
                said = evidence.said if evidence else None
                state = state_of(display.id, face, said, seen_on, today, known)
                due = due_loop(face, today)
                found.append(
                    Row(
                        store,
                        display.id,
                        face,
                        state,
                        evidence,
                        photos.get(place),
                        due.picture if due else None,
                        clock.age_days(seen) if seen else None,
                    )
                )
    return found


def _is_wanted(row: Row, wanted: Wanted) -> bool:
    is_old = row.age_days is None or wanted.older_days is None or row.age_days > wanted.older_days
    return (
        is_old
        and (not wanted.states or row.state.state in wanted.states)
        and (not wanted.regions or row.store.region.casefold() in map(str.casefold, wanted.regions))
        and (not wanted.displays or row.display in wanted.displays)
        and (not wanted.profiles or row.profile in wanted.profiles)
        and (not wanted.stores or row.store.number.casefold() in map(str.casefold, wanted.stores))
    )


TRAITS = {
    "file system": lambda row: row.evidence.said.file_system if row.evidence else "",
    "card label": lambda row: row.evidence.said.card_label if row.evidence else "",
    "profile": lambda row: row.profile,
    "version": lambda row: row.state.version or "",
}


def _common(rows: Sequence[Row]) -> tuple[Common, ...]:
    heard = [row for row in rows if row.evidence is not None]
    having: dict[str, list[Row]] = {}
    for row in heard:
        for rule in {finding.rule for finding in (row.evidence.said.findings if row.evidence else ())}:
            having.setdefault(rule, []).append(row)
    first = sorted(having, key=lambda rule: (-len(having[rule]), rule))[:MOST_COMMON]
    return tuple(_one_common(rule, having[rule], heard) for rule in first)


def _one_common(rule: str, having: Sequence[Row], heard: Sequence[Row]) -> Common:
    noted = [f for row in having if row.evidence for f in row.evidence.said.findings if f.rule == rule]
    worst = min(noted, key=lambda finding: ("fail", "warn", "note").index(finding.severity))
    within = {row.place for row in having}
    others = [row for row in heard if row.place not in within]
    traits = [_trait(name, having, others) for name in TRAITS]
    return Common(rule, worst.severity, len(having), worst.message, tuple(filter(None, traits)))


def _trait(name: str, having: Sequence[Row], others: Sequence[Row]) -> Trait | None:
    values = Counter(filter(None, map(TRAITS[name], having)))
    if not values:
        return None
    value, count = max(values.items(), key=lambda item: (item[1], item[0]))
    elsewhere = sum(TRAITS[name](row) == value for row in others)
    return Trait(name, value, count, len(having), elsewhere, len(others))


def _visits(rows: Sequence[Row]) -> list[Visit]:
    """With all faces of each store, whichever were asked for: a visit is for the whole store."""
    of_store: dict[str, list[Row]] = {}
    for row in rows:
        of_store.setdefault(row.store.number, []).append(row)
    found = [
        Visit(some[0].store, some[0].store.due, tuple(some))
        for some in of_store.values()
        if some[0].store.due is not None
    ]
    return sorted(found, key=lambda visit: (visit.day, visit.store.number))


def _is_to_call(visit: Visit, now: datetime) -> bool:
    return CALL_FROM <= _begin(visit.day, visit.store) - now <= CALL_TO


def _is_overdue(visit: Visit, now: datetime) -> bool:
    today = now.astimezone(ZoneInfo(visit.store.time_zone)).date()
    return visit.day < today and any(row.state.state != "right" for row in visit.faces)


def _changes(plan: Plan, ledger: Ledger, rows: Sequence[Row], since: date) -> tuple[Change, ...]:
    """Against the state at the end of the day before, by the clock of each store."""
    if not rows:
        return ()
    begins = {row.store.number: _begin(since, row.store) for row in rows}
    clock = _Clock(min(begins.values()), since - timedelta(days=1))
    before = {row.place: row.state for row in _rows(plan, _known_at(ledger, begins), {}, clock)}
    return tuple(Change(row, before[row.place]) for row in rows if before[row.place].state != row.state.state)


def _known_at(ledger: Ledger, moments: Mapping[str, datetime]) -> Mapping[Place, Evidence]:
    """What told the state of the faces of each store at its moment: these are hours apart, so that most of it
    is the same for all."""
    known = dict(ledger.current(max(moments.values())))
    late = {
        place.store
        for place, evidence in known.items()
        if place.store in moments and evidence.said.seen_at >= moments[place.store]
    }
    for moment in {moments[store] for store in late}:
        again = {store for store in late if moments[store] == moment}
        known = {place: evidence for place, evidence in known.items() if place.store not in again}
        known |= ledger.current(moment, sorted(again))
    return known


def _begin(day: date, store: Store) -> datetime:
    return datetime.combine(day, time(), ZoneInfo(store.time_zone)).astimezone(UTC)
