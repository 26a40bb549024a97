"""The text of a profile with its changes, edited in place: whatever is not changed stays to the last space.

It must not decide what changes.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from mediacheck.learn.document import RULES, Branch, branch_lines, comment
from mediacheck.learn.model import Key, Plain
from mediacheck.learn.plain import flow, one_line
from mediacheck.learn.standing import Text

NO_LONGER = "no limit any more, since no one value covers both"


@dataclass(frozen=True, slots=True)
class Change:
    """What becomes of one value: under which name, with which value (None: no limit), and why."""

    name: str
    value: Plain | None
    evidence: str


class _Edit(NamedTuple):
    """Text to stand in place of a part of the text. Of two in one place the lower `order` comes first."""

    start: int
    end: int
    order: int
    instead: str


def edited(
    there: Text, changes: Mapping[Key, Change], added: Mapping[Key, Sequence[Branch]], cards: Sequence[str]
) -> str:
    """The text with all changes; `added` are new keys by the block that they are added to.

    Only values with a comment about what was learned may change. `cards` are those that changed them.
    """
    editor = _Editor(
        there, "\r\n" if "\r\n" in there.text else "\n", f" ({', '.join(cards)})" if cards else ""
    )
    edits = [edit for key, change in changes.items() for edit in editor.change(key, change)]
    edits += [editor.insertion(key, branches) for key, branches in added.items()]
    gone = {key for key, change in changes.items() if change.value is None}
    edits += editor.emptied(gone, set(added))
    text = there.text
    for edit in sorted(edits, reverse=True):
        text = text[: edit.start] + edit.instead + text[edit.end :]
    return text


@dataclass(frozen=True, slots=True)
class _Editor:
    """Finds where in the text a change has to be made."""

    there: Text
    line_end: str
    cards: str

    def change(self, key: Key, now: Change) -> Iterator[_Edit]:
        """The comment, the value where it is not made of keys, and the name where it is another now."""
        old = self.there.values[key]
        assert old.remark is not None, "what a person wrote is never changed"
        before = f"{flow(old.value)} before"
        if key != RULES or old.remark.evidence != now.evidence:
            before = f"{before} ({old.remark.evidence})"
        evidence = f"{before}; {now.evidence}{self.cards}"
        if now.value is None:
            lines = [f"{old.indent}# {one_line(f'{NO_LONGER}: {evidence}')}"]
            yield _Edit(old.name[0], old.name[0], 0, "# ")
        else:
            lines = comment(now.value, evidence, old.indent)
            if key != RULES and key[1:] != ("codecs",):
                yield _Edit(*old.held, 0, flow(now.value))
            if now.name != key[-1]:
                yield _Edit(*old.name, 0, now.name)
        yield _Edit(*old.remark.span, 0, self.line_end.join(lines))

    def insertion(self, key: Key, branches: Sequence[Branch]) -> _Edit:
        """New keys at the end of their block, those of the whole file after an empty line."""
        block = self.there.blocks[key]
        is_codec = key[1:] == ("codecs",)
        lines = [line for branch in branches for line in branch_lines(branch, block.indent, is_codec)]
        lines = lines if key else ["", *lines]
        text = "".join(f"{self.line_end}{line}" for line in lines)
        return _Edit(block.end, block.end, -len(block.indent), text)

    def emptied(self, gone: set[Key], added: set[Key]) -> Iterator[_Edit]:
        """Sections of which no key is left still need a value."""
        for key, block in self.there.blocks.items():
            if key and key not in added and all((*key, name) in gone for name in block.names):
                yield _Edit(block.colon, block.colon, 0, " {}")
