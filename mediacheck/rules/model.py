"""What a rule is, what it may answer, and what it is given to look at.

It must not know any single rule.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Generic, Literal, TypeVar

from mediacheck.card.model import Card
from mediacheck.loop import File, Loop
from mediacheck.manifest.expected import Paired
from mediacheck.names import Depth, RuleName, Severity

if TYPE_CHECKING:
    from mediacheck.display_files import DisplayFace
    from mediacheck.profile import Profile

Scope = Literal["card", "loop", "file", "video", "still"]
"""What a rule is asked about: the card or its loop once, or each file, each video, each still."""


@dataclass(frozen=True, slots=True)
class Seen:
    """A defect as the rule saw it. The engine adds which rule saw it, and where."""

    found: str
    wanted: str
    message: str
    """One sentence: what is wrong and what it does on the screen."""
    action: str
    """One sentence: what to do."""
    fixable: bool = False
    """Whether `mediacheck fix` can repair it without asking the sender."""
    severity: Severity | None = None
    """Only where this case is graver or lighter than the rule's default."""
    path: str | None = None
    """Only for rules about the card or the loop: the file that this is about."""


@dataclass(frozen=True, slots=True)
class NotApplicable:
    """The rule has nothing to say here: the profile does not restrict it, or the file has no such part."""


@dataclass(frozen=True, slots=True)
class NotChecked:
    """The rule applies, and could not be checked. `expected` as in the report's `not_checked`."""

    reason: str
    expected: bool


NOT_APPLICABLE = NotApplicable()
Answer = tuple[Seen, ...] | NotApplicable | NotChecked
"""No `Seen` at all means passed."""


@dataclass(frozen=True, slots=True)
class Whole:
    """What rules about the card or the loop are given."""

    card: Card
    loop: Loop
    profile: Profile
    manifest: Paired | None = None
    """What is expected on the card; None where no manifest was handed over."""
    display: DisplayFace | None = None
    """The face that the card is for; None where no display file was handed over."""


@dataclass(frozen=True, slots=True)
class One:
    """What rules about one file are given."""

    file: File
    profile: Profile
    manifest: Paired | None = None
    """As for `Whole`."""


S = TypeVar("S", Whole, One)


@dataclass(frozen=True, slots=True)
class Rule(Generic[S]):
    """One rule of the catalogue."""

    name: RuleName
    severity: Severity
    depth: Depth
    scope: Scope
    meaning: str
    """What it looks for and what that does on the screen: the first paragraph of its docstring."""
    source: str
    """The standard, or "common practice, no source"."""
    judge: Callable[[S], Answer]


AnyRule = Rule[Any]


def rule(
    name: RuleName, *, severity: Severity, scope: Scope, source: str, depth: Depth = "quick"
) -> Callable[[Callable[[S], Answer]], Rule[S]]:
    """Make a function into a rule; its docstring becomes the catalogue's text."""

    def made(judge: Callable[[S], Answer]) -> Rule[S]:
        meaning = " ".join((judge.__doc__ or "").split("\n\n")[0].split())
        return Rule(name, severity, depth, scope, meaning, source, judge)

    return made


def seen(
    found: object,
    wanted: object,
    message: str,
    action: str,
    *,
    fixable: bool = False,
    severity: Severity | None = None,
    path: str | None = None,
) -> tuple[Seen, ...]:
    """The answer of a rule that saw exactly one defect."""
    return (Seen(str(found), str(wanted), message, action, fixable, severity, path),)


PASSED: tuple[Seen, ...] = ()
COMMON_PRACTICE = "common practice, no source"
