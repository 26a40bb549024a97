"""The state of all faces, what they have in common, who is to be called, and what changed."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

import jsonschema  # type: ignore[import-untyped]  # it has no types
import pandas as pd  # type: ignore[import-untyped]  # its types are a package of their own
import pytest
from rich.console import Console

from mediacheck.stores.adding import add
from mediacheck.stores.ledger import Ledger
from mediacheck.stores.model import Plan, PlannedDisplay, PlannedFace, Store
from mediacheck.stores.opening import open_ledger
from mediacheck.stores.record import COLUMNS, as_record, csv_text, json_text
from mediacheck.stores.schema import stores_schema
from mediacheck.stores.status import Status, Trait, Wanted, status_of
from mediacheck.stores.terminal import print_history, print_status
from mediacheck.stores.told import common_words, headline, heard, telling, visit_words
from tests.stores.made import NOW, PLAN, SEEDS, WATER, packed, photo, report

ROOT = Path(__file__).parents[2]
Files = dict[str, dict[str, Any] | bytes]
ALL = Wanted()
USUAL: Files = {
    "0117_aisle side.json": report("water-2", at=NOW - timedelta(days=3)),
    "0117_window side.json": report("water-2", at=NOW - timedelta(days=2)),
    "0118_planter_aisle side.json": report("water-1", face=WATER, at=NOW - timedelta(days=20)),
    "N-0042.json": report("x", verdict="fail", findings=[("video-codec", "fail", "It skips the file.")]),
}


def told(ledger: Ledger, folder: Path, files: Files, wanted: Wanted = ALL, **how: Any) -> Status:
    folder.mkdir(exist_ok=True)
    for name, content in files.items():
        (folder / name).write_bytes(content if isinstance(content, bytes) else packed(content))
    assert add(ledger, [folder], now=NOW).refused == ()
    return status_of(ledger, wanted, how.pop("now", NOW), **how)


def states(status: Status) -> list[tuple[str, str, str]]:
    return [(row.store.number, row.face.name, row.state.state) for row in status.rows]


def test_every_planned_face_has_one_state_the_worst_first(ledger: Ledger, tmp_path: Path) -> None:
    status = told(ledger, tmp_path / "in", USUAL)
    assert states(status) == [
        ("N-0042", "front", "will-not-play"),
        ("0117", SEEDS, "wrong"),
        ("0118", WATER, "outdated"),
        ("0118", SEEDS, "not-heard-of"),
        ("0118", "front", "not-heard-of"),
        ("0117", WATER, "right"),
    ]
    assert sum(status.totals.values()) == len(status.rows) == 6
    assert headline(status) == (
        "1 of 6 faces in 3 stores are right; 1 will not play, 1 wrong loop, 1 outdated, 2 not heard of."
    )
    assert [row.age_days for row in status.rows] == [0, 2, 20, None, None, 3]


@pytest.mark.parametrize(
    ("wanted", "count"),
    [
        (Wanted(states=("wrong", "outdated")), 2),
        (Wanted(regions=("north",)), 3),
        (Wanted(displays=("shelf",)), 2),
        (Wanted(profiles=("portrait-1080p",)), 2),
        (Wanted(stores=("n-0042",)), 1),
        (Wanted(older_days=2), 4),
        (Wanted(older_days=3), 3),
        (Wanted(older_days=20), 2),
        (Wanted(states=("right",), regions=("South",)), 0),
    ],
)
def test_only_what_is_asked_for(wanted: Wanted, count: int, ledger: Ledger, tmp_path: Path) -> None:
    status = told(ledger, tmp_path / "in", USUAL, wanted)
    assert len(status.rows) == sum(status.totals.values()) == count


def test_days_are_those_of_the_store(ledger: Ledger, tmp_path: Path) -> None:
    """An update due on 1 April is due in London, and still not in Los Angeles."""
    files: Files = {
        "0117_aisle side.json": report("water-2"),
        "0118_planter_aisle side.json": report("water-2", face=WATER),
    }
    moment = datetime(2026, 4, 1, 3, tzinfo=UTC)
    status = told(ledger, tmp_path / "in", files, now=moment)
    found = {row.store.number: row.state.state for row in status.rows if row.evidence}
    assert found == {"0117": "outdated", "0118": "right"}


def test_the_next_loop_is_planned_ahead_and_the_present_one_stays_due(ledger: Ledger, tmp_path: Path) -> None:
    """A display file that names version 3 knows version 2 as an earlier one, without a date."""
    files: Files = {
        "0117_aisle side.json": report("water-1"),
        "0118_planter_aisle side.json": report("water-2", face=WATER),
    }
    wanted = Wanted(displays=("planter",), states=("right", "outdated"))
    told(ledger, tmp_path / "in", files)
    one, two, three = PLAN.displays[0].faces[0].loops
    for after in (
        (replace(one, starts=None), replace(two, starts=None, confirm_by=None), three),
        (replace(two, starts=None, confirm_by=None), replace(one, starts=None), three),
    ):
        face = replace(PLAN.displays[0].faces[0], loops=after)
        ledger.put_plan(Plan((replace(PLAN.displays[0], faces=(face,)),)))
        for now in (NOW, datetime(2026, 3, 31, 12, tzinfo=UTC)):
            found = states(status_of(ledger, wanted, now))
            assert found == [("0117", WATER, "outdated"), ("0118", WATER, "right")]
    moved = replace(two, starts=date(2025, 12, 1), confirm_by=None)
    face = replace(face, loops=(replace(one, starts=None), moved))
    ledger.put_plan(Plan((replace(PLAN.displays[0], faces=(face,)),)))
    (display, _) = ledger.plan().displays
    assert [loop.starts for loop in display.faces[0].loops] == [None, date(2025, 12, 1)]


def test_what_faces_with_a_finding_have_in_common(tmp_path: Path) -> None:
    """14 of 16 have exFAT, and of the other 20 one has."""
    numbers = [f"{n:04}" for n in range(36)]
    stores = tuple(Store(number, displays=("shelf",)) for number in numbers)
    display = PlannedDisplay("shelf", "", (PlannedFace("front"),))
    ledger = open_ledger(str(tmp_path / "stores.ledger"), create=True)
    ledger.put_plan(Plan((display,), stores))
    files: Files = {}
    for number in range(36):
        ill = number < 16
        exfat = number < 14 or number == 20
        findings = [("card-file-system", "fail", "The player reads FAT32 only.")] if ill else []
        card = {"source": "E:\\", "label": f"L{number}", "file_system": "exFAT" if exfat else "FAT32"}
        files[f"{numbers[number]}.json"] = report(
            f"{number}", verdict="fail" if ill else "pass", findings=findings, card=card
        )
    status = told(ledger, tmp_path / "in", files)
    (common,) = status.common
    assert (common.rule, common.severity, common.faces) == ("card-file-system", "fail", 16)
    assert common_words(common) == "14 of 16 have file system exFAT (1 of 20 others)"
    ledger.close()


def test_only_what_most_have_and_others_have_less_often_is_told() -> None:
    told_ones = telling(
        (
            Trait("file system", "exFAT", 8, 16, 0, 10),
            Trait("card label", "AISLE", 7, 16, 0, 10),
            Trait("profile", "basic-1080p", 16, 16, 10, 10),
            Trait("version", "2", 16, 16, 4, 10),
        )
    )
    assert [trait.name for trait in told_ones] == ["version", "file system"]
    assert telling((Trait("version", "2", 1, 1, 0, 10),)) == (), "one has nothing in common"


def test_failing_cards_may_have_a_version_in_common(ledger: Ledger, tmp_path: Path) -> None:
    """Two of the three cards that fail carry version 1, and the one that plays carries version 2."""
    ill = [("video-codec", "fail", "It skips the file.")]
    files: Files = {
        "0117_aisle side.json": report("water-1", verdict="fail", findings=ill),
        "0118_planter_aisle side.json": report("water-1", face=WATER, verdict="fail", findings=ill),
        "0117_window side.json": report("strange", verdict="fail", findings=ill),
        "0118_planter_window side.json": report("water-2", face=SEEDS),
    }
    (common,) = told(ledger, tmp_path / "in", files).common
    assert "2 of 3 have version 1 (0 of 1 others)" in common_words(common)


def test_a_finding_is_as_severe_as_where_it_is_worst(ledger: Ledger, tmp_path: Path) -> None:
    """A profile may make a warning of what another one lets fail."""
    files: Files = {
        "0117_aisle side.json": report("water-2", findings=[("video-gop", "warn", "It jumps.")]),
        "0117_window side.json": report("x", verdict="fail", findings=[("video-gop", "fail", "It stops.")]),
    }
    (common,) = told(ledger, tmp_path / "in", files).common
    assert (common.severity, common.faces, common.message) == ("fail", 2, "It stops.")


def test_the_ten_most_common_findings(ledger: Ledger, tmp_path: Path) -> None:
    rules = [f"video-{letter}" for letter in "abcdefghijkl"]
    findings = [(rule, "warn", "Words.") for rule in rules]
    files: Files = {
        "0117_aisle side.json": report("water-2", verdict="warn", findings=findings),
        "0117_window side.json": report("water-2", verdict="warn", findings=findings[5:]),
    }
    status = told(ledger, tmp_path / "in", files)
    assert [common.rule for common in status.common] == [*rules[5:], *rules[:3]]


@pytest.mark.parametrize(
    ("now", "called"),
    [
        (datetime(2026, 3, 8, 23, 59, tzinfo=UTC), []),
        (datetime(2026, 3, 9, 0, 0, tzinfo=UTC), ["0117"]),
        (datetime(2026, 3, 11, 0, 0, tzinfo=UTC), ["0117"]),
        (datetime(2026, 3, 11, 0, 1, tzinfo=UTC), []),
    ],
)
def test_stores_are_called_one_to_three_days_before_a_visit(
    now: datetime, called: Sequence[str], ledger: Ledger
) -> None:
    assert [visit.store.number for visit in status_of(ledger, now=now).call_today] == called


@pytest.mark.parametrize(
    ("zone", "begins"),
    [
        ("Europe/London", datetime(2026, 3, 29, 23, tzinfo=UTC)),
        ("America/Los_Angeles", datetime(2026, 3, 30, 7, tzinfo=UTC)),
        ("Pacific/Auckland", datetime(2026, 3, 29, 11, tzinfo=UTC)),
    ],
)
def test_a_visit_begins_with_the_day_of_the_store(zone: str, begins: datetime, ledger: Ledger) -> None:
    """On 30 March, with the clocks in London put forward the day before."""
    ledger.put_plan(Plan(stores=(Store("0117", "", "", "", zone, date(2026, 3, 30), ("planter",)),)))
    second, of_0117 = timedelta(seconds=1), Wanted(stores=("0117",))
    for now, is_called in (
        (begins - timedelta(hours=72) - second, False),
        (begins - timedelta(hours=72), True),
        (begins - timedelta(hours=24), True),
        (begins - timedelta(hours=24) + second, False),
    ):
        assert bool(status_of(ledger, of_0117, now).call_today) is is_called
    for now, is_overdue in (
        (begins + timedelta(hours=24) - second, False),
        (begins + timedelta(hours=24), True),
    ):
        assert bool(status_of(ledger, of_0117, now).overdue) is is_overdue


def test_the_earliest_visit_stands_first(ledger: Ledger) -> None:
    days = {"0117": date(2026, 3, 13), "0118": date(2026, 3, 12), "0119": date(2026, 3, 13)}
    ledger.put_plan(Plan(stores=tuple(Store(n, due=day, displays=("shelf",)) for n, day in days.items())))
    called = status_of(ledger, now=datetime(2026, 3, 10, 12, tzinfo=UTC)).call_today
    assert [visit.store.number for visit in called] == ["0118", "0117", "0119"]


@pytest.mark.parametrize("first", [0, 1])
def test_the_last_photo_is_the_one_that_was_taken_last(first: int, ledger: Ledger, tmp_path: Path) -> None:
    """Whichever of them came first, and however their contents sort."""
    hours = ("09", "10", "11", "08")
    taken = [photo(taken=f"2026:03:10 {hour}:00:00", who=hour) for hour in hours]
    for place, content in enumerate(reversed(taken) if first else taken):
        (tmp_path / f"0117_aisle side {place}.jpg").write_bytes(content)
        add(ledger, [tmp_path / f"0117_aisle side {place}.jpg"], now=NOW)
    (row,) = (row for row in status_of(ledger, now=NOW).rows if row.photo)
    assert row.photo is not None
    assert (row.photo[0].hour, row.place.face) == (11, WATER)


def test_a_visit_is_for_the_whole_store_whatever_was_asked_for(ledger: Ledger, tmp_path: Path) -> None:
    status = told(ledger, tmp_path / "in", USUAL, Wanted(states=("right",)))
    assert states(status) == [("0117", WATER, "right")]
    assert [visit_words(visit) for visit in status.call_today] == [
        "0117 Mossford, visit on 2026-03-12: 1 of 2 faces not right"
    ]
    assert headline(status) == "The one face in 1 store is right."


def test_a_visit_that_should_have_been_is_told_until_all_is_right(ledger: Ledger, tmp_path: Path) -> None:
    assert [visit.store.number for visit in status_of(ledger, now=NOW).overdue] == ["0118"]
    files: Files = {
        "0118_planter_aisle side.json": report("water-2", face=WATER),
        "0118_planter_window side.json": report("seeds-1", "seeds-still", face=SEEDS),
        "0118_shelf.json": report("x", display="shelf", face="front"),
    }
    plan = Plan((PlannedDisplay("shelf", "", (PlannedFace("front", "", PLAN.displays[0].faces[0].loops),)),))
    ledger.put_plan(plan)
    assert told(ledger, tmp_path / "in", files).overdue == ()


def test_what_changed_since_a_day(ledger: Ledger, tmp_path: Path) -> None:
    files: Files = {
        "0117_aisle side old.json": report("water-1", at=NOW - timedelta(days=30)),
        "0117_aisle side new.json": report("water-2", at=NOW - timedelta(hours=1)),
        "0118_planter_aisle side.json": report("water-1", face=WATER, at=NOW - timedelta(days=30)),
        "N-0042.json": report("x", at=NOW - timedelta(days=30)),
    }
    early = told(ledger, tmp_path / "in", files, since=date(2026, 3, 5))
    assert changes(early) == [("0118", "right", "outdated")]
    on_its_day = status_of(ledger, now=NOW, since=date(2026, 3, 9))
    assert changes(on_its_day) == [("0118", "right", "outdated")], "8 March was the last day of version 1"
    late = status_of(ledger, now=NOW, since=date(2026, 3, 10))
    assert changes(late) == [("0117", "outdated", "right")]


def test_what_was_heard_between_two_midnights_counts_for_each_store_by_its_own(
    ledger: Ledger, tmp_path: Path
) -> None:
    """At midnight UTC, 10 March has begun in London, and has not in Los Angeles."""
    before, after = datetime(2026, 3, 9, 12, tzinfo=UTC), datetime(2026, 3, 10, tzinfo=UTC)
    files: Files = {
        "0117_aisle side old.json": report("water-1", at=before),
        "0117_aisle side new.json": report("water-2", at=after),
        "0118_planter_aisle side old.json": report("water-1", face=WATER, at=before),
        "0118_planter_aisle side new.json": report("water-2", face=WATER, at=after),
    }
    status = told(ledger, tmp_path / "in", files, since=date(2026, 3, 10))
    assert changes(status) == [("0117", "outdated", "right")]


@pytest.mark.parametrize(
    ("seen_at", "count"),
    [
        (datetime(2026, 3, 10, 6, 59, 59, tzinfo=UTC), 0),
        (datetime(2026, 3, 10, 7, 0, tzinfo=UTC), 1),
    ],
)
def test_a_day_begins_by_the_clock_of_the_store(
    seen_at: datetime, count: int, ledger: Ledger, tmp_path: Path
) -> None:
    """In Los Angeles, 10 March begins at seven in the morning, UTC."""
    files: Files = {"0118_planter_aisle side.json": report("water-2", face=WATER, at=seen_at)}
    status = told(ledger, tmp_path / "in", files, since=date(2026, 3, 10))
    assert len(status.changes) == count
    (row,) = (row for row in status.rows if row.evidence)
    assert heard(row) == f"check of a card, 2026-03-{10 if count else '09'}"


def changes(status: Status) -> list[tuple[str, str, str]]:
    return [(one.row.store.number, one.before.state, one.row.state.state) for one in status.changes]


def test_the_record_keeps_its_schema(ledger: Ledger, tmp_path: Path) -> None:
    told_schema = json.loads((ROOT / "docs/stores.schema.json").read_text("utf-8"))
    assert told_schema == stores_schema(), "python -m mediacheck.stores.schema > docs/stores.schema.json"
    files: Files = {**USUAL, "0117_aisle side.jpg": photo()}
    status = told(ledger, tmp_path / "in", files, since=date(2026, 3, 1))
    record = json.loads(json_text(status))
    jsonschema.validate(record, told_schema)
    assert record == as_record(status)
    assert {(face["state"], face["rule"]) for face in record["faces"] if face["rule"]} == {
        ("outdated", "loop-outdated")
    }
    assert [(one["store"], one["faces"], one["not_right"]) for one in record["call_today"]] == [
        ("0117", 2, 1)
    ]
    assert [(one["store"], one["faces"], one["not_right"]) for one in record["overdue"]] == [("0118", 3, 3)]
    assert [face["photo_at"] for face in record["faces"]].count(None) == 5


def test_the_table_is_read_by_others(ledger: Ledger, tmp_path: Path) -> None:
    """RFC 4180: read by Python's csv and by pandas, with quotes, commas and line ends in cells."""
    name = 'Moss "by the ford", North;\u2028end'
    ledger.put_plan(Plan(stores=(Store("0117", name, "=1+1", displays=("planter",)),)))
    text = csv_text(told(ledger, tmp_path / "in", USUAL))
    assert text.count("\r\n") == text.count("\n") == 7
    rows = list(csv.DictReader(io.StringIO(text, newline=""), strict=True))
    frame = pd.read_csv(io.StringIO(text), dtype=str, keep_default_na=False)
    assert tuple(frame.columns) == COLUMNS == tuple(rows[0])
    assert frame.to_dict("records") == rows
    (row, _) = (row for row in rows if row["store"] == "0117")
    assert (row["name"], row["region"]) == (name, "'=1+1"), (
        "no spreadsheet reckons out what a store is called"
    )


@pytest.mark.parametrize("first", "=+-@")
def test_no_name_becomes_a_formula(first: str, ledger: Ledger) -> None:
    ledger.put_plan(Plan(stores=(Store("0117", f"{first}1+1", displays=("shelf",)),)))
    rows = csv.DictReader(io.StringIO(csv_text(status_of(ledger, Wanted(stores=("0117",)), NOW)), newline=""))
    assert [row["name"] for row in rows] == [f"'{first}1+1"]


def test_the_terminal_tells_what_needs_somebody(ledger: Ledger, tmp_path: Path) -> None:
    files: Files = {**USUAL}
    status = told(ledger, tmp_path / "in", files, since=date(2026, 3, 9))
    shown = io.StringIO()
    console = Console(file=shown, width=100, highlight=False)
    print_status(status, console)
    text = shown.getvalue()
    assert text.startswith("1 of 6 faces in 3 stores are right;")
    for words in (
        "0118 Fernhill",
        "wrong loop",
        "Stores to call today",
        "Visits that should",
        "Changed since",
    ):
        assert words in text
    assert "which is due" not in text, "what is right needs nobody"
    print_status(status, console, all_rows=True)
    assert "which is due" in shown.getvalue()


def test_the_history_of_a_store(ledger: Ledger, tmp_path: Path) -> None:
    told(ledger, tmp_path / "in", USUAL)
    shown = io.StringIO()
    console = Console(file=shown, width=100, highlight=False)
    print_history("Store 0117", ledger.history("0117"), console)
    lines = shown.getvalue().splitlines()
    assert lines[1] == "Store 0117"
    assert [line.split("  ")[1:3][0][:16] for line in lines[2:]] == ["2026-03-07 12:00", "2026-03-08 12:00"]


def test_a_history_names_displays_where_there_are_several(ledger: Ledger, tmp_path: Path) -> None:
    files: Files = {"0118_front.json": report("x"), "0118_planter_aisle side.json": report("x", face=WATER)}
    told(ledger, tmp_path / "in", files)
    shown = io.StringIO()
    console = Console(file=shown, width=100, highlight=False)
    print_history("Store 0118", ledger.history("0118"), console)
    text = shown.getvalue()
    assert "aisle side (planter): check" in text
    assert "front (shelf): check" in text


def test_a_status_of_nothing(ledger: Ledger) -> None:
    status = status_of(ledger, Wanted(stores=("nowhere",)), NOW)
    assert headline(status) == "No face is planned that fits what was asked for."
    assert json.loads(json_text(status))["faces"] == []
