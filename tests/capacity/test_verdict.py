"""What follows from a test of a card, and how it is told."""

from __future__ import annotations

import io
from dataclasses import replace

import pytest
from rich.console import Console

from mediacheck.capacity.examination import Capacity
from mediacheck.capacity.kept import Kept
from mediacheck.capacity.pace import Pace
from mediacheck.capacity.passes import Written
from mediacheck.capacity.speed_class import SpeedClass
from mediacheck.capacity.told import BRAKE, EMPTY, SO_FAR, headline_of, print_outcome
from mediacheck.capacity.verdict import Outcome, exit_code

GB = 10**9
SECTORS = 64 * GB // 512
PACE = Pace(((0.0, 0), (1600.0, 32 * GB), (3200.0, 64 * GB)))
"""20 MB/s."""
GOOD = Capacity(64 * GB, 0, 64 * GB, Written(64 * GB, PACE), Kept(right=SECTORS), PACE, from_medium=True)
HELD = 7_900_000_256
FALSE = replace(
    GOOD,
    kept=Kept(
        right=HELD // 512,
        misplaced=SECTORS - HELD // 512,
        first_bad_byte=512 * 77,
        nearest_bytes=HELD,
    ),
    first_bad_file="mediacheck-capacity-000.tmp",
)
WORN = replace(GOOD, kept=Kept(right=SECTORS - 3, worn=2, blank=1, first_bad_byte=4096))
STOPPED = replace(
    GOOD, written=Written(16 * GB, Pace(), "Input/output error"), kept=Kept(right=16 * GB // 512)
)
EARLY = replace(GOOD, written=Written(16 * GB, PACE), kept=Kept(right=16 * GB // 512))
MEMORY = replace(GOOD, from_medium=False)
V30, V10 = SpeedClass("V30", 30), SpeedClass("V10", 10)
SHORT = Pace(((0.0, 0), (4.0, 64 * GB)))


def outcome(capacity: Capacity, promised: SpeedClass | None = None, **more: object) -> Outcome:
    return Outcome("E:\\", capacity, promised, **more)  # type: ignore[arg-type]


def text(result: Outcome) -> str:
    console = Console(file=io.StringIO(), width=400)
    print_outcome(result, console)
    assert isinstance(console.file, io.StringIO)
    return console.file.getvalue()


@pytest.mark.parametrize(
    ("result", "verdict", "code", "strict_code"),
    [
        (outcome(GOOD), "pass", 0, 0),
        (outcome(GOOD, V10), "pass", 0, 0),
        (outcome(GOOD, SpeedClass("V20", 20)), "pass", 0, 0),  # to the byte what it promises
        (outcome(GOOD, V30), "warn", 0, 1),
        (outcome(GOOD, left_behind="something stays"), "warn", 0, 1),
        (outcome(FALSE), "fail", 1, 1),
        (outcome(WORN), "fail", 1, 1),
        (outcome(STOPPED), "fail", 1, 1),
        (outcome(EARLY), "incomplete", 3, 3),
        (outcome(MEMORY), "incomplete", 3, 3),
        (outcome(replace(FALSE, from_medium=False)), "fail", 1, 1),
        (outcome(MEMORY, V30), "incomplete", 3, 1),
        (outcome(replace(GOOD, written=Written(64 * GB, SHORT)), V30), "incomplete", 3, 3),
        (outcome(replace(GOOD, written=Written(64 * GB, SHORT))), "pass", 0, 0),
    ],
)
def test_verdicts_and_exit_codes(result: Outcome, verdict: str, code: int, strict_code: int) -> None:
    assert (result.verdict, exit_code(result, strict=False), exit_code(result, strict=True)) == (
        verdict,
        code,
        strict_code,
    )


@pytest.mark.parametrize(("filled", "enough"), [(98, True), (97, False)])
def test_nearly_all_of_the_room_is_enough(filled: int, enough: bool) -> None:
    written = Written(64 * GB * filled // 100, PACE)
    assert outcome(replace(GOOD, written=written)).is_full_enough is enough


@pytest.mark.parametrize(
    ("result", "line"),
    [
        (outcome(GOOD), ("AS IT CLAIMS", "It holds the 64 GB that it claims.")),
        (
            outcome(replace(GOOD, used_bytes=4 * GB, written=Written(60 * GB, PACE), room_bytes=60 * GB)),
            (SO_FAR, "It claims 64 GB, and the 60 GB of it that were free hold what is written to them."),
        ),
        (
            outcome(replace(GOOD, used_bytes=3 * GB, written=Written(61 * GB, PACE), room_bytes=61 * GB)),
            ("AS IT CLAIMS", "It holds the 64 GB that it claims."),
        ),
        (outcome(FALSE), ("FALSE CAPACITY", "It claims 64 GB and holds 7.9 GB.")),
        (
            outcome(
                replace(
                    FALSE,
                    used_bytes=4 * GB,
                    kept=replace(FALSE.kept, misplaced=0, blank=10**8, nearest_bytes=None),
                )
            ),
            ("FALSE CAPACITY", "It claims 64 GB and holds at most 11.9 GB."),
        ),
        (outcome(WORN), ("BAD SECTORS", "3 of 125,000,000 sectors do not keep what is written to them.")),
        (
            outcome(replace(WORN, kept=Kept(right=SECTORS - 1, worn=1, first_bad_byte=0))),
            ("BAD SECTORS", "1 of 125,000,000 sectors does not keep what is written to it."),
        ),
        (
            outcome(STOPPED),
            ("FAILS", "After 16 GB nothing more could be written to it (Input/output error)."),
        ),
        (
            outcome(MEMORY),
            ("NOT SURE", "It claims 64 GB, and no fault was found, but not all could be tested."),
        ),
        (
            outcome(GOOD, V30),
            ("SLOW", "It holds the 64 GB that it claims, but it was written slower than V30 promises."),
        ),
        (
            outcome(
                replace(GOOD, used_bytes=4 * GB, written=Written(60 * GB, PACE), room_bytes=60 * GB), V30
            ),
            (
                "SLOW",
                "It claims 64 GB, and the 60 GB of it that were free hold what is written to them, but it "
                "was written slower than V30 promises.",
            ),
        ),
    ],
)
def test_the_verdict_in_one_line(result: Outcome, line: tuple[str, str]) -> None:
    assert headline_of(result) == line


def test_a_card_of_false_capacity_as_it_is_told() -> None:
    assert text(outcome(FALSE, V10)) == (
        "FALSE CAPACITY: It claims 64 GB and holds 7.9 GB.\n"
        "\n"
        "card       E:\\\n"
        "tested     64 GB (64,000,000,000 bytes), written and read back\n"
        "bad        109,570,312 sectors of 512 bytes, 56.1 GB\n"
        "           109,570,312 sectors with what was written for another place\n"
        "first bad  at byte 39,424 of what was written, in mediacheck-capacity-000.tmp\n"
        "writing    20.0 MB/s on the whole, 20.0 MB/s in the slowest 10 s\n"
        "reading    20.0 MB/s on the whole, 20.0 MB/s in the slowest 10 s\n"
        "class      V10 promises 10 MB/s of writing: kept\n"
        "\n"
        "What to know\n"
        "- Files that were on it before may be damaged: what a bad card is given can land anywhere on it.\n"
        "\n"
        "What to do next\n"
        "Do not use this card, and give it back: what is written beyond its true size is lost.\n"
    )


def test_a_slow_card_is_told_with_what_else_may_be_the_brake() -> None:
    said = text(outcome(GOOD, V30))
    assert "class    V30 promises 30 MB/s of writing: slower than that\n" in said
    assert f"- {BRAKE}\n" in said
    assert said.endswith("Test it in another reader and another port before you judge the card.\n")


def test_a_speed_that_was_not_judged_is_told_as_such() -> None:
    short = Pace(((0.0, 0), (4.0, 10**9)))
    said = text(outcome(replace(GOOD, written=Written(64 * GB, short)), V30))
    assert (
        "writing  250.0 MB/s on the whole, 250.0 MB/s in the slowest tenth "
        "(too little was tested to judge the speed)\n"
    ) in said
    assert (
        "V30 promises 30 MB/s of writing: not judged, since at least 1 GiB and 10 s of writing are needed"
        in said
    )
    assert said.endswith("For its speed to be judged, remove files from the card, and test it again.\n")


def test_an_erased_card_is_said_to_be_empty() -> None:
    said = text(outcome(GOOD, erased=True))
    assert f"- {EMPTY}\n" in said
    assert said.endswith("What to do next\nFormat the card, or write an image to it.\n")


@pytest.mark.parametrize(
    ("memory", "certain", "words"), [(16 * GB, 48 * GB, "48 GB of it"), (128 * GB, 0, "nothing of it")]
)
def test_what_memory_may_have_answered_is_told(memory: int, certain: int, words: str) -> None:
    result = outcome(MEMORY, memory_bytes=memory)
    assert result.certain_bytes == certain
    said = text(result)
    assert f"from its own memory: {words} came certainly from the card.\n" in said
    assert "reading  not known\n" in said


def test_a_card_that_was_full_too_early_is_told_as_not_tested_whole() -> None:
    said = text(outcome(EARLY))
    assert "- It was full after 16 GB, although it had 64 GB free: the rest was not tested.\n" in said
    assert said.endswith("Format the card, or remove its files, and test it again.\n")


def test_all_kinds_of_bad_sectors_are_told_apart() -> None:
    kept = Kept(10, 1, 2, 3, 4, 5, 6, first_bad_byte=0)
    said = text(outcome(replace(GOOD, written=Written(31 * 512, PACE), kept=kept)))
    assert [line.strip() for line in said.splitlines() if " sector" in line][1:] == [
        "1 sector with bits that do not keep their value",
        "2 sectors with what was written for another place",
        "3 sectors with nothing in them",
        "4 sectors with something that was not written in this test",
        "5 sectors that cannot be read",
        "6 sectors that were not tried, since too much before them cannot be read",
    ]


def test_what_is_left_behind_is_told() -> None:
    said = text(outcome(GOOD, left_behind="the folder stays"))
    assert "- Not all is tidied up: the folder stays.\n" in said
    assert said.endswith("Run the same command again, or remove the folder yourself.\n")


def test_a_device_that_could_not_be_emptied_is_not_called_empty() -> None:
    said = text(outcome(GOOD, left_behind="its beginning could not be emptied (why)", erased=True))
    assert "- Not all is tidied up: its beginning could not be emptied (why).\n" in said
    assert EMPTY not in said
    assert said.endswith("What to do next\nFormat the card, or write an image to it.\n")


def test_what_cannot_be_read_may_be_the_fault_of_the_reader() -> None:
    kept = Kept(right=SECTORS // 2, unreadable=SECTORS // 8, unread=SECTORS // 4, blank=SECTORS // 8)
    assert text(outcome(replace(GOOD, kept=kept))).endswith(
        "Test it once more in another reader. If it fails there too, do not use it, and give it back.\n"
    )
