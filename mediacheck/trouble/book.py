"""The symptoms that come with the program, read once; and which of them a person means.

It must not word what is known of a symptom.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from difflib import SequenceMatcher, get_close_matches
from functools import cache
from pathlib import Path

from mediacheck.errors import WrongUse
from mediacheck.report.words import listed, safe
from mediacheck.strict_yaml import Document, read_mapping
from mediacheck.trouble.model import Book, Symptom, symptoms_of
from mediacheck.validated import validated

STEM, ENDING = 4, 3
"""A word of so many letters is known with an ending of so many more: "flicker" in "flickering"."""
NAMED_MAX = 6
SAYS_LITTLE = frozenset(
    (
        "a", "an", "and", "are", "as", "at", "be", "by", "does", "for", "from", "has", "have", "i", "in",
        "is", "it", "its", "my", "of", "on", "or", "our", "seen", "shows", "that", "the", "there", "this",
        "to", "was", "when", "with",
    )
)  # fmt: skip
"""Words of a description that are in every other one too."""
SEEN_ANYWHERE = frozenset(("display", "film", "loop", "picture", "player", "screen", "video"))
"""Words that people put beside what they see: they count where they help, and are left out where not."""
SHORT = 2
"""Words of so few letters are no beginnings of others: "no" is not "noise"."""


class UnknownSymptom(WrongUse):
    """Words that fit no symptom, or more than one."""

    advice = "`mediacheck trouble` lists what may be seen, with a number for each."


@cache
def symptoms() -> tuple[Symptom, ...]:
    """All symptoms, as they are listed and numbered."""
    return symptoms_of(_book())


def cautions() -> Mapping[str, str]:
    """What must be known before anything is touched, whatever is seen: sentences by their keys."""
    return _book().cautions


@cache
def _book() -> Book:
    return book_of(read_mapping(Path(__file__).with_name("symptoms.yaml")))


def book_of(document: Document) -> Book:
    """A file of symptoms, checked. Raises InvalidFile with every problem."""
    return validated(document, Book)


def symptom_named(words: str) -> Symptom:
    """The symptom that a person means: by its id, its number, or enough of its words.

    Raises UnknownSymptom.
    """
    asked = _words(words)
    if not asked:
        raise UnknownSymptom("No symptom was named.")
    if len(asked) == 1 and asked[0].isdecimal():
        return _numbered(words.strip(), asked[0])
    same = [symptom for symptom in symptoms() if _words(symptom.id) == asked]
    telling = [word for word in asked if word not in SAYS_LITTLE] or asked
    core = [word for word in telling if word not in SEEN_ANYWHERE]
    fitting = same or _fitting(telling) or (_fitting(core) if core else [])
    if len(fitting) == 1:
        return fitting[0]
    if fitting:
        named = listed(tuple(f"{symptom.number} ({symptom.id})" for symptom in fitting), NAMED_MAX)
        raise UnknownSymptom(f"'{_shown(words)}' fits more than one symptom: {named}")
    raise UnknownSymptom(f"There is no symptom '{_shown(words)}'.{_nearest(asked)}")


def _numbered(words: str, digits: str) -> Symptom:
    known = {str(symptom.number): symptom for symptom in symptoms()}
    number = digits.lstrip("0")
    if number not in known:
        raise UnknownSymptom(f"There is no symptom {_shown(words)}: they are numbered 1 to {len(known)}")
    return known[number]


def _words(text: str) -> list[str]:
    return re.findall(r"\w+", text.casefold())


def _fitting(asked: list[str]) -> list[Symptom]:
    """Those that have all the words: in id and title if any has, else with the other words for them."""
    plain = [symptom for symptom in symptoms() if _has(_plain_words(symptom), asked)]
    return plain or [symptom for symptom in symptoms() if _has(_all_words(symptom), asked)]


def _has(words: list[str], asked: list[str]) -> bool:
    return all(any(_alike(word, start) for word in words) for start in asked)


def _alike(word: str, asked: str) -> bool:
    """The beginning of a word will do, and so will another ending of it: "flick" and "flickers"."""
    other_ending = len(word) >= STEM and asked.startswith(word) and len(asked) - len(word) <= ENDING
    return word == asked or (len(asked) > SHORT and word.startswith(asked)) or other_ending


def _plain_words(symptom: Symptom) -> list[str]:
    return _words(f"{symptom.id} {symptom.title}")


def _all_words(symptom: Symptom) -> list[str]:
    return _words(" ".join((symptom.id, symptom.title, *symptom.also)))


def _nearest(asked: list[str]) -> str:
    """Which was probably meant: the one with the most words like those, if any word is like one."""
    scores = [(_likeness(asked, symptom), symptom) for symptom in symptoms()]
    score, nearest = max(scores, key=lambda scored: scored[0])
    return f" Did you mean {nearest.id} ({nearest.number})?" if score else ""


def _likeness(asked: list[str], symptom: Symptom) -> float:
    words = _all_words(symptom)
    close = sum(bool(get_close_matches(word, words, 1, 0.75)) for word in asked if word not in SAYS_LITTLE)
    whole = SequenceMatcher(None, " ".join(asked)[:80], symptom.id.replace("-", " ")).ratio()
    return close + whole if close or whole > 0.6 else 0.0


def _shown(words: str) -> str:
    return safe(words[:60])
