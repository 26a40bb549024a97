"""What the terminal says of many cards: one line each, totals, and what they have in common."""

from __future__ import annotations

from dataclasses import replace
from io import StringIO

import pytest
from rich.console import Console

from mediacheck.many.model import Summary, line_of
from mediacheck.many.terminal import print_summary
from tests.many.test_record import GONE, SUMMARY, summary
from tests.report.make import BAD_CARD, GOOD


def told(made: Summary, width: int = 120, encoding: str = "utf-8") -> list[str]:
    """Lines as they stand on a terminal without colours."""
    file = StringIO()
    console = Console(file=file, width=width, color_system=None, legacy_windows=False)
    print_summary(made, console, "reports")
    return file.getvalue().splitlines()


def test_each_card_has_one_line_and_the_totals_follow() -> None:
    lines = told(SUMMARY, 160)
    assert lines[0].split() == ["findings", "round", "card"]
    assert lines[1].startswith("PASS")
    assert lines[1].endswith(GOOD.source)
    assert lines[2].startswith("FAIL")
    worst = BAD_CARD.findings[0]
    assert f"{BAD_CARD.source}: {worst.rule}" in lines[2]
    assert lines[3].split()[:3] == ["UNREADABLE", "-", "-"]
    assert lines[5] == "3 cards: 1 pass, 1 fail, 1 unreadable. 1 had not changed since an earlier run."
    assert "reports" in lines[-1]
    assert any("loam-and-lantern, window side" in line for line in lines)


def test_what_several_cards_have_in_common_is_told() -> None:
    bad = line_of(BAD_CARD, "bad", kept=False)
    lines = told(summary(bad, bad, bad))
    place = lines.index("Found on most cards")
    assert lines[place + 1].endswith("on 3 cards")
    assert "Found on most cards" not in told(summary(bad))


@pytest.mark.parametrize("width", [30, 59, 60, 200])
def test_nothing_runs_over_the_edge(width: int) -> None:
    assert max(map(len, told(SUMMARY, width))) <= width


def test_a_path_cannot_steer_the_terminal() -> None:
    evil = replace(GONE, source="x\x1b[2Jy\u202e", problem="z\x07")
    text = "\n".join(told(summary(evil)))
    assert not {"\x1b", "\u202e", "\x07"} & set(text)
    assert "x\\x1b[2Jy\\u202e" in text
