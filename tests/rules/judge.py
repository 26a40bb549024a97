"""Applies rules to hand-made cards without the engine, and says what every rule answered.

It must not count or sort: that is the engine's, and is tested with it.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from types import ModuleType

from mediacheck.rules import card, copying, layout, loop, naming, still
from mediacheck.rules.model import Answer, AnyRule, One, Rule, Seen, Whole

OWN_ROOMS: tuple[ModuleType, ...] = (card, copying, layout, loop, naming, still)


def rules_in(*rooms: ModuleType) -> tuple[AnyRule, ...]:
    """Every rule that these modules define."""
    return tuple(value for room in rooms for value in vars(room).values() if isinstance(value, Rule))


def answers(whole: Whole, *rooms: ModuleType) -> Iterator[tuple[str, str | None, Answer]]:
    """Name of the rule, path (None for the card and the loop), and the answer, for every rule and file."""
    for rule in rules_in(*(rooms or OWN_ROOMS)):
        if rule.scope in ("card", "loop"):
            yield rule.name, None, rule.judge(whole)
            continue
        for file in whole.loop.files:
            if rule.scope in ("file", file.kind):
                yield rule.name, file.entry.path, rule.judge(One(file, whole.profile))


def defects(whole: Whole, *rooms: ModuleType) -> set[tuple[str, str | None]]:
    """Which rules saw something, and on which file."""
    return {
        (name, path or found.path)
        for name, path, answer in answers(whole, *rooms)
        if isinstance(answer, tuple)
        for found in answer
    }


def only(answer: Answer) -> Seen:
    """The one defect in an answer that must hold exactly one."""
    assert isinstance(answer, tuple), answer
    assert len(answer) == 1, answer
    return answer[0]


def in_brief(answer: Answer) -> tuple[str, str, str | None, bool, str | None]:
    """Found, wanted, severity, fixable and path of the one defect; its sentences are checked on the way."""
    found = only(answer)
    assert_sentence(found.message)
    assert_sentence(found.action)
    return found.found, found.wanted, found.severity, found.fixable, found.path


def assert_sentence(text: str) -> None:
    """One sentence for a person: a capital first, a full stop last, and no other sentence between."""
    assert re.fullmatch(r'["A-Z0-9].*[^\s.]\.', text), text
    assert not re.search(r"[.!?] +[A-Z]", text), text
    assert "  " not in text, text
