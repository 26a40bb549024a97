"""Cutting lines into runs: nothing gets lost, nothing hides, and each stands where readers expect it."""

from __future__ import annotations

import unicodedata

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from mediacheck.paper.fonts import typeface_for
from mediacheck.paper.runs import MISSING, UNPRINTABLE, clean, runs

TEXT = st.text(st.characters(codec="utf-16", exclude_categories=()), max_size=30)
SAMPLES = {
    "Latin": "Gießkanne Łódź Việt",
    "Greek": "Κήπος αέρας",
    "Cyrillic": "Полив сада",
    "Arabic": "حلقة الحديقة",
    "Hebrew": "השקיית הגן",
    "Devanagari": "पानी देना",
    "Thai": "การรดน้ำต้นไม้",
    "Georgian": "ბაღის მორწყვა",
    "Chinese": "花园灌溉花園",
    "Japanese": "ひまわりガーデン",
    "Korean": "정원 물주기",
    "Armenian": "Այգի",
    "Bengali": "বাগান",
    "Tamil": "தோட்டம்",
    "Telugu": "తోట",
    "Kannada": "ತೋಟ",
    "Malayalam": "പൂന്തോട്ടം",
    "Sinhala": "වත්ත",
    "Gujarati": "બગીચો",
    "Gurmukhi": "ਬਾਗ",
    "Odia": "ବଗିଚା",
    "Lao": "ສວນ",
    "Khmer": "សួន",
    "Burmese": "ဥယျာဉ်",
    "Amharic": "የአትክልት",
    "signs": "→ ★ ✓ ☃ ① °C",
    "emoji": "🌱😀",
}


def shown(text: str) -> str:
    """What stands on the page from left to right, letter by letter."""
    return "".join(run.text if run.rightwards else run.text[::-1] for run in runs(clean(text), "regular"))


@pytest.mark.parametrize("text", SAMPLES.values(), ids=SAMPLES)
def test_every_letter_of_these_scripts_has_a_font(text: str) -> None:
    assert [letter for letter in text if typeface_for(letter, "regular") is None] == []
    assert [letter for letter in text if typeface_for(letter, "bold") is None] == []


@settings(deadline=None)
@given(TEXT)
def test_runs_hold_every_letter_once(text: str) -> None:
    kept = clean(text)
    drawn = "".join(run.text for run in runs(kept, "regular"))
    replaced = "".join(letter if letter in drawn else MISSING for letter in kept)
    assert len(drawn) == len(kept)
    assert sorted(drawn.replace(MISSING, "")) == sorted(replaced.replace(MISSING, ""))


@settings(deadline=None)
@given(TEXT)
def test_what_a_run_holds_its_font_has(text: str) -> None:
    for run in runs(clean(text), "regular"):
        strange = [letter for letter in run.text if ord(letter) not in run.face.letters]
        assert all(unicodedata.category(letter) in ("Cf", "Mn") for letter in strange)


@settings(deadline=None)
@given(TEXT)
def test_clean_text_hides_nothing(text: str) -> None:
    categories = {unicodedata.category(letter) for letter in clean(text) if letter not in "\u200c\u200d"}
    assert not categories & {"Cc", "Cf", "Cs", "Co", "Zl", "Zp"}
    assert clean(clean(text)) == clean(text)


@pytest.mark.parametrize(
    ("text", "cleaned"),
    [
        ("a\nb\tc\x00", f"a{UNPRINTABLE}b{UNPRINTABLE}c{UNPRINTABLE}"),
        ("gpj.\u202e4pm", f"gpj.{UNPRINTABLE}4pm"),
        ("loop\udcff.mp4", f"loop{UNPRINTABLE}.mp4"),
        ("Cafe\u0301", "Café"),
        ("\u1112\u1161\u11ab", "한"),
        ("क्\u200dष", "क्\u200dष"),
    ],
)
def test_control_characters_are_made_visible_and_letters_are_composed(text: str, cleaned: str) -> None:
    assert clean(text) == cleaned


def test_a_letter_without_any_font_is_replaced_by_a_sign_that_has_one() -> None:
    (run,) = runs("\U0001d2c0", "regular")  # a Kaktovik numeral
    assert run.text == MISSING
    assert ord(MISSING) in run.face.letters


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ("loop.mp4", "loop.mp4"),
        ("אבג.mp4", "גבא.mp4"),
        ("01-אבג.mp4", "01-גבא.mp4"),
        ("אב 12.mp4", "12 בא.mp4"),
        ("אב 1.5 גד", "דג 1.5 בא"),
        ("x אב (גד).mp4", "x (דג( בא.mp4".replace("(דג(", ")דג(")),
        ("אב, x, גד", "בא, x, דג"),
        ("花אב花", "花בא花"),
    ],
)
def test_text_from_right_to_left_stands_as_the_bidirectional_algorithm_puts_it(
    text: str, wanted: str
) -> None:
    """Unicode Standard Annex #9, worked by hand; brackets here are letters as stored, not yet mirrored."""
    assert shown(text) == wanted


def test_scripts_are_shaped_apart_even_within_one_font() -> None:
    found = [(run.text, run.script) for run in runs("pot पानी", "regular")]
    assert found == [("pot ", "Latn"), ("पानी", "Deva")]
