"""The sheet as a page of HTML: it stands alone, loses nothing, and trusts no name."""

from __future__ import annotations

import re
import shutil
import subprocess
from base64 import b64decode
from dataclasses import replace
from importlib import resources
from io import BytesIO
from pathlib import Path

import pytest
from PIL import Image

from mediacheck.paper.look import CONTRAST_MIN, Ink, contrast
from mediacheck.sheet.html import LARGE_PX, LIGHT_UP_TO, SMALL_PX, as_html
from tests.report.test_html import LINKS, Page
from tests.sheet.displays import NAMES, WRONG_FACE, display, sharing
from tests.sheet.recipes import plays, report


def test_every_face_and_item_stands_on_the_page() -> None:
    page = Page(as_html(display(3, 4, cards=2)))
    for part in (
        *("Loam & Lantern, the stand at the entrance", "version spring 2026", "Notes.", *NAMES[:3]),
        *("CARD-1", "CARD-2", "CARD-3", "no card was given for this face", "4 items, 0:48 a round"),
        *("✕ will not play as it is", "! will play, with remarks", "starts at 0:36", "mediacheck 1.2.3"),
    ):
        assert part in page.words, part
    assert page.words.count("lasts 0:12") == 8
    assert page.tags.count("img") == 2 * (1 + 4 + 4 * 4)
    assert page.open == []
    assert [tag for tag in page.tags if tag in ("h1", "h2", "h3")] == ["h1", "h3", "h3", "h3", "h2", "h2"]


def test_notes_of_several_lines_are_paragraphs_without_marks() -> None:
    """As YAML folds them: with a line end after the last one."""
    page = as_html(replace(display(2), notes="Two screens.\n\nTwo cards.\n"))
    assert "<p><bdi>Two screens.</bdi></p>" in page
    assert "<p><bdi>Two cards.</bdi></p>" in page
    assert "\\n" not in page


def test_the_page_stands_alone() -> None:
    page = Page(as_html(display(2, 2)))
    places = [value for _, name, value in page.attributes if name in LINKS]
    assert places
    assert all(place.startswith(("data:image/jpeg;base64,", "#face-")) for place in places)
    assert "script" not in page.tags
    (rule,) = [
        value for tag, name, value in page.attributes if (tag, name) == ("meta", "content") and "src" in value
    ]
    assert rule == "default-src 'none'; img-src data:; style-src 'unsafe-inline'"
    assert "width=device-width" in as_html(display(1, 1))


def test_each_picture_says_what_it_is_to_those_who_cannot_see_it() -> None:
    alts = Page(as_html(sharing(display(2, 2), 0.9))).values("img", "alt")
    assert "Picture at the first item on aisle side" in alts
    assert any(alt.startswith("Picture at 0:02 of 01-drip hose") for alt in alts)
    assert len([alt for alt in alts if alt.endswith(", only on this face")]) == 2


def test_names_are_words_and_not_tags() -> None:
    path = "<b>x&amp;\u202e\x00\udcff.mp4"
    one = display(1, 1)
    bad = replace(
        one.faces[0],
        words=replace(one.faces[0].words, name="<i>a</i>"),
        report=report([plays(path)]),
        pictures={},
    )
    html = as_html(replace(one, faces=(bad,)))
    page = Page(html)
    assert {"b", "i"}.isdisjoint(page.tags)
    assert "<i>a</i>" in page.words
    assert r"<b>x&amp;\u202e\x00\udcff.mp4" in page.words
    html.encode("utf-8")


def test_warnings_stand_with_their_face() -> None:
    shown = sharing(display(2, 2), 1.0)
    checked = shown.faces[0].report
    assert checked is not None
    wrong = replace(shown.faces[0], report=replace(checked, findings=(WRONG_FACE,)))
    words = Page(as_html(replace(shown, faces=(wrong, shown.faces[1])))).words
    assert WRONG_FACE.message in words
    assert words.count("the pictures do not tell these faces apart") == 2


def test_cards_without_a_display_have_no_overview() -> None:
    page = Page(as_html(replace(display(2, 2), id="", title="")))
    assert "as they stand" not in page.words
    assert page.tags.count("img") == 2 * 2 * 4


@pytest.mark.parametrize(("items", "side_px"), [(2, LARGE_PX), (LIGHT_UP_TO // 4 + 1, SMALL_PX)])
def test_pictures_are_smaller_where_there_are_many(items: int, side_px: int) -> None:
    (*_, last) = Page(as_html(display(1, items))).values("img", "src")
    with Image.open(BytesIO(b64decode(last.partition(",")[2]))) as image:
        assert max(image.size) == side_px


def test_words_are_readable_on_their_grounds() -> None:
    """Every colour of words in the style sheet, on the ground of its own rule or on white."""
    rules = re.findall(
        r"\{([^{}]*)\}", (resources.files("mediacheck.sheet") / "sheet.css").read_text("utf-8")
    )
    seen = set()
    for rule in rules:
        ink = re.search(r"(?<![-\w])color: (#[0-9a-f]{3})\b", rule)
        ground = re.search(r"background: (#[0-9a-f]{3,6})\b", rule)
        if ink or ground:
            pair = (hexadecimal(ink[1] if ink else "#111"), hexadecimal(ground[1] if ground else "#fff"))
            seen.add(pair)
    assert len(seen) >= 4
    assert min(contrast(*pair) for pair in seen) >= CONTRAST_MIN


def hexadecimal(colour: str) -> Ink:
    """Red, green and blue of a colour of three or six digits."""
    digits = colour[1:] if len(colour) == 7 else "".join(2 * digit for digit in colour[1:])
    return int(digits[:2], 16), int(digits[2:4], 16), int(digits[4:], 16)


@pytest.mark.skipif(shutil.which("chromium") is None, reason="no chromium to look at the page with")
@pytest.mark.parametrize("width", [390, 1200])
def test_a_browser_shows_the_page_without_scrolling_sideways(width: int, tmp_path: Path) -> None:
    """The page is put into a frame of that width, which says how wide its content is."""
    (tmp_path / "sheet.html").write_text(as_html(display(8, 3)), "utf-8")
    frame = tmp_path / "frame.html"
    frame.write_text(
        f'<iframe id=f src=sheet.html width={width} height=900 style="border:0"></iframe><script>onload=()=>'
        "document.title=document.getElementById('f').contentDocument.documentElement.scrollWidth</script>"
    )
    flags = ("--headless", "--no-sandbox", "--disable-gpu", "--allow-file-access-from-files")
    command = ["chromium", *flags, f"--user-data-dir={tmp_path / 'user'}", "--dump-dom", frame.as_uri()]
    done = subprocess.run(command, capture_output=True, text=True, timeout=120, check=True)
    found = re.search(r"<title>(\d+)</title>", done.stdout)
    assert found is not None
    assert int(found[1]) <= width
