"""A profile that is there already: where each of its values stands in the text, and which were learned.

It must not change the text: it hands out places.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import yaml

from mediacheck.learn.document import LEARNED, MORE, RULES
from mediacheck.learn.model import Key, Plain
from mediacheck.learn.plain import flow
from mediacheck.strict_yaml import parse_mapping

_LINE = re.compile(r"([^\r\n\x85\u2028\u2029]*)(\r\n|[\r\n\x85\u2028\u2029]|\Z)")
"""What PyYAML counts as a line, so that its line numbers fit."""
_TOLD_NAMES = re.compile(re.escape(LEARNED) + r"\[([a-z, -]*)\]:")
"""Names of rules need no quotes."""
Span = tuple[int, int]
"""Where something stands in the text: its first character, and the one behind its last."""


@dataclass(frozen=True, slots=True)
class Remark:
    """The comment of a value that was learned: whole lines, without the last line end."""

    span: Span
    evidence: str


@dataclass(frozen=True, slots=True)
class Standing:
    """One key with its value. That of `codecs` is the names of the codecs.

    That of `rules` is the names that its comment tells: those that were ever learned.
    """

    key: Key
    value: Plain
    remark: Remark | None
    """None: a person wrote this value, or changed it since it was learned."""
    name: Span
    held: Span
    """Of the value."""
    indent: str


@dataclass(frozen=True, slots=True)
class Block:
    """A set of keys, one to a line."""

    key: Key
    colon: int
    """Behind the colon of its own key; meaningless for the whole file."""
    end: int
    """Behind its last line, remarks that belong to it included."""
    indent: str
    """Before each of its keys."""
    names: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Text:
    """The text with all that stands in it."""

    text: str
    values: Mapping[Key, Standing]
    blocks: Mapping[Key, Block]
    """Those that have keys, each on a line of its own."""
    keys: frozenset[Key]
    """Every key, whatever it holds."""


def standing(text: str) -> Text:
    """Find everything in the text of a profile. Raises InvalidFile where it is none.

    The text has no mark of its encoding (U+FEFF) at its start.
    """
    data = parse_mapping(text.encode(), "the profile").data
    root = yaml.compose(text, yaml.SafeLoader)
    assert isinstance(root, yaml.MappingNode), "parse_mapping accepts nothing else"
    finder = _Finder(text, [match.span(1) for match in _LINE.finditer(text)], {}, {}, set())
    finder.look(root, data, (), 0, True)
    return Text(text, finder.values, finder.blocks, frozenset(finder.keys))


@dataclass(frozen=True, slots=True)
class _Finder:
    """Walks the nodes and collects what it finds."""

    text: str
    lines: list[Span]
    values: dict[Key, Standing]
    blocks: dict[Key, Block]
    keys: set[Key]

    def look(
        self, node: yaml.MappingNode, data: Mapping[str, Plain], key: Key, colon: int, tidy: bool
    ) -> None:
        """Look at a set of keys. `tidy`: all that are around it have a line for each key."""
        tidy = tidy and not node.flow_style
        for name, held in node.value:
            inside = (*key, str(name.value))
            self.keys.add(inside)
            value = data[name.value]
            if isinstance(held, yaml.MappingNode) and isinstance(value, Mapping):
                if inside[1:] == ("codecs",) or inside == RULES:
                    names = self._told(name) if inside == RULES else tuple(value)
                    self.values[inside] = self._standing(inside, names, name, held, tidy)
                self.look(held, value, inside, self._colon(name), tidy)
            else:
                self.values[inside] = self._standing(inside, value, name, held, tidy)
        if tidy and node.value:
            self.blocks[key] = self._block(node, key, colon)

    def _told(self, name: yaml.Node) -> tuple[str, ...]:
        """The names in the comment right above a key."""
        line = name.start_mark.line
        while line and self._line(line - 1).startswith("#"):
            line -= 1
            if told := _TOLD_NAMES.match(self._line(line)):
                return tuple(filter(None, told[1].split(", ")))
        return ()

    def _colon(self, name: yaml.Node) -> int:
        return self.text.index(":", name.end_mark.index) + 1

    def _standing(self, key: Key, value: Plain, name: yaml.Node, held: yaml.Node, tidy: bool) -> Standing:
        indent = self.text[self.lines[name.start_mark.line][0] : name.start_mark.index]
        is_block = isinstance(held, yaml.MappingNode) and not held.flow_style
        one_line = held.start_mark.line == held.end_mark.line == name.start_mark.line
        mine = tidy and not indent.strip() and (is_block or (one_line and _is_plain(value)))
        remark = self._remark(name.start_mark.line, indent, value) if mine else None
        span = (held.start_mark.index, held.end_mark.index)
        return Standing(key, value, remark, (name.start_mark.index, name.end_mark.index), span, indent)

    def _remark(self, line: int, indent: str, value: Plain) -> Remark | None:
        """The nearest comment about something learned in the lines right above, if it tells this value."""
        first = last = line
        while first and self._line(first - 1).lstrip().startswith("#"):
            first -= 1
            if self._line(first).startswith(indent + LEARNED):
                break
        head = f"{indent}{LEARNED}{flow(value)}:"
        told = self._line(first)
        if not (told == head or told.startswith(f"{head} ")):
            return None
        last = first
        while self._line(last + 1).startswith(indent + MORE):
            last += 1
        parts = [
            told[len(head) :],
            *(self._line(n)[len(indent + MORE) :] for n in range(first + 1, last + 1)),
        ]
        return Remark(
            (self.lines[first][0], self.lines[last][1]), " ".join(part.strip() for part in parts).strip()
        )

    def _line(self, number: int) -> str:
        start, end = self.lines[number]
        return self.text[start:end]

    def _block(self, node: yaml.MappingNode, key: Key, colon: int) -> Block:
        first: yaml.Node = node.value[0][0]
        indent = self.text[self.lines[first.start_mark.line][0] : first.start_mark.index]
        last = max(_last_lines(node))
        for number in range(last + 1, len(self.lines)):
            line = self._line(number)
            if not (_belongs(line, indent) or (key == () and _is_remark(line))):
                break
            last = number if line.strip() else last
        return Block(
            key, colon, self.lines[last][1], indent, tuple(str(name.value) for name, _ in node.value)
        )


def _belongs(line: str, indent: str) -> bool:
    """Whether a line is a comment that stands further in than the keys."""
    return line.lstrip().startswith("#") and line.startswith(f"{indent} ")


def _is_remark(line: str) -> bool:
    return not line.strip() or line.lstrip().startswith("#")


def _is_plain(value: object) -> bool:
    """Whether a value may have been learned: no keys in it."""
    if isinstance(value, tuple):
        return all(map(_is_plain, value))
    return isinstance(value, str | int | float)


def _last_lines(node: yaml.Node) -> Iterator[int]:
    """Lines in which something of a node stands; the mark at the end of a block is already too far down."""
    if isinstance(node, yaml.MappingNode) and not node.flow_style:
        for name, held in node.value:
            yield name.start_mark.line
            yield from _last_lines(held)
    elif isinstance(node, yaml.SequenceNode) and not node.flow_style:
        for held in node.value:
            yield from _last_lines(held)
    elif isinstance(node, yaml.ScalarNode) and node.style in ("|", ">"):
        end = node.end_mark
        yield end.line if end.column else end.line - 1  # it ends where the next key begins
    else:
        yield node.end_mark.line
