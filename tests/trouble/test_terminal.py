"""What a terminal shows: nothing by colour alone, nothing that steers it, and all of every cause."""

from __future__ import annotations

from io import StringIO
from typing import Any

import pytest
from rich.console import Console
from rich.text import Text

from mediacheck.card.model import Volume
from mediacheck.profile import Player, Profile, Setting
from mediacheck.report.model import Report
from mediacheck.trouble.book import symptom_named, symptoms
from mediacheck.trouble.ranking import ranked
from mediacheck.trouble.terminal import about_lines, print_ranking, print_symptoms
from tests.report.make import finding, gap, one_line
from tests.trouble.make import failing, profile, report


def printed(
    symptom: str,
    player: Profile | None = None,
    checked: Report | None = None,
    width: int = 80,
    **options: Any,
) -> str:
    stream = StringIO()
    console = Console(file=stream, width=width, **options)
    print_ranking(ranked(symptom_named(symptom), player, checked), about_lines(player, checked), console)
    return stream.getvalue()


def listed(found: frozenset[str] = frozenset(), width: int = 100) -> str:
    stream = StringIO()
    print_symptoms(symptoms(), found, Console(file=stream, width=width))
    return stream.getvalue()


def test_every_symptom_is_listed_with_number_and_short_name() -> None:
    lines = listed(width=120).splitlines()
    rows = [f"{symptom.number:>2}  {symptom.id:<16}  {symptom.title}" for symptom in symptoms()]
    assert lines[2 : 2 + len(rows)] == rows


def test_what_the_check_found_is_marked_in_words() -> None:
    assert "24  flashes " in listed()
    assert "(the check of this card found a cause)" not in listed()
    marked = one_line(listed(frozenset({"flashes"}), 120))
    assert "so switch the screen off first) (the check of this card found a cause)" in marked


@pytest.mark.parametrize("width", [30, 80, 200])
def test_lines_fit_and_all_of_every_cause_is_there(width: int) -> None:
    for symptom in symptoms():
        text = printed(symptom.id, width=width)
        assert max(map(len, text.splitlines())) <= width
        said = one_line(text)
        for words in (symptom.title, symptom.why_this_order, *symptom.cautions):
            assert words in said.replace("! ", "")
        for number, cause in enumerate(symptom.causes, 1):
            assert f"{number}. {cause.what}" in said
            assert f"Tell it apart: {cause.tell_apart} What to do: {cause.do}" in said
            assert not cause.command or f"Checked by: {cause.command}" in said
    assert max(map(len, listed(width=width).splitlines())) <= width


def test_colour_adds_nothing_to_the_words() -> None:
    checked = report(findings=(finding("picture-flash"),), not_checked=(gap("video-gop", None, "why"),))
    plain = printed("flashes", profile(), checked)
    coloured = Console(file=StringIO(), force_terminal=True, color_system="truecolor", width=80)
    with coloured.capture() as capture:
        symptom = symptom_named("flashes")
        print_ranking(ranked(symptom, profile(), checked), about_lines(profile(), checked), coloured)
    assert "\x1b[" in capture.get()
    assert Text.from_ansi(capture.get()).plain.split() == plain.split()


def test_cautions_stand_before_the_first_cause() -> None:
    text = one_line(printed("flashes"))
    assert text.index("Flashing pictures can set off seizures") < text.index("1. The item itself flashes")


def test_found_not_checked_and_struck_are_told_in_words() -> None:
    checked = report(
        findings=(finding("video-codec", "fail", "b.mp4"), finding("video-codec", "fail", "c.mp4")),
        not_checked=(gap("container-encrypted", "b.mp4", "It could not be read."),),
    )
    text = one_line(printed("unsupported-file", None, checked))
    assert (
        "1. FOUND: A file is of a kind that this player does not play. FAIL b.mp4, c.mp4: video-codec shows "
        "up on the screen. To repair it: Put video-codec right. Tell it apart:" in text
    )
    assert (
        "NOT CHECKED: A file is locked with copy protection. Why not: It could not be read (b.mp4)." in text
    )
    struck = text.split("Ruled out for the card that was checked")[1]
    assert "- A file is empty, cut off or damaged. (file-empty, file-unreadable," in struck


def test_where_all_is_struck_it_says_so() -> None:
    text = one_line(printed("unsupported-file", None, report()))
    assert "None is left: all that are known here were ruled out for the card that was checked." in text
    assert "NOT CHECKED" not in text


def test_many_findings_are_counted() -> None:
    checked = failing("container-format", "video-codec", "video-missing", "file-extension", "still-format")
    text = one_line(printed("unsupported-file", None, checked))
    assert "and 2 more findings of this kind, which the report lists." in text


def test_settings_and_points_of_the_profile_are_told() -> None:
    player = profile(player=Player(settings=(Setting(name="Repeat", value="all", why="Else it stops."),)))
    assert "To set: Repeat: all. Else it stops." in one_line(printed("plays-once", player))
    assert "The profile: The player is plugged into HDMI." in one_line(printed("no-signal", profile()))


def test_what_the_answer_rests_on_is_told() -> None:
    checked = report(volume=Volume(label="GARDEN-A"))
    assert about_lines(None, None) == ()
    assert about_lines(profile(), checked) == (
        "Player and screen as in the profile basic-1080p (Full HD screen, simple player, H.264 in MP4).",
        "Card as it was checked on 31 January 2026, 09:30 UTC (card-watering, labelled GARDEN-A): this tells "
        "nothing of another card.",
    )


def test_nothing_from_files_steers_the_terminal() -> None:
    evil = "\x1b]0;x\x07\u202e"
    setting = Setting(name=f"Repeat {evil}", value=evil, why=evil)
    player = profile(title=evil, player=Player(settings=(setting,)))
    bad = finding("file-empty", "fail", evil)
    checked = report(source=evil, findings=(bad,), not_checked=(gap("file-junk", evil, evil),))
    text = printed("plays-once", player, checked)
    assert "\x1b" not in text
    assert "\u202e" not in text
    assert "\\x1b]0;x\\x07\\u202e" in text
