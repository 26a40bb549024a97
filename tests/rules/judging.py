"""Asks the rules about one file's streams, and holds their findings against what every finding must be.

It must not build files: that is for `make`.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from mediacheck.rules import (
    audio,
    audio_level,
    container,
    leader,
    picture,
    picture_content,
    video,
    video_rate,
    video_shape,
)
from mediacheck.rules.model import Answer, AnyRule, NotChecked, One, Rule, Seen
from tests.rules.make import one

STREAM_ROOMS = (
    container, video, video_shape, video_rate, audio, audio_level, picture, picture_content, leader
)  # fmt: skip
RULES: dict[str, AnyRule] = {
    value.name: value for module in STREAM_ROOMS for value in vars(module).values() if isinstance(value, Rule)
}
"""Every rule about the container, the streams and the decoded picture, by name."""


@dataclass(frozen=True, slots=True)
class Defect:
    """One defective file, the rule that must speak, what it must say, and nothing else."""

    rule: str
    one: One
    found: str
    wanted: str
    says: str
    """Words that the message must hold."""
    fixable: bool = True


def answer(rule: str, asked: One | None = None) -> Answer:
    """What one rule answers about a file; the conforming one unless another is given."""
    answered: Answer = RULES[rule].judge(asked if asked is not None else one())
    return answered


def reason(rule: str, asked: One) -> tuple[str, bool]:
    """Why a rule did not check a file, and whether that was to be expected."""
    given = answer(rule, asked)
    assert isinstance(given, NotChecked), given
    return given.reason, given.expected


def findings(asked: One) -> dict[str, tuple[Seen, ...]]:
    """What each rule saw; rules that saw nothing are left out."""
    answers = {name: answer(name, asked) for name in RULES}
    return {name: given for name, given in answers.items() if isinstance(given, tuple) and given}


def failing(asked: One) -> set[str]:
    """The rules that saw a defect of severity fail."""
    return {
        name
        for name, seen in findings(asked).items()
        if any((each.severity or RULES[name].severity) == "fail" for each in seen)
    }


def holds(defect: Defect) -> None:
    """The law of design section 6: the rule sees the defect, says what shows, and no other rule fails."""
    seen = answer(defect.rule, defect.one)
    assert isinstance(seen, tuple), seen
    assert [(each.found, each.wanted, each.fixable) for each in seen] == [
        (defect.found, defect.wanted, defect.fixable)
    ]
    assert defect.says in seen[0].message
    reads_well(seen[0])
    assert failing(defect.one) - {defect.rule} == set()


def reads_well(seen: Seen) -> None:
    """One whole sentence on what shows, and one on what to do."""
    for sentence in (seen.message, seen.action):
        assert re.fullmatch(r"[A-Z0-9].{14,}[^.\s]\.", sentence), sentence
        assert not re.search(r"[a-z]\. [A-Z]", sentence), f"two sentences: {sentence}"
        assert "None" not in sentence
        assert "  " not in sentence
    assert re.search(r"\b(players?|screen|display|plays?)\b", seen.message), seen.message
