"""The report as a page: it stands alone, loses nothing, and trusts no name."""

from __future__ import annotations

import time
from dataclasses import replace
from html.parser import HTMLParser

import pytest
from hypothesis import HealthCheck, given, settings

from mediacheck.report.html import CAUTIONS, LIMITS, as_html
from mediacheck.report.model import Report
from mediacheck.report.outline import outline_of
from mediacheck.report.verdict import verdict_line
from tests.report.make import BAD_CARD, GOOD, crowded, finding, gap, item, one_line, report
from tests.report.strategies import reports

FRAME = "data:image/jpeg;base64,/9j/4AAQ"
VOID = {"meta", "img", "br"}
LINKS = {"src", "href", "srcset", "action", "data", "poster", "background", "formaction"}


class Page(HTMLParser):
    """The page as a reader sees it: its tags, its attributes, its words without the style sheet."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.attributes: list[tuple[str, str, str]] = []
        self.open: list[str] = []
        self.pieces: list[str] = []
        self.feed(html)
        self.close()

    @property
    def words(self) -> str:
        return one_line(" ".join(self.pieces))

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.attributes.extend((tag, name, value or "") for name, value in attrs)
        if tag not in VOID:
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        if self.open and self.open[-1] != "style":
            self.pieces.append(data)

    def values(self, tag: str, name: str) -> list[str]:
        return [value for at, key, value in self.attributes if (at, key) == (tag, name)]


def test_the_verdict_is_the_first_heading_and_the_title() -> None:
    page = Page(as_html(BAD_CARD))
    assert page.words.startswith("WILL NOT PLAY RIGHT: card-watering " + str(verdict_line(BAD_CARD)))
    assert [tag for tag in page.tags if tag in ("h1", "h2", "h3")] == [
        "h1",
        "h2",
        "h2",
        *["h3"] * 5,
        "h2",
        "h2",
    ]


@pytest.mark.parametrize("made", [GOOD, BAD_CARD])
def test_nothing_is_lost(made: Report) -> None:
    words = Page(as_html(made)).words
    outline = outline_of(made, LIMITS)
    texts = [
        outline.play_summary,
        outline.order_note,
        outline.checks,
        outline.profile_note,
        outline.no_gaps,
        *CAUTIONS,
        *(text for pair in outline.about for text in pair),
        *(text for row in outline.rows for text in (row.path, row.starts, row.lasts, row.facts)),
        *(text for each in made.findings for text in (each.message, each.action, each.rule)),
        *(text for each in made.findings for text in (each.path or "The card as a whole", each.source)),
        *(each.reason[1:] for each in made.not_checked),
    ]
    assert [text for text in texts if text not in words] == []


def test_findings_stand_the_worst_first_with_what_to_do() -> None:
    words = Page(as_html(BAD_CARD)).words
    assert (
        "FAIL b.mp4 video-codec shows up on the screen. What to do: Put video-codec right. "
        "video-codec · found: found by video-codec · wanted: wanted by video-codec · source: the profile "
        "FAIL broken.mp4 "
    ) in words


def test_an_item_that_fails_is_marked_in_words() -> None:
    assert "2 - 1 min 20 s WILL NOT PLAY RIGHT b.mp4" in Page(as_html(BAD_CARD)).words


def test_an_unexpected_gap_is_marked_in_words() -> None:
    made = report(verdict="incomplete", not_checked=(gap("video-codec", "a.mp4", "no time", False),))
    assert "NOT SURE a.mp4 No time (1 check: video-codec)" in Page(as_html(made)).words


def test_the_page_stands_alone() -> None:
    page = Page(as_html(BAD_CARD, {"a.mp4": (FRAME,)}))
    links = [value for _, name, value in page.attributes if name in LINKS]
    assert links == [FRAME]
    assert {"script", "link", "iframe", "object", "form"}.isdisjoint(page.tags)
    assert [name for _, name, _ in page.attributes if name.startswith("on")] == []
    assert [word for word in ("url(", "@import", "http:", "https:") if word in as_html(GOOD)] == []


def test_it_is_made_for_a_phone_for_paper_and_for_reading_aloud() -> None:
    html = as_html(BAD_CARD)
    page = Page(html)
    assert page.values("html", "lang") == ["en"]
    assert "width=device-width, initial-scale=1" in page.values("meta", "content")
    assert page.values("th", "scope") == ["col"] * 4
    assert ["break-inside: avoid" in html, "@page" in html, "@media print" in html] == [True] * 3


def test_pictures_stand_with_their_item_and_have_a_text() -> None:
    page = Page(as_html(BAD_CARD, {"c.jpg": (FRAME,), "a.mp4": (FRAME, FRAME), "gone.mp4": (FRAME,)}))
    assert page.values("img", "alt") == ["Frame 1 of a.mp4", "Frame 2 of a.mp4", "Frame 1 of c.jpg"]


@pytest.mark.parametrize("uri", ["https://example.org/a.jpg", "javascript:alert(1)", "data:text/html,x", ""])
def test_a_picture_from_outside_is_refused(uri: str) -> None:
    with pytest.raises(ValueError, match="data:image/"):
        as_html(GOOD, {"a.mp4": (uri,)})


def test_names_are_text_and_never_markup() -> None:
    path = "<script>alert('x')</script>\" onload=\"x.mp4"
    made = report(
        source=path,
        items=(item(path),),
        findings=(replace(finding(path=path), message=path),),
        not_checked=(gap("video-codec", path, path, False),),
    )
    page = Page(as_html(made, {path: (FRAME,)}))
    assert "script" not in page.tags
    assert page.values("img", "alt") == [f"Frame 1 of {path}"]
    assert page.words.count(one_line(path)) == 7


def test_names_cannot_turn_the_writing_round() -> None:
    html = as_html(report(source="\u202egpj.exe", items=(item("a\x00\u2067b.mp4"),)))
    assert "\\u202egpj.exe" in html
    assert "a\\x00\\u2067b.mp4" in html
    assert {"\u202e", "\u2067", "\x00"}.isdisjoint(html)


@settings(suppress_health_check=[HealthCheck.too_slow], max_examples=40, deadline=None)
@given(reports)
def test_any_report_makes_a_well_formed_page_in_utf_8(any_report: Report) -> None:
    html = as_html(any_report).encode("utf-8").decode("utf-8")
    page = Page(html)
    assert page.open == []
    assert page.tags.count("article") == len(outline_of(any_report, LIMITS).groups)


def test_ten_thousand_files_stay_fast_and_bounded() -> None:
    """The time is our own, with much room: it must not grow out of proportion."""
    small, large = crowded(3_000), crowded(10_000)
    start = time.process_time()
    html = as_html(large)
    assert time.process_time() - start < 5
    assert len(html.splitlines()) == len(as_html(small).splitlines())
    assert outline_of(large, LIMITS).more_rows in Page(html).words
