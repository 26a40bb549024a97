"""The report in a terminal: nothing lost, nothing by colour alone, no width that breaks it."""

from __future__ import annotations

import time
from dataclasses import replace
from io import BytesIO, TextIOWrapper

import pytest
from hypothesis import HealthCheck, given, settings
from rich.cells import cell_len
from rich.console import Console
from rich.text import Text

from mediacheck.report.model import Report
from mediacheck.report.outline import outline_of
from mediacheck.report.terminal import LIMITS, print_report
from tests.report.make import BAD_CARD, GOOD, crowded, finding, item, one_line, printed, report
from tests.report.strategies import reports

WIDTHS = (40, 80, 120)
LONG = "clips/" + "a-very-long-name-" * 12 + "花" * 30 + ".mp4"


def test_the_verdict_stands_first_and_on_one_line() -> None:
    assert printed(GOOD).splitlines()[0] == "WILL PLAY: 2 items, 1 min 32 s a round; nothing wrong was found."


def test_the_whole_page_for_a_good_card() -> None:
    assert printed(report(order_known=True)) == (
        "WILL PLAY: 2 items, 1 min 32 s a round; nothing wrong was found.\n"
        "\n"
        "Card     card-watering (folder)\n"
        "Profile  basic-1080p (Basic player, 1080p)\n"
        "Depth    full (videos were also decoded)\n"
        "Checked  31 January 2026, 09:30 UTC, mediacheck 0.1.0\n"
        "\n"
        "What will play\n"
        "2 items, 1 min 32 s a round, in this order:\n"
        "  no.  starts       lasts  item\n"
        "    1    0:00        12 s  a.mp4\n"
        "    2    0:12  1 min 20 s  b.mp4\n"
        "This player plays in the order in which the files stand on the card, and so does\n"
        "this list.\n"
        "\n"
        "What is wrong\n"
        "Nothing wrong was found in what was checked.\n"
        "\n"
        "What was not checked\n"
        "Every check that applies was made.\n"
        "\n"
        "40 checks passed, 0 did not pass, 0 not made; 12 do not apply here.\n"
        "Checked against the profile basic-1080p. Where the player's data sheet says\n"
        "otherwise, the data sheet decides.\n"
    )


def test_a_narrow_screen_gives_an_item_two_lines() -> None:
    assert (
        "1. a.mp4\n   starts: 0:00, lasts: 12.5 s\n2. WILL NOT PLAY RIGHT: b.mp4\n   lasts: 1 min 20 s\n"
    ) in printed(BAD_CARD, 40)


def test_a_finding_says_what_where_what_to_do_and_by_which_rule() -> None:
    assert (
        "FAIL  b.mp4\n"
        "  video-codec shows up on the screen.\n"
        "  What to do: Put video-codec right.\n"
        "  video-codec (found: found by video-codec; wanted: wanted by video-codec)\n"
    ) in printed(BAD_CARD, 80)


@pytest.mark.parametrize("width", WIDTHS)
def test_nothing_is_lost_at_any_width(width: int) -> None:
    shown = one_line(printed(BAD_CARD, width))
    texts = [
        *(text for each in BAD_CARD.findings for text in (each.message, each.action, each.rule)),
        *(each.path or "The card as a whole" for each in BAD_CARD.findings),
        *(each.path for each in BAD_CARD.items),
        *(each.reason[1:] for each in BAD_CARD.not_checked),
        BAD_CARD.profile.title,
    ]
    assert [text for text in texts if text not in shown] == []


@pytest.mark.parametrize("width", WIDTHS)
@pytest.mark.parametrize("made", [GOOD, BAD_CARD])
def test_no_line_is_wider_than_the_terminal(made: Report, width: int) -> None:
    wild = replace(
        made, source=LONG, items=(item(LONG, skipped=True), item(LONG)), findings=(finding(path=LONG),)
    )
    lines = printed(wild, width).splitlines()
    assert [line for line in lines if cell_len(line) > width] == []
    assert "".join(printed(wild, width).split()).count(LONG) == 4


@settings(suppress_health_check=[HealthCheck.too_slow], max_examples=60, deadline=None)
@given(reports)
def test_any_report_can_be_printed_without_a_control_character(any_report: Report) -> None:
    shown = printed(any_report, 40)
    assert {character for character in shown if not character.isprintable() and ord(character) < 160} == {
        "\n"
    }


def test_colour_adds_nothing_to_the_words() -> None:
    plain = printed(BAD_CARD)
    coloured = printed(BAD_CARD, force_terminal=True, color_system="truecolor")
    assert "\x1b[" in coloured
    assert "\x1b" not in plain
    assert Text.from_ansi(coloured).plain.rstrip() == plain.rstrip()


def test_names_can_neither_steer_the_terminal_nor_turn_the_writing_round() -> None:
    path = "\x1b[2J[red]\u202egpj.exe[/red]:bee:.mp4"
    shown = printed(
        report(items=(item(path),), findings=(finding(path=path),)), force_terminal=True, color_system=None
    )
    assert shown.count("\\x1b[2J[red]\\u202egpj.exe[/red]:bee:.mp4") == 2
    assert ("\x1b[2J" in shown, "\u202e" in shown) == (False, False)


def test_a_console_that_cannot_write_a_name_shows_it_as_an_escape() -> None:
    stream = TextIOWrapper(BytesIO(), encoding="cp437", newline="\n")
    print_report(report(items=(item("花.mp4"),)), Console(file=stream, width=80))
    stream.seek(0)
    assert "1 0:00 12 s \\u82b1.mp4" in one_line(stream.read())


def test_ten_thousand_files_stay_fast_and_bounded() -> None:
    """The time is our own, with much room: it must not grow out of proportion."""
    small, large = crowded(1_000), crowded(10_000)
    start = time.process_time()
    shown = printed(large)
    assert time.process_time() - start < 5
    assert len(shown.splitlines()) == len(printed(small).splitlines()) < 400
    assert outline_of(large, LIMITS).more_rows in one_line(shown)
