"""Symptoms and their causes: the model of the YAML, and what the rest of the program is given of it.

It must not order causes: that is for `ranking`.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Annotated, Literal

from pydantic import AfterValidator, model_validator

from mediacheck.names import RuleName
from mediacheck.profile_values import FROZEN_MAP, Name, Part, impossible
from mediacheck.rules.model import COMMON_PRACTICE
from mediacheck.trouble.points import Point

TITLE_MAX = 80
WHAT_MAX = 100
SENTENCE_MAX = 240
CAUSES_MIN = 2
CAUSES_MAX = 10
"""So that a symptom with its causes fits on one page of a worksheet, at a size that is read standing."""


def _bounded(text: str, most: int) -> str:
    if not text or len(text) > most or not text.isprintable() or text != " ".join(text.split()):
        raise ValueError(f"one line of text with at most {most} characters")
    return text


def _title(text: str) -> str:
    if text.endswith("."):
        raise ValueError("a title without a full stop")
    return _bounded(text, TITLE_MAX)


def _sentence(text: str, most: int = SENTENCE_MAX) -> str:
    if not text.endswith("."):
        raise ValueError("a sentence with a full stop")
    return _bounded(text, most)


def _what(text: str) -> str:
    return _sentence(text, WHAT_MAX)


def _enough(causes: tuple[str, ...]) -> tuple[str, ...]:
    if not CAUSES_MIN <= len(causes) <= CAUSES_MAX:
        raise ValueError(f"{CAUSES_MIN} to {CAUSES_MAX} causes")
    return causes


Title = Annotated[str, AfterValidator(_title)]
What = Annotated[str, AfterValidator(_what)]
Sentence = Annotated[str, AfterValidator(_sentence)]


class Cause(Part):
    """Why something is seen, how to tell it apart, and what to do about it."""

    id: Name
    what: What
    """What is the matter, in one sentence."""
    tell_apart: Sentence
    """How to tell it from other causes with what is in hand."""
    do: Sentence
    """What to do about it."""
    rules: tuple[RuleName, ...] = ()
    """Rules whose finding means this cause, and which together cover all of it."""
    settings: tuple[str, ...] = ()
    """Words of a setting that belongs to it; all words of one entry must stand in the setting's name."""
    likelier: tuple[Point | Literal["setting"], ...] = ()
    """What a profile may say that makes it likelier; `setting`: that one of its settings is named there."""
    unlikelier: tuple[Point, ...] = ()
    """What a profile may say that makes it less likely."""
    tells: tuple[Point, ...] = ()
    """What a profile may say that belongs to it."""
    cautions: tuple[Name, ...] = ()
    """What must be known before doing it: keys of `cautions`."""
    command: str = ""
    """The command line that checks it; names in capitals stand for what the person has."""
    source: str = COMMON_PRACTICE
    """Where it is published."""

    @model_validator(mode="after")
    def _with_what_it_goes_by(self) -> Cause:
        if "setting" in self.likelier and not self.settings:
            raise impossible("settings", "the words of the setting that makes it likelier", "nothing")
        if self.rules and not self.command:
            raise impossible("command", "the command whose rules find it", "nothing")
        return self


class SymptomEntry(Part):
    """What a person sees, as the YAML has it: with the names of its causes."""

    id: Name
    title: Title
    also: tuple[str, ...] = ()
    """Other words that people use for it."""
    cautions: tuple[Name, ...] = ()
    """What must be known before anything is tried: keys of `cautions`."""
    causes: Annotated[tuple[Name, ...], AfterValidator(_enough)]
    """Its causes in order."""
    why_this_order: Sentence
    """What decided the order."""


class Book(Part):
    """The whole file."""

    cautions: Annotated[Mapping[Name, Sentence], *FROZEN_MAP]
    causes: tuple[Cause, ...]
    symptoms: tuple[SymptomEntry, ...]

    @model_validator(mode="after")
    def _whole(self) -> Book:
        causes = [cause.id for cause in self.causes]
        used = [name for symptom in self.symptoms for name in symptom.causes]
        cautioned = [name for cause in self.causes for name in cause.cautions]
        cautioned += [name for symptom in self.symptoms for name in symptom.cautions]
        for key, expected, wrong in (
            ("causes", "each id once", _twice(causes)),
            ("symptoms", "each id once", _twice(symptom.id for symptom in self.symptoms)),
            ("symptoms", "each cause once in a symptom", self._listed_twice()),
            ("symptoms", "causes that stand under `causes`", sorted({*used} - {*causes})),
            ("causes", "causes that belong to a symptom", sorted({*causes} - {*used})),
            ("cautions", "cautions that stand under `cautions`", sorted({*cautioned} - {*self.cautions})),
            ("cautions", "cautions that something needs", sorted({*self.cautions} - {*cautioned})),
        ):
            if wrong:
                raise impossible(key, expected, ", ".join(wrong))
        return self

    def _listed_twice(self) -> list[str]:
        return [name for symptom in self.symptoms for name in _twice(symptom.causes)]


def _twice(names: Iterable[str]) -> list[str]:
    return [name for name, count in Counter(names).items() if count > 1]


@dataclass(frozen=True, slots=True)
class Symptom:
    """What a person sees, with all that is known of it."""

    id: str
    number: int
    """As it is listed, from 1."""
    title: str
    also: tuple[str, ...]
    cautions: tuple[str, ...]
    """Sentences to read before anything is tried: of the symptom, then of its causes, each once."""
    causes: tuple[Cause, ...]
    """In order: the likeliest and cheapest first."""
    why_this_order: str


def symptoms_of(book: Book) -> tuple[Symptom, ...]:
    """The symptoms with their causes in place of names."""
    return tuple(_symptoms(book))


def _symptoms(book: Book) -> Iterator[Symptom]:
    by_id = {cause.id: cause for cause in book.causes}
    for number, entry in enumerate(book.symptoms, 1):
        causes = tuple(by_id[name] for name in entry.causes)
        needed = dict.fromkeys([*entry.cautions, *(name for cause in causes for name in cause.cautions)])
        cautions = tuple(book.cautions[name] for name in needed)
        yield Symptom(entry.id, number, entry.title, entry.also, cautions, causes, entry.why_this_order)
