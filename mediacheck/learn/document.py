"""What was learned as the text of a profile, each value under a comment with its evidence.

It must not decide what is a limit: that is said in each value.

A value that was learned stands under its comment, `# learned "4.1": seen on 3 of 3 cards: 12 files`. The
value is said twice so that a later merge can tell a value that a person changed from one that is still as it
was learned.
"""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from mediacheck.learn.model import Key, Learned, Plain, Value
from mediacheck.learn.plain import flow, one_line
from mediacheck.profile import Profile

WIDTH = 110
STEP = "  "
RULES = ("rules",)
NOT_KEPT = "what cards that play do not keep"
LEARNED = "# learned "
MORE = "#   "
"""Begins each further line of a comment that does not fit on one."""
SHEET_DECIDES = "The data sheet of your player decides: where it differs, change the value."
HEAD = (
    "# Made by `mediacheck profile learn`. A line `# learned ...` says what was seen on the cards.",
    "# Change the value below it, and it is yours: `--merge` then leaves it as it is.",
)


@dataclass(frozen=True, slots=True)
class Branch:
    """A key with what stands under it; `value` is None where only keys stand there."""

    key: Key
    value: Value | None
    under: tuple[Branch, ...]

    @property
    def is_limit(self) -> bool:
        """Whether it is written as a value; else it is a comment with all that is under it."""
        own = self.value is not None and self.value.is_limit
        return own or any(branch.is_limit for branch in self.under)

    @property
    def is_codecs(self) -> bool:
        """Whether the keys under it are codecs."""
        return self.key[1:] == ("codecs",)

    @property
    def is_set(self) -> bool:
        """Whether its own keys were learned: codecs or rules."""
        return self.is_codecs or self.key == RULES


def document(learned: Learned, id: str, title: str) -> str:
    """The text of a whole profile, with line ends of one character and one at its end."""
    lines = [*HEAD, "", f"id: {flow(id)}", f"title: {flow(one_line(title))}", *_notes(learned.notes)]
    for section in sections(learned):
        lines += ["", *branch_lines(section, "")]
    return "\n".join(lines) + "\n"


def sections(learned: Learned) -> tuple[Branch, ...]:
    """All that was learned as a tree, in the order of a profile's sections."""
    order = {name: place for place, name in enumerate(Profile.model_fields)}
    return tuple(
        sorted(_branches(learned.values, ()), key=lambda branch: order.get(branch.key[0], len(order)))
    )


def _branches(values: Sequence[Value], above: Key) -> Iterator[Branch]:
    """The keys right below `above`, in the order in which they first come up."""
    depth = len(above)
    for name in dict.fromkeys(value.key[depth] for value in values):
        key = (*above, name)
        inside = [value for value in values if value.key[: depth + 1] == key]
        own = next((value for value in inside if value.key == key), None)
        under = tuple(_branches([value for value in inside if value.key != key], key))
        branch = Branch(key, own, under)
        yield _with_names(branch) if branch.is_set else branch


def _with_names(branch: Branch) -> Branch:
    """The names under it as its value. A codec has its key also where nothing of it is limited."""
    named = branch.value.value if branch.value and isinstance(branch.value.value, tuple) else ()
    there = {below.key[-1]: below for below in branch.under}
    names = tuple(dict.fromkeys([*map(str, named), *there]))
    under = tuple(there.get(name, Branch((*branch.key, name), None, ())) for name in names)
    if branch.key == RULES:
        names = tuple(name for name in names if there[name].is_limit)
    evidence = branch.value.evidence if branch.value else _of_names(branch)
    value = Value(branch.key, names, evidence, branch.is_limit)
    return Branch(branch.key, value if branch.value or value.is_limit else None, under)


def _of_names(branch: Branch) -> str:
    if branch.key == RULES:
        return NOT_KEPT
    seen = [f"{below.key[-1]} {below.value.evidence}" for below in branch.under if below.value]
    return "; ".join(seen) or "what was seen on the cards"


def branch_lines(branch: Branch, indent: str, is_codec: bool = False) -> list[str]:
    """The lines of one key with all that is under it. A codec is a key of its own even without limits."""
    if not (branch.is_limit or is_codec):
        return [f"{indent}# {line}" for line in _remark(branch)]
    name, value, deeper = flow(branch.key[-1]), branch.value, indent + STEP
    if value and not (is_codec or branch.is_set):
        return [*comment(value.value, value.evidence, indent), f"{indent}{name}: {flow(value.value)}"]
    head = comment(value.value, value.evidence, indent) if value and branch.is_set else []
    below = [line for part in branch.under for line in branch_lines(part, deeper, branch.is_codecs)]
    holds = any(part.is_limit for part in branch.under) or branch.is_codecs
    return [*head, f"{indent}{name}:{'' if holds else ' {}'}", *below]


def _remark(branch: Branch) -> list[str]:
    """A key that is no limit as it would stand there: the lines of a comment, without its mark."""
    name, value = flow(branch.key[-1]), branch.value
    if branch.under:
        why = f"  # {one_line(value.evidence)}" if value else ""
        return [f"{name}:{why}", *(STEP + line for part in branch.under for line in _remark(part))]
    if value is None or branch.is_codecs:
        return [f"{name}: {{}}"]
    shown = "{}" if branch.key[-2:-1] == ("codecs",) else flow(value.value)
    return [f"{name}: {shown}  # {one_line(value.evidence)}"]


def comment(value: Plain, evidence: str, indent: str) -> list[str]:
    """The lines above a value that was learned."""
    head, said = f"{indent}{LEARNED}{flow(value)}:", one_line(evidence)
    if len(whole := f"{head} {said}".rstrip()) <= WIDTH:
        return [whole]
    return [head, *_wrapped(said, f"{indent}{MORE}")]


def _wrapped(text: str, before: str) -> list[str]:
    return textwrap.wrap(
        text, WIDTH, initial_indent=before, subsequent_indent=before, break_long_words=False,
        break_on_hyphens=False,
    )  # fmt: skip


def _notes(notes: str) -> list[str]:
    """As folded text: paragraphs stay apart, and lines are as long as people like to read."""
    paragraphs = [one_line(part) for part in notes.splitlines() if part.strip()]
    if "data sheet" not in notes:
        paragraphs.append(SHEET_DECIDES)
    lines = ["notes: >-"]
    for number, paragraph in enumerate(paragraphs):
        lines += [*([""] if number else []), *_wrapped(paragraph, STEP)]
    return lines
