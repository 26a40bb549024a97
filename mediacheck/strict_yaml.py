"""YAML that people write, read into plain values that remember their lines.

It must not know what the keys mean: whether a value is right is for `validated` and the models.

Three differences from common YAML readers, each because of a trap that people step into:
only `true` and `false` are yes-or-no values, so that `off`, `no` and `16:9` stay the words they are;
a key that stands twice is refused, since one of the two would be lost in silence; and there are no
references (`&`, `*`) and no tags (`!`), since a small file could then unfold to a huge one.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Hashable, Mapping
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType
from typing import Any

import yaml

from mediacheck.errors import ProfileError

SIZE_MAX_BYTES = 1_000_000
DEPTH_MAX = 20
VALUES_MAX = 20_000

Place = tuple[str | int, ...]
"""Where a value stands: the keys that lead to it, and in lists its number from 0. () is the whole file."""


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing that is wrong with a file. `key` is dotted and empty where the whole file is meant."""

    file: str
    line: int | None
    """From 1; None where no line can be named."""
    key: str
    expected: str
    found: str
    nearest: str | None = None
    """The known key or word that was probably meant."""

    def __str__(self) -> str:
        line = "" if self.line is None else f", line {self.line}"
        key = f"{self.key}: " if self.key else ""
        hint = f"; did you mean {self.nearest}?" if self.nearest else "."
        text = f"{self.file}{line}: {key}expected {self.expected}, found {self.found}{hint}"
        return "".join(c if c.isprintable() else c.encode("unicode_escape").decode() for c in text)


class InvalidFile(ProfileError):
    """A file that cannot be used; its text has one line for each problem."""

    def __init__(self, problems: tuple[Problem, ...]) -> None:
        super().__init__(problems)
        self.problems = problems

    def __str__(self) -> str:
        return "\n".join(str(problem) for problem in self.problems)


@dataclass(frozen=True, slots=True)
class Document:
    """What stands in a file. Lists are tuples; `lines` has the line of every key and list entry, from 1."""

    source: str
    sha256: str
    """Of the file's bytes."""
    data: Mapping[str, Any]
    lines: Mapping[Place, int]
    texts: Mapping[Place, str]
    """Numbers and true/false as they were typed, where a model wants text: `4.10` is not `4.1` there."""


def read_mapping(path: str | Path) -> Document:
    """Read a YAML file whose top is a set of keys. Raises InvalidFile."""
    source = str(path)
    raw = _bytes_of(Path(path), source)
    return parse_mapping(raw, source)


def parse_mapping(raw: bytes, source: str) -> Document:
    """The same for bytes that were read before; `source` is the name used in messages."""
    root = _compose(_text_of(raw, source), source)
    unfolded = _Unfolded(source, {(): _line(root.start_mark) or 1 if root else 1}, {}, [])
    data = unfolded.value(root, ())
    if unfolded.problems:
        raise InvalidFile(tuple(unfolded.problems))
    if not isinstance(data, dict):
        raise _refused(source, unfolded.lines[()], "keys with values, such as `id: my-player`", _kind(root))
    lines, texts = MappingProxyType(unfolded.lines), MappingProxyType(unfolded.texts)
    return Document(source, hashlib.sha256(raw).hexdigest(), MappingProxyType(data), lines, texts)


def _refused(source: str, line: int | None, expected: str, found: str) -> InvalidFile:
    return InvalidFile((Problem(source, line, "", expected, found),))


def _bytes_of(path: Path, source: str) -> bytes:
    try:
        if path.is_dir():
            raise _refused(source, None, "a file", "a folder")
        if not path.is_file():
            raise _refused(source, None, "a file", "no file of this name")
        with path.open("rb") as file:
            raw = file.read(SIZE_MAX_BYTES + 1)
    except OSError as error:
        raise _refused(source, None, "a file that can be read", str(error.strerror or error)) from error
    if len(raw) > SIZE_MAX_BYTES:
        raise _refused(source, None, "at most 1 MB of text", "a larger file")
    return raw


def _text_of(raw: bytes, source: str) -> str:
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        raise _refused(source, line, "text saved as UTF-8", "bytes that are not UTF-8") from error


class _NotPlain(yaml.MarkedYAMLError):
    """YAML, but of a kind that these files do without."""

    def __init__(self, event: Any, found: str) -> None:
        super().__init__(problem=found, problem_mark=event.start_mark)


class _Loader(yaml.SafeLoader):
    """PyYAML's reader with the word lists above, and without references and tags."""

    yaml_implicit_resolvers: dict[str, Any] = {}  # noqa: RUF012 (PyYAML's own way to replace the list)
    depth = 0
    values = 0

    def compose_node(self, parent: yaml.Node | None, index: Any) -> yaml.Node | None:
        """Compose one value. Raises _NotPlain at a reference, a tag, or too many values."""
        event = self.peek_event()  # type: ignore[no-untyped-call]
        if isinstance(event, yaml.AliasEvent) or getattr(event, "anchor", None) is not None:
            raise _NotPlain(event, "a reference or anchor (a text that begins with * or & needs quotes)")
        if getattr(event, "tag", None) is not None:
            raise _NotPlain(event, "a tag (a text that begins with ! needs quotes)")
        if self.depth >= DEPTH_MAX:
            raise _NotPlain(event, f"values nested more than {DEPTH_MAX} deep")
        if self.values >= VALUES_MAX:
            raise _NotPlain(event, f"more than {VALUES_MAX:,} of them in the file")
        self.depth += 1
        self.values += 1
        node: yaml.Node | None = super().compose_node(parent, index)
        self.depth -= 1
        return node


_TRUE_OR_FALSE = re.compile(r"true|True|TRUE|false|False|FALSE")
_NOTHING = re.compile(r"~|null|Null|NULL|")
_WHOLE = re.compile(r"[-+]?(0|[1-9][0-9_]{0,17})")
_DECIMAL = re.compile(r"[-+]?([0-9][0-9_]*\.[0-9]*|\.[0-9]+)([eE][-+]?[0-9]+)?|[-+]?[0-9]+[eE][-+]?[0-9]+")
"""As in YAML 1.2's core schema, and with `20_000_000` for easier reading."""

for _kind_of_value, _pattern, _first in (
    ("bool", _TRUE_OR_FALSE, "tTfF"),
    ("null", _NOTHING, ["~", "n", "N", ""]),
    ("int", _WHOLE, "-+0123456789"),
    ("float", _DECIMAL, "-+.0123456789"),
):
    _Loader.add_implicit_resolver(
        f"tag:yaml.org,2002:{_kind_of_value}", re.compile(f"(?:{_pattern.pattern})\\Z"), list(_first)
    )


def _compose(text: str, source: str) -> yaml.Node | None:
    try:
        return _Loader(text).get_single_node()
    except _NotPlain as error:
        raise _refused(source, _line(error.problem_mark), "a plain value", str(error.problem)) from error
    except yaml.MarkedYAMLError as error:
        raise _plain_words(source, error) from error
    except yaml.reader.ReaderError as error:
        line = text.count("\n", 0, error.position) + 1
        character = f"a control character (U+{int(error.character):04X})"
        raise _refused(source, line, "text without control characters", character) from error


def _line(mark: yaml.Mark | None) -> int | None:
    return None if mark is None else mark.line + 1


_SYNTAX = (
    (
        "mapping values are not allowed",
        "quotes around a text with a colon, and all keys of a section in one column",
        "a colon too many",
    ),
    ("found character '\\t'", "spaces before a key", "a tab"),
    ("but found another document", "one document in the file", "a second one, after `---`"),
    ("cannot start any token", "quotes around a text that begins with %, @ or `", "none"),
    ("expected alphabetic or numeric", "quotes around a text that begins with * or &", "none"),
    ("unknown escape character", "single quotes around a text with a backslash", "double quotes"),
    ("but found '<scalar>'", "a quote only at both ends of a text", "one inside"),
    ("expected <block end>", "all keys of a section in one column", "one that stands further in or out"),
    ("expected '<document start>'", "keys with values and nothing else", "other text"),
)
_SYNTAX_FROM_START = (
    ("could not find expected ':'", "a colon and a space after the key", "none"),
    ("found unexpected end of stream", "a quote at the end of the text too", "none"),
    ("expected ',' or ']'", "a comma between entries and ] after the last", "something else"),
    ("expected ',' or '}'", "a comma between entries and } after the last", "something else"),
    ("found '<stream end>'", "a bracket that closes this one", "none"),
)
"""What PyYAML says, and what it means to the writer; the latter are found late, so the start is named."""


def _plain_words(source: str, error: yaml.MarkedYAMLError) -> InvalidFile:
    """What was expected, and what was found, for a text that is not YAML."""
    problem = error.problem or "something else"
    here, start = _line(error.problem_mark), _line(error.context_mark)
    for line, table in ((here, _SYNTAX), (start or here, _SYNTAX_FROM_START)):
        for said, expected, found in table:
            if said in problem:
                return _refused(source, line, expected, found)
    return _refused(source, here or start, "YAML", f"something else ({problem})")


def _kind(node: yaml.Node | None) -> str:
    if node is None or node.tag.endswith(":null"):
        return "nothing"
    if isinstance(node, yaml.ScalarNode):
        return f'"{str(node.value)[:60]}"'
    return "a list" if isinstance(node, yaml.SequenceNode) else "keys"


@dataclass(frozen=True, slots=True)
class _Unfolded:
    """Collects lines, typed texts and problems while the nodes become plain values."""

    source: str
    lines: dict[Place, int]
    texts: dict[Place, str]
    problems: list[Problem]

    def value(self, node: yaml.Node | None, place: Place) -> Any:
        """The plain value of a node: a dict, a tuple, text, a number, true, false or None."""
        if isinstance(node, yaml.MappingNode):
            return self._mapping(node, place)
        if isinstance(node, yaml.SequenceNode):
            for number, entry in enumerate(node.value):
                self.lines[*place, number] = entry.start_mark.line + 1
            return tuple(self.value(entry, (*place, number)) for number, entry in enumerate(node.value))
        return None if node is None else self._scalar(node, place)

    def _mapping(self, node: yaml.MappingNode, place: Place) -> dict[str, Any]:
        values: dict[str, Any] = {}
        for key_node, value_node in node.value:
            line = key_node.start_mark.line + 1
            if not isinstance(key_node, yaml.ScalarNode):
                self._problem(line, place, "a word as a key", _kind(key_node))
                continue
            inside = (*place, key_node.value)
            if key_node.value in values:
                both = f"it in line {self.lines[inside]} and in line {line}"
                self._problem(line, inside, "each key once", both)
                continue
            self.lines[inside] = line
            values[key_node.value] = self.value(value_node, inside)
        return values

    def _scalar(self, node: yaml.Node, place: Place) -> Hashable:
        kind, text = node.tag.rpartition(":")[2], str(node.value)
        if kind == "str":
            return text
        if kind == "null":
            return None
        self.texts[place] = text
        if kind == "bool":
            return text.lower() == "true"
        return int(text.replace("_", "")) if kind == "int" else float(text.replace("_", ""))

    def _problem(self, line: int, place: Place, expected: str, found: str) -> None:
        self.problems.append(Problem(self.source, line, dotted(place), expected, found))


def dotted(place: Place) -> str:
    """A place as people read it; entries of lists count from 1: `player.settings[2].value`."""
    words = (f"[{step + 1}]" if isinstance(step, int) else f".{step[:60]}" for step in place)
    return "".join(words).removeprefix(".")
