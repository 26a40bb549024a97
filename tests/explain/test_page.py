"""What the page says: every limit in plain words, what is free, what cannot be made, and nothing invented."""

from __future__ import annotations

import re
from html.parser import HTMLParser
from pathlib import Path

import pytest
from hypothesis import given

from mediacheck.explain.html import as_html
from mediacheck.explain.model import NoRecipe, Page, Row
from mediacheck.explain.page import page_of
from mediacheck.explain.text import as_text
from mediacheck.profile import Profile
from mediacheck.profile_files import bundled_names, load_profile
from tests.encoding.running import loaded
from tests.encoding.test_video import profiles


def page(**keys: object) -> Page:
    return page_of(loaded(Profile.model_validate({"id": "small", **keys})))


def rows(made: Page, heading: str) -> dict[str, str]:
    return {row.name: row.text for one in made.sections if one.heading == heading for row in one.rows}


class Words(HTMLParser):
    """The text of a page, and its elements."""

    def __init__(self) -> None:
        super().__init__()
        self.text: list[str] = []
        self.copied: list[str] = []
        self.elements: set[str] = set()
        self._in_line = False

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.add(tag)
        self._in_line = tag == "pre"

    def handle_endtag(self, tag: str) -> None:
        self._in_line = self._in_line and tag != "pre"

    def handle_data(self, data: str) -> None:
        (self.copied if self._in_line else self.text).append(data)


def read(html: str) -> Words:
    words = Words()
    words.feed(html)
    return words


@pytest.mark.parametrize("name", bundled_names())
def test_text_and_html_say_the_same_and_nothing_of_this_machine(name: str) -> None:
    profile = load_profile(name)
    made = page_of(profile)
    text, words = as_text(made), read(as_html(made))
    flat = " ".join(" ".join(words.text).split())
    for section in made.sections:
        assert section.heading in flat
        assert all(" ".join(row.text.split()) in flat for row in section.rows)
        assert all(" ".join(row.text.split()) in " ".join(text.split()) for row in section.rows)
    assert words.copied == [recipe.command for recipe in made.recipes]
    assert all(f"\n{recipe.command}\n" in text for recipe in made.recipes)
    for whole in (text, as_html(made)):
        assert profile.sha256 in whole
        assert str(Path(profile.source).parent) not in whole
        assert str(Path.home()) not in whole
    assert not {"script", "img", "link", "iframe"} & words.elements


def test_the_first_lines_say_whose_page_it_is() -> None:
    profile = load_profile("basic-1080p")
    assert as_text(page_of(profile)).splitlines()[:3] == [
        "What to deliver: Full HD screen, simple player, H.264 in MP4",
        "Profile basic-1080p",
        f"SHA-256 {profile.sha256}",
    ]


def wider_than_a_terminal(made: Page) -> list[str]:
    """Lines of more than 80 letters, but for those that are copied."""
    copied = {recipe.command for recipe in made.recipes}
    return [line for line in as_text(made).splitlines() if len(line) > 80 and line not in copied]


@pytest.mark.parametrize("name", bundled_names())
def test_the_text_fits_into_a_terminal_but_for_the_lines_that_are_copied(name: str) -> None:
    assert wider_than_a_terminal(page_of(load_profile(name))) == []


def test_what_is_not_restricted_is_said_to_be_free() -> None:
    made = page()
    assert rows(made, "Videos") == {
        "Kind of file": "free",
        "Codec": "free",
        "Picture size": "free",
        "Pixels": "square (1:1)",
        "Frame rate": "free, but constant; 30 suits this screen",
        "Scan": "free",
        "Bit rate": "free",
        "Keyframes": "the first picture is one; their distance is free",
        "Bits for each colour": "free",
        "Chroma subsampling": "free",
        "Colour": "standard (BT.709), no HDR and no wide colour",
    }
    assert rows(made, "The loop")["Length of one round"] == "free"
    assert [recipe.heading for recipe in made.recipes] == ["Video: H.264 in MP4", "Still: JPEG"]


def test_a_turned_screen_is_explained_as_people_see_it() -> None:
    seen = rows(page_of(load_profile("portrait-1080p")), "How the picture will be seen")
    assert seen["The screen"] == (
        "It hangs turned a quarter turn clockwise: people see 1080 pixels across and 1920 down. "
        "The file is 1920x1080."
    )
    assert "a quarter turn counter-clockwise" in seen["Turn the picture"]


def test_what_holds_for_all_codecs_stands_once() -> None:
    made = page_of(load_profile("uhd-2160p"))
    assert rows(made, "Videos")["Level"] == "up to 5.1 (how fast a player must be)"
    assert rows(made, "Videos in H.265") == {
        "Codec profile": "Main or Main 10",
        "Bit rate": "at most 30 Mbit/s on average; at most 40 Mbit/s at the busiest place (over 1 s)",
        "Bits for each colour": "8, 10 bits",
    }


def test_a_player_without_videos_or_stills_is_not_given_lines_for_them() -> None:
    made = page(video={"containers": []}, stills={"formats": []})
    assert rows(made, "Videos") == {"Videos": "None: this player shows no videos."}
    assert (made.recipes, made.without, made.using) == ((), (), ())
    assert "Ready lines" not in as_text(made) + as_html(made)


def test_a_codec_without_an_encoder_is_said_to_have_no_line() -> None:
    made = page(video={"codecs": {"VC-1": {}}}, stills={"formats": []})
    assert made.without == (NoRecipe("Video: VC-1", "ffmpeg has no encoder for VC-1"),)
    assert "No line can be given for this profile, because ffmpeg has no encoder for VC-1." in as_text(made)
    assert "No line can be given for this profile, because ffmpeg has no encoder for VC-1." in as_html(made)


def test_required_sound_has_a_line_for_each_kind_of_master() -> None:
    made = page(audio={"use": "required"}, stills={"formats": []})
    assert [recipe.heading for recipe in made.recipes] == [
        "Video: H.264 in MP4, from a master with sound",
        "Video: H.264 in MP4, from a master without sound",
    ]
    kept = [any("The sound keeps its length" in note for note in one.notes) for one in made.recipes]
    assert kept == [True, False]


def test_a_size_that_is_not_the_screens_shape_is_said_beside_the_line() -> None:
    made = page(screen={"width": 1920, "height": 540}, video={"width": 1280, "height": 720})
    assert any("does not have the shape of the screen" in note for note in made.recipes[0].notes)
    made = page(screen={"width": 1366, "height": 768}, video={"width": 1280, "height": 720})
    assert not any("does not have the shape" in note for note in made.recipes[0].notes)


def test_a_rule_that_is_off_is_not_held_against_anyone() -> None:
    assert "Black bars that are part of the picture." in page().unwanted
    assert "Black bars that are part of the picture." not in page(rules={"picture-bars": "off"}).unwanted


def test_overscan_card_and_names_are_in_their_sections() -> None:
    made = page(
        screen={"overscan_percent": 5.0},
        card={"file_systems": ["FAT32"], "capacity_max_gb": 32.0},
        layout={"name_pattern": r"video_\d+\.mp4", "name_length_max": 12},
        player={"order": "name"},
    )
    assert "hides 5 % of the picture" in rows(made, "How the picture will be seen")["Safe area"]
    assert rows(made, "The card itself")["One file"] == (
        "less than 4 GiB (at most 4,294,967,295 bytes): the file system holds none larger"
    )
    assert rows(made, "File names")["Example"].startswith("ask for one")
    assert all(recipe.command.split()[-1].startswith("OUTPUT.") for recipe in made.recipes)


def test_what_people_wrote_can_neither_mark_up_the_page_nor_steer_a_terminal() -> None:
    title = "<script>alert(1)</script>&\x1b[31m\u202e"
    made = page(title=title, notes=f"{title}\nline")
    html, text = as_html(made), as_text(made)
    assert "<script>" not in html
    assert "&lt;script&gt;alert(1)&lt;/script&gt;&amp;\\x1b[31m\\u202e" in html
    assert "\x1b" not in text + html
    assert "\u202e" not in text + html


def test_no_time_limit_or_sum_of_money_is_made_up() -> None:
    text = as_text(page_of(load_profile("basic-1080p")))
    assert not re.search(r"deadline|deliver by|days|EUR|\$", text)


@given(profiles())
def test_any_profile_has_a_page(profile: Profile) -> None:
    made = page_of(loaded(profile))
    assert all(isinstance(row, Row) and row.text for section in made.sections for row in section.rows)
    assert as_text(made).endswith("\n")
    assert wider_than_a_terminal(made) == []
    assert read(as_html(made)).copied == [recipe.command for recipe in made.recipes]
