"""For which store and face a document is: by what was said on the command line, by the report, by its name.

It must not guess: what is not certain is asked for.
"""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass
from pathlib import PurePosixPath

from mediacheck.errors import WrongUse
from mediacheck.face_names import folded
from mediacheck.stores.model import Place, Plan, PlannedDisplay, Said, Store
from mediacheck.stores.reading import NotTaken

FIELDS = ("store", "display", "face")
WORDS_MAX = 6
"""Of a store number, such as N 12-0117."""


@dataclass(frozen=True, slots=True)
class Given:
    """What was said on the command line, for all files at once."""

    store: str | None = None
    display: str | None = None
    face: str | None = None
    pattern: str | None = None
    """Of file names, such as "{store}_{face}_*"."""


@dataclass(frozen=True, slots=True)
class _Named:
    """What a file's name tells; the rest of its words may name a face."""

    store: str | None = None
    display: str | None = None
    face: str | None = None
    words: tuple[str, ...] = ()


class Placing:
    """Finds places in one plan."""

    def __init__(self, plan: Plan, given: Given) -> None:
        self._given = given
        self._stores: dict[tuple[str, ...], list[Store]] = {}
        for store in plan.stores:
            self._stores.setdefault(_words(store.number), []).append(store)
        self._displays = {display.id: display for display in plan.displays}
        self._pattern = _compiled(given.pattern) if given.pattern else None
        if given.store is not None and _words(given.store) not in self._stores:
            raise WrongUse(f'The plan has no store "{given.store[:60]}".')
        if given.display is not None and given.display not in self._displays:
            raise WrongUse(f'The plan has no display "{given.display[:60]}".')

    def place(self, shown: str, said: Said) -> Place:
        """The face in the store that a document is for; `shown` is its path. NotTaken."""
        named = self._by_pattern(shown) if self._pattern else self._by_name(shown)
        store = self._store(named)
        told = self._given.display or said.display or named.display
        display = self._display(store, told or self._by_face(store, said, named))
        return Place(store.number, display.id, self._face(display, said, named))

    def _store(self, named: _Named) -> Store:
        number = self._given.store or named.store
        if number is None:
            raise NotTaken("which store it is for is not known: let its name begin with the store's number")
        alike = self._stores.get(_words(number), [])
        if not alike:
            raise NotTaken(f'the plan has no store "{number[:60]}"')
        if len(alike) > 1 and (self._given.store or self._pattern):
            alike = [store for store in alike if store.number == number] or alike
        if len(alike) != 1:
            names = " and ".join(f'"{store.number[:60]}"' for store in alike[:2])
            raise NotTaken(f"a name does not tell the stores {names} apart: say with --store which one it is")
        return alike[0]

    def _by_face(self, store: Store, said: Said, named: _Named) -> str | None:
        """The one display in the store that has the face which is named; None: none, or several."""
        found = []
        for display in (self._displays[id_] for id_ in store.displays if id_ in self._displays):
            face = self._given.face or said.face or named.face
            key = self._called(display, face) if face else self._face_in(display, named.words)
            found += [display.id] if key is not None and display.face(key) is not None else []
        return found[0] if len(found) == 1 else None

    def _display(self, store: Store, name: str | None) -> PlannedDisplay:
        if name is None:
            if len(store.displays) != 1:
                many = f"{len(store.displays)} displays stand" if store.displays else "no display stands"
                raise NotTaken(f"which display it is for is not known: {many} in store {store.number}")
            name = store.displays[0]
        if name not in store.displays or name not in self._displays:
            raise NotTaken(f'by the plan, no display "{name[:60]}" stands in store {store.number}')
        return self._displays[name]

    def _face(self, display: PlannedDisplay, said: Said, named: _Named) -> str:
        in_name = self._called(display, named.face) if named.face else self._face_in(display, named.words)
        if self._given.face is not None:
            chosen = folded(self._given.face)
        elif said.face is not None and in_name is not None and folded(said.face) != in_name:
            raise NotTaken(f'it says "{said.face[:60]}", and its name says another face')
        elif said.face is not None:
            chosen = folded(said.face)
        elif in_name is not None:
            chosen = in_name
        elif len(display.faces) == 1:
            chosen = display.faces[0].key
        else:
            raise NotTaken("which face it is for is not known: put the face's name into the file's name")
        if display.face(chosen) is None:
            raise NotTaken(f'the display {display.id} has no face "{chosen[:60]}"')
        return chosen

    @staticmethod
    def _called(display: PlannedDisplay, name: str) -> str:
        """The face of this name, whatever stands between its words."""
        same = (face.key for face in display.faces if _words(face.name) == _words(name))
        return next(same, folded(name))

    @staticmethod
    def _face_in(display: PlannedDisplay, words: tuple[str, ...]) -> str | None:
        """The one face whose name stands there; where one name holds another, the longer one counts."""
        text = _spaced(words)
        found = {face.key: _spaced(_words(face.name)) for face in display.faces}
        found = {key: name for key, name in found.items() if name in text}
        longest = [
            key
            for key, name in found.items()
            if not any(name != one and name in one for one in found.values())
        ]
        return longest[0] if len(longest) == 1 else None

    def _by_name(self, shown: str) -> _Named:
        """The number of the store stands first in the file's name, or in that of a folder above it."""
        parts = PurePosixPath(shown.replace("\\", "/")).parts
        words: list[str] = []
        for part in reversed(parts):
            in_part = _words(re.sub(r"\.(?:json|zip|jpe?g|png|pdf)$", "", part, flags=re.IGNORECASE))
            length = self._number_at_start(in_part)
            if length:
                rest = in_part[length:]
                return _Named(self._stores[in_part[:length]][0].number, words=(*rest, *words))
            words = [*in_part, *words]
        return _Named(words=tuple(words))

    def _number_at_start(self, words: tuple[str, ...]) -> int:
        for length in range(min(WORDS_MAX, len(words)), 0, -1):
            if words[:length] in self._stores:
                return length
        return 0

    def _by_pattern(self, shown: str) -> _Named:
        assert self._pattern is not None
        name = PurePosixPath(shown.replace("\\", "/")).name
        found = self._pattern.fullmatch(name.rpartition(".")[0]) or self._pattern.fullmatch(name)
        if found is None:
            raise NotTaken(f"its name does not have the form {self._given.pattern}")
        told = found.groupdict()
        return _Named(told.get("store"), told.get("display"), told.get("face"))


def _words(text: str) -> tuple[str, ...]:
    """Composed: computers of one make write the accents of a name apart from its letters."""
    return tuple(re.findall(r"[^\W_]+", unicodedata.normalize("NFC", text).casefold()))


def _spaced(words: tuple[str, ...]) -> str:
    """With a blank before and after each word, so that no word is found inside another."""
    return f" {' '.join(words)} "


def _compiled(pattern: str) -> re.Pattern[str]:
    """`{store}`, `{display}` and `{face}` stand for themselves, `*` for anything. WrongUse."""
    pieces = re.split(r"(\{[^{}]*\}|\*)", pattern)
    names = [piece[1:-1] for piece in pieces if piece.startswith("{")]
    wrong = next((name for name in names if name not in FIELDS), None)
    if wrong is not None:
        raise WrongUse(f"A pattern knows {{store}}, {{display}} and {{face}}, and not {{{wrong[:40]}}}.")
    if len(set(names)) < len(names):
        raise WrongUse("A pattern names each of {store}, {display} and {face} once at most.")
    parts = (
        ".*" if piece == "*" else f"(?P<{piece[1:-1]}>.+?)" if piece.startswith("{") else re.escape(piece)
        for piece in pieces
    )
    return re.compile("".join(parts), re.IGNORECASE)
