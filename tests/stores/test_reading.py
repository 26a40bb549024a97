"""What files say, and that nothing in a file does any harm."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mediacheck.manifest.model import Manifest, ManifestFile
from mediacheck.manifest.record import manifest_text
from mediacheck.stores.model import Noted, Said
from mediacheck.stores.reading import NotTaken, said_in
from tests.stores.made import NOW, WATER, content, digest, identification, packed, photo, report


def said(record: dict[str, Any] | bytes, changed_at: datetime | None = None) -> Said:
    return said_in(record if isinstance(record, bytes) else packed(record), changed_at, NOW)


def test_a_report() -> None:
    found = said(
        report(
            "water-1",
            face=WATER,
            verdict="fail",
            findings=[
                ("video-gop", "warn", "A warning."),
                ("video-codec", "fail", "The first."),
                ("video-codec", "fail", "The second."),
                ("file-duplicate", "note", "A note."),
            ],
        )
    )
    assert found == Said(
        kind="check",
        seen_at=NOW,
        display="planter",
        face=WATER,
        verdict="fail",
        content=content("water-1"),
        held=True,
        profile="basic-1080p",
        card_label="AISLE",
        file_system="FAT32",
        findings=(
            Noted("video-codec", "fail", "The first."),
            Noted("video-gop", "warn", "A warning."),
            Noted("file-duplicate", "note", "A note."),
        ),
    )


def test_names_and_order_of_files_do_not_count_and_other_files_neither() -> None:
    record = report("b", "a")
    record["files"].append({"path": "x.txt", "sha256": digest("x"), "kind": "other", "size_bytes": 1})
    assert said(record).content == content("a", "b")


def test_a_report_without_hashes_says_nothing_of_the_loop() -> None:
    record = report("a", "b")
    record["files"][0]["sha256"] = None
    assert said(record).content is None


def test_a_face_that_could_not_be_judged_is_not_held() -> None:
    for rule in ("loop-wrong-face", "loop-outdated"):
        gap = {"rule": rule, "path": None, "reason": "", "expected": True}
        assert said(report("a", face=WATER, not_checked=[gap])).held is False
    assert said(report("a")).held is False
    assert said(report(face=WATER)).held is False, "with nothing on the card, nothing was held"
    assert said(report("a", face=WATER)).held is True


def test_a_repair_is_known_by_the_check_of_its_copy() -> None:
    record = {
        "schema": "mediacheck/fix-report/1",
        "fixed_at": "2026-03-09T08:00:00Z",
        "verdict": "fail",
        "profile": {"id": "basic-1080p"},
        "check": report("water-2"),
    }
    found = said(record)
    assert (found.kind, found.verdict, found.content) == ("fix", "fail", content("water-2"))
    assert found.seen_at == datetime(2026, 3, 9, 8, tzinfo=UTC)
    assert said({**record, "check": None}).content is None


@pytest.mark.parametrize(
    ("record", "answer", "shows"),
    [
        (identification("match", version="2"), "match", (WATER, "2")),
        (identification("other version", version="1"), "other version", (WATER, "1")),
        (identification("one of", version="1"), "one of", (None, None)),
        (identification("none"), "none", (None, None)),
        (identification("none", looked_at="photo"), "not recognised", (None, None)),
        (identification("other version", looked_at="photo", version="1"), "not recognised", (None, None)),
        (identification("match", looked_at="photo", version="2"), "match", (WATER, "2")),
        (identification("retake"), "retake", (None, None)),
    ],
)
def test_an_identification(record: dict[str, Any], answer: str, shows: tuple[str, str]) -> None:
    found = said(record)
    assert (found.answer, (found.shows_face, found.version)) == (answer, shows)


def test_a_photo_has_its_moment_by_the_phone_or_else_by_the_file() -> None:
    assert said(photo(taken="2026:03:10 11:00:00")).seen_at == datetime(2026, 3, 10, 11, 0)
    moment = datetime(2026, 3, 9, tzinfo=UTC)
    assert said(photo(taken="no time"), moment).seen_at == moment


MANIFEST = b'{"schema":"mediacheck/manifest/1","files":['


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "empty"),
        (b"\0\0\0\0", "empty"),
        (b"{", "breaks off"),
        (b'{"schema": "mediacheck/report/1"}', "missing or wrong"),
        (b'{"schema": "mediacheck/manifest/1"}', "no manifest"),
        (b'{"schema": "something else"}', "no record that a ledger"),
        (b'{"schema": ["mediacheck/report/1"]}', "no record that a ledger"),
        (b"{" * 100_000, "breaks off"),
        (b'{"a":' + b"[" * 100_000, "breaks off"),
        (b'{"a":' + b"9" * 100_000 + b"}", "breaks off, or is no JSON"),
        (b'{"a":[' + b"[]," * 6_000_000 + b"[]]}", "more than 16 MB"),
        (MANIFEST + b"[[[]]]," * 100_000 + b"{}]}", "more than 20,000 files"),
        (MANIFEST + b"1," * 3_000_000 + b"1]}", "more than 20,000 files"),
        (MANIFEST + b"1," * 100_000 + b"1]}", "no manifest"),
        (b"Dear colleagues", "no report, no manifest and no photo"),
        (b"\x89PNG\r\n\x1a\n" + bytes(50), "no report, no manifest and no photo"),
    ],
)
def test_what_is_no_record_is_told_in_a_clause(content: bytes, words: str) -> None:
    with pytest.raises(NotTaken, match=words) as refused:
        said(content)
    assert "\n" not in str(refused.value)


@pytest.mark.parametrize(
    "moment", [NOW + timedelta(days=2), datetime(2099, 1, 1, tzinfo=UTC), datetime(1999, 1, 1, tzinfo=UTC)]
)
def test_a_clock_that_was_wrong_is_told(moment: datetime) -> None:
    """A report from the year 2099 would be the last word for ever."""
    with pytest.raises(NotTaken, match="the clock was wrong"):
        said(report("a", at=moment))


def test_a_manifest_of_many_files_is_read() -> None:
    files = tuple(ManifestFile(f"{n:05}.jpg", 1, digest(str(n)), "still", "f" * 64) for n in range(19_000))
    made = Manifest(
        version="1", profile_id="basic-1080p", profile_title="", profile_sha256=digest("p"), depth="full",
        verdict="pass", even_so=False, findings=(), file_system=None, partition_table=None, label=None,
        serial=None, capacity_bytes=None, cluster_bytes=None, play_order=tuple(file.path for file in files),
        loop_seconds=1.0, files=files, folders=(), left_out=(), image=None,
    )  # fmt: skip
    assert said(manifest_text(made).encode()).kind == "manifest"


def test_a_sheet_of_a_clock_that_was_wrong_is_of_when_it_came() -> None:
    """An archive, as the store's file is, cannot name every day."""
    assert said(b"%PDF-1.7 a sheet", datetime(2200, 1, 1, tzinfo=UTC)).seen_at == NOW
    assert said(b"%PDF-1.7 a sheet", datetime(2026, 3, 9)).seen_at == datetime(2026, 3, 9)


@pytest.mark.parametrize("encoding", ["utf-8-sig", "utf-16"])
def test_a_record_that_a_terminal_of_windows_wrote_is_read(encoding: str) -> None:
    """`--json - > report.json`: PowerShell 5.1 writes UTF-16 (about_Redirection)."""
    assert said(json.dumps(report("a")).encode(encoding)) == said(report("a"))


SPOILERS: list[Callable[[dict[str, Any]], object]] = [
    lambda record: record.pop("card"),
    lambda record: record.update(checked_at="yesterday"),
    lambda record: record.update(checked_at="2026-03-10T12:00:00"),
    lambda record: record.update(verdict="good"),
    lambda record: record.update(files={"a": 1}),
    lambda record: record["files"].append(7),
    lambda record: record.update(face=7),
    lambda record: record.update(
        findings=[{"rule": "x; DROP TABLE stores", "severity": "fail", "message": ""}]
    ),
    lambda record: record.update(findings=[{"rule": "x-" + "y" * 1000, "severity": "fail", "message": ""}]),
    lambda record: record["profile"].update(id=None, other=1) or record.update(profile=None),
]


@pytest.mark.parametrize("spoil", SPOILERS)
def test_a_report_with_something_wrong_is_not_taken(spoil: Callable[[dict[str, Any]], object]) -> None:
    record = report("a")
    spoil(record)
    with pytest.raises(NotTaken, match="missing or wrong"):
        said(record)


def test_words_of_a_report_can_be_kept_and_shown_anywhere() -> None:
    record = report("a", findings=[("video-codec", "fail", "\x1b[31m\0 \ud800 " + "long " * 1000)])
    record["card"]["label"] = "\u202eELSIA\0"
    found = said(json.dumps(record).encode())
    text = found.card_label + found.findings[0].message
    assert text.isprintable()
    text.encode("utf-8")
    assert len(found.findings[0].message) <= 400


def kind_or_why(content: bytes, meant: str) -> str:
    """What a file is; the kind that was meant where it is refused with a reason."""
    try:
        return said(content).kind
    except NotTaken as refused:
        return meant if str(refused) else "no reason"


VALUES = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False) | st.text(),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(), inner, max_size=3),
    max_leaves=8,
)


@given(st.sampled_from(sorted(report("a", face=WATER))), VALUES)
def test_whatever_stands_in_a_report_the_answer_is_one_of_two(key: str, value: Any) -> None:
    record = {**report("a", face=WATER), key: value}
    assert kind_or_why(json.dumps(record).encode(), "check") == "check"


@given(st.binary(max_size=300), st.integers(0, 3000))
def test_a_photo_with_bytes_changed_does_no_harm(junk: bytes, at: int) -> None:
    good = photo()
    spoiled = good[:at] + junk + good[at + len(junk) :]
    assert kind_or_why(spoiled, "photo") == "photo"
