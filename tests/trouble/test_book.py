"""Which symptom a person means; and that a file of symptoms is refused unless it is whole."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mediacheck.report.words import safe
from mediacheck.strict_yaml import InvalidFile, parse_mapping
from mediacheck.trouble.book import UnknownSymptom, book_of, symptom_named, symptoms
from mediacheck.trouble.model import symptoms_of

SMALL = """
cautions:
  mains: One plug.
causes:
  - id: plug
    what: The plug is out.
    tell_apart: No lamp is lit.
    do: Push it in.
    cautions: [mains]
  - id: file
    what: A file is wrong.
    tell_apart: Always the same item.
    do: Make it anew.
    rules: [video-codec]
    command: mediacheck check CARD --profile PROFILE
symptoms:
  - id: dark
    title: The screen is dark
    causes: [plug, file]
    why_this_order: The plug costs nothing.
"""


def fault(text: str) -> str:
    with pytest.raises(InvalidFile) as refused:
        book_of(parse_mapping(text.encode(), "book.yaml"))
    return str(refused.value)


def named(words: str) -> str:
    return symptom_named(words).id


def refusal(words: str) -> str:
    with pytest.raises(UnknownSymptom) as refused:
        symptom_named(words)
    assert refused.value.exit_code == 2
    return str(refused.value)


def test_every_symptom_is_known_by_its_id_its_number_and_its_title() -> None:
    for symptom in symptoms():
        same = (symptom.id, symptom.id.upper(), f" {symptom.number} ", symptom.id.replace("-", " "))
        assert [symptom_named(words) for words in same] == [symptom] * 4
        assert symptom_named(symptom.title) == symptom


@pytest.mark.parametrize(
    ("words", "expected"),
    [
        ("the player shows its menu, logo", "player-menu"),
        ("flicker", "flashes"),
        ("flickering", "flashes"),
        ("upside down", "sideways"),
        ("stutters", "stutter"),
        ("jumps", "black-between"),
        ("01", "no-power"),
        ("no sound", "no-sound"),
        ("no picture", "no-signal"),  # "no" is not the beginning of "noise" or "not"
        ("picture is green", "wrong-colours"),
        ("the screen flickers", "flashes"),
        ("letterbox", "bars"),
    ],
)
def test_words_of_it_will_do(words: str, expected: str) -> None:
    assert named(words) == expected


@pytest.mark.parametrize(
    ("words", "expected"),
    [
        ("noo signal", "There is no symptom 'noo signal'. Did you mean no-signal (2)?"),
        ("sidewards", "There is no symptom 'sidewards'. Did you mean sideways (21)?"),
        ("purple monkey", "There is no symptom 'purple monkey'."),
        ("0", "There is no symptom 0: they are numbered 1 to 27"),
        ("999", "There is no symptom 999: they are numbered 1 to 27"),
        ("", "No symptom was named."),
        ("?!", "No symptom was named."),
        (
            "picture",
            "'picture' fits more than one symptom: 8 (stands-still), 15 (test-picture), 16 (stutter), "
            "17 (blocks), 18 (cut-off), 19 (bars) and 4 more",
        ),
        ("a\x1b[31m!", "There is no symptom 'a\\x1b[31m!'."),
    ],
)
def test_others_are_told_the_nearest(words: str, expected: str) -> None:
    assert refusal(words) == expected


@given(st.text(max_size=200))
def test_whatever_is_asked_there_is_a_symptom_or_one_printable_sentence(words: str) -> None:
    try:
        said = symptom_named(words).title
    except UnknownSymptom as error:
        said = str(error)
    assert said
    assert safe(said) == said


def test_a_small_book_is_read_whole() -> None:
    (symptom,) = symptoms_of(book_of(parse_mapping(SMALL.encode(), "book.yaml")))
    assert (symptom.id, symptom.number, symptom.cautions) == ("dark", 1, ("One plug.",))
    assert [(cause.id, cause.source) for cause in symptom.causes] == [
        ("plug", "common practice, no source"),
        ("file", "common practice, no source"),
    ]


@pytest.mark.parametrize(
    ("there", "instead", "expected"),
    [
        ("video-codec", "video-codek", "line 14: causes[2].rules[1]: expected one of the 77 names"),
        ("    do: Push it in.\n", "", "causes[1].do: expected a value, found nothing."),
        ("do: Push it in.", "do: Push it in", "expected a sentence with a full stop"),
        ("do: Push it in.", f"do: {'Push ' * 60}it in.", "one line of text with at most 240 characters"),
        ("The screen is dark", "The screen is dark.", "expected a title without a full stop"),
        ("causes: [plug, file]", "causes: [plug]", "symptoms[1].causes: expected 2 to 10 causes"),
        ("causes: [plug, file]", "causes: [plug, plug]", "each cause once in a symptom, found plug"),
        ("causes: [plug, file]", "causes: [plug, fiel]", "causes that stand under `causes`, found fiel"),
        ("id: file", "id: plug", "each id once, found plug"),
        ("cautions: [mains]", "cautions: [main]", "cautions that stand under `cautions`, found main"),
        ("    cautions: [mains]\n", "", "cautions that something needs, found mains"),
        ("what: A file", "wat: A file", "causes[2].wat: expected a key that is known here"),
        ("    command: mediacheck check CARD --profile PROFILE\n", "", "the command whose rules find it"),
        ("    rules: [video-codec]\n", "    likelier: [setting]\n", "the words of the setting"),
        ("    rules: [video-codec]\n", "    tells: [colour]\n", "causes[2].tells[1]"),
    ],
)
def test_a_book_that_is_not_whole_is_refused_with_its_line(there: str, instead: str, expected: str) -> None:
    assert there in SMALL
    said = fault(SMALL.replace(there, instead))
    assert expected in said
    assert said.startswith("book.yaml, line ")


def test_a_cause_that_belongs_to_no_symptom_is_refused() -> None:
    lone = SMALL.replace("symptoms:", "  - {id: lone, what: It., tell_apart: So., do: That.}\nsymptoms:")
    assert "causes that belong to a symptom, found lone" in fault(lone)
