"""The terminal and the page: the answer first, nothing lost, nothing by colour alone, and no name trusted."""

from __future__ import annotations

from io import StringIO

import pytest
from hypothesis import HealthCheck, given, settings
from rich.console import Console

from mediacheck.compare.html import LIMITS, as_html
from mediacheck.compare.model import Comparison
from mediacheck.compare.outline import answer_of, outline_of
from mediacheck.compare.terminal import print_comparison
from mediacheck.media.facts import ContainerFacts
from mediacheck.profile import Profile
from mediacheck.report.html import CAUTIONS
from mediacheck.survey import Surveyed
from tests.compare.make import clip, compared, encoded_again, still
from tests.compare.test_laws import PROFILES, cards
from tests.report.make import one_line
from tests.report.test_html import LINKS, Page
from tests.rules import make

VP9 = make.video_facts(codec="VP9")
FOUND = compared(
    [clip(), clip("in/b.mp4"), still("c.jpg")],
    [encoded_again(video=VP9), still("c.jpg"), make.junk_file("._a.mp4")],
    make.profile(layout={"subfolders": True}),
)


def printed(found: Comparison, width: int = 200) -> str:
    stream = StringIO()
    print_comparison(found, Console(file=stream, width=width, no_color=True))
    return stream.getvalue()


NOTHING = "Nothing was found in what was compared that could stop the bad card from playing; "
FOLDER = Surveyed(make.plain_folder(clip()), make.placed([clip()]), {})
NEXT = ": look at the player, its power and its screen next."
ANSWERS = {
    "could stop": (
        compared([clip()], [encoded_again(video=VP9)]),
        '1 difference could stop the bad card from playing; first: "a.mp4": Its picture is packed as VP9',
    ),
    "could change": (
        compared([clip(), clip("b.mp4")], [clip()]),
        f'{NOTHING}1 difference could change what it shows; first: "b.mp4": This item is on the good card',
    ),
    "hardly": (
        compared([clip()], [clip("b.mp4", "a.mp4")]),
        f"{NOTHING}only 1 small difference found{NEXT}",
    ),
    "nothing": (compared([clip()], [clip()]), f"{NOTHING}no difference was found{NEXT}"),
    "not sure": (
        compared([make.video_file()], [make.video_file()]),
        "Not sure what stops the bad card; not everything could be compared; no difference was found: see "
        "what was not compared.",
    ),
    "folders": (
        compared(FOLDER, FOLDER),
        f"{NOTHING}no difference was found: compare the cards themselves next, since how they are formatted",
    ),
    "what matters weighs less": (
        compared(
            [clip()],
            [encoded_again(video=make.video_facts(codec="H.265"), container=ContainerFacts("MP4", "last"))],
            make.bare_profile(rules={"container-index": "warn"}),
        ),
        '1 difference could stop the bad card from playing; first: "a.mp4": Its picture is packed as H.265',
    ),
    "nothing to go by": (
        compared([], [clip()]),
        "Not sure what stops the bad card; not everything could be compared; 1 difference could change",
    ),
}


@pytest.mark.parametrize("name", ANSWERS)
def test_the_first_line_answers(name: str) -> None:
    found, words = ANSWERS[name]
    assert str(answer_of(found)).startswith(words)
    assert one_line(printed(found)).startswith(words)
    assert Page(as_html(found)).words.startswith(f"{answer_of(found).headline} {words}")


def test_nothing_is_lost_on_either_face() -> None:
    outline = outline_of(FOUND, LIMITS)
    page, terminal = Page(as_html(FOUND)).words, one_line(printed(FOUND))
    texts = [
        *(text for pair in outline.about for text in pair),
        *(text for d in FOUND.differences for text in (d.message, d.action, d.rule or "", d.good, d.bad)),
        *FOUND.same,
        *(gap.reason for gap in FOUND.not_compared),
        outline.profile_note,
    ]
    assert [text for text in texts if one_line(text) not in page] == []
    assert [text for text in texts if one_line(text) not in terminal] == []
    assert [text for text in CAUTIONS if text not in page] == []


def test_the_parts_stand_in_the_order_in_which_they_are_needed() -> None:
    heads = ("What differs, the likeliest to stop it first", "What is the same", "What was not compared")
    for face in (printed(FOUND), Page(as_html(FOUND)).words):
        assert sorted(heads, key=face.index) == list(heads)
        assert face.index("COULD STOP IT") > face.index(heads[0])


def test_files_of_which_the_same_is_said_stand_together() -> None:
    good = [clip(f"{n}.mp4") for n in range(12)]
    bad = [encoded_again(f"{n}.mp4", video=VP9) for n in range(12)]
    outline = outline_of(compared(good, bad), LIMITS)
    codec = next(group for group in outline.groups if group.rule == "video-codec")
    assert (len(codec.places), codec.more_places) == (8, 4)
    assert len(outline.groups) == 2


def test_a_long_list_is_cut_and_says_so() -> None:
    good = [clip(f"{n}.mp4") for n in range(150)]
    bad = [encoded_again(f"{n}.mp4", size_bytes=10**7 + 10**5 * (n + 1)) for n in range(150)]
    assert (
        "and 50 more differences; the JSON record (option --json) lists them all."
        in Page(as_html(compared(good, bad))).words
    )


def test_long_lists_of_names_are_cut_and_say_so() -> None:
    good = [clip(f"{n:02}.mp4") for n in range(40)]
    found = compared(good, [clip(f"new-{39 - n:02}.mp4", f"{n:02}.mp4") for n in range(40)])
    same = outline_of(found, LIMITS).same
    assert same[-2:] == (
        "new-32.mp4 on the bad card is 07.mp4 on the good card (same bytes).",
        "32 more files of another name or folder; the JSON record (option --json) lists them all.",
    )
    (order,) = [each for each in found.differences if each.subject == "order"]
    assert order.good == f"from place 1 on: {', '.join(f'{n:02}.mp4' for n in range(12))} and 28 more"


def test_the_page_stands_alone_and_is_made_for_paper() -> None:
    html = as_html(FOUND)
    page = Page(html)
    assert [value for _, name, value in page.attributes if name in LINKS] == []
    assert {"script", "link", "iframe", "object", "form", "img"}.isdisjoint(page.tags)
    assert [word for word in ("url(", "@import", "http:", "https:") if word in html] == []
    assert ["break-inside: avoid" in html, "@media print" in html] == [True] * 2
    assert page.values("html", "lang") == ["en"]


def test_names_are_text_and_never_markup() -> None:
    path = "<script>alert('x')</script>&\".mp4"
    found = compared([clip(path)], [clip("<b>.mp4", path), clip("<i>\u202e.mp4")])
    html = as_html(found)
    page = Page(html)
    assert {"script", "i"}.isdisjoint(page.tags)
    assert page.words.count("<b>.mp4 on the bad card is <script>alert('x')</script>&\".mp4") == 1
    assert ("\u202e" in html, "\\u202e" in html) == (False, True)


def test_names_cannot_steer_the_terminal() -> None:
    text = printed(compared([clip("a\x1b[2J.mp4")], [clip("[red]b\u202e.mp4")]))
    assert ("\x1b" in text, "\u202e" in text) == (False, False)
    assert "[red]b\\u202e.mp4" in text


@pytest.mark.parametrize("width", [30, 60, 100])
def test_no_line_is_wider_than_the_terminal(width: int) -> None:
    assert [line for line in printed(FOUND, width).splitlines() if len(line) > width] == []


@settings(suppress_health_check=[HealthCheck.too_slow], max_examples=30)
@given(cards(), cards(), PROFILES)
def test_any_comparison_makes_a_well_formed_page_and_plain_text(
    good: Surveyed, bad: Surveyed, profile: Profile | None
) -> None:
    found = compared(good, bad, profile)
    page = Page(as_html(found))
    assert page.open == []
    assert page.tags.count("article") == len(outline_of(found, LIMITS).groups)
    assert one_line(printed(found)).startswith(one_line(str(answer_of(found))))
