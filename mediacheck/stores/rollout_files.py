"""Rollouts read from YAML and tables of stores (CSV), with the files that they name, and a rollout's schema.

It must not write to the ledger.

    python -m mediacheck.stores.rollout_files > docs/rollout.schema.json
"""

from __future__ import annotations

import csv
import io
import json
import sys
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import Any, TypeVar

from pydantic import ValidationError
from pydantic.json_schema import GenerateJsonSchema

from mediacheck.display_files import LoadedFace, load_display
from mediacheck.errors import DisplayError, ManifestError, RolloutError
from mediacheck.face_names import folded, the_face
from mediacheck.loop_content import SHOWN, content_key
from mediacheck.manifest.model import Manifest
from mediacheck.manifest.record import read_manifest
from mediacheck.profile_files import Untitled, with_id
from mediacheck.stores.model import Plan, PlannedDisplay, PlannedFace, PlannedLoop, Store
from mediacheck.stores.pictures import picture_of
from mediacheck.stores.rollout import DueLoop, Rollout, RolloutDisplay, RolloutStore
from mediacheck.strict_yaml import Document, InvalidFile, Place, Problem, dotted, read_mapping
from mediacheck.validated import validated

T = TypeVar("T")
TABLE_MAX_BYTES = 64_000_000
COLUMNS = ("number", "name", "region", "place", "time_zone", "due", "displays")
"""Of a table of stores; the first must be there."""
SEPARATORS = (",", ";", "\t")
"""Between cells: a comma by RFC 4180; spreadsheets write what the country's numbers leave free."""
SHOWN_PROBLEMS = 20


def read_plan(paths: Sequence[Path]) -> Plan:
    """Everything that these files plan, later ones over earlier ones. RolloutError, with every problem."""
    plans = [_table(path) if path.suffix.casefold() == ".csv" else _rollout(path) for path in paths]
    displays = {display.id: display for plan in plans for display in plan.displays}
    stores = {store.number: store for plan in plans for store in plan.stores}
    pictures = {key: jpeg for plan in plans for key, jpeg in plan.pictures.items()}
    return Plan(tuple(displays.values()), tuple(stores.values()), pictures)


def _rollout(path: Path) -> Plan:
    try:
        document = with_id(read_mapping(path), "rollout")
        rollout = validated(document, Rollout)
        reading = _Reading(document, Path(document.source).parent)
        displays = [reading.display(one, ("displays", n)) for n, one in enumerate(rollout.displays)]
        reading.each_once("displays", "id", [one.id if one else "" for one in displays])
        reading.each_once("stores", "number", [store.number for store in rollout.stores])
        if reading.problems:
            raise InvalidFile(tuple(reading.problems))
    except InvalidFile as error:
        raise RolloutError(str(error)) from error
    return Plan(tuple(filter(None, displays)), tuple(map(_store, rollout.stores)), dict(reading.pictures))


def _store(store: RolloutStore) -> Store:
    return Store(
        store.number, store.name, store.region, store.place, store.time_zone, store.due, store.displays
    )


@dataclass(frozen=True, slots=True)
class _Reading:
    """Reads what a rollout names, and collects what is wrong with it."""

    document: Document
    folder: Path
    problems: list[Problem] = field(default_factory=list)
    pictures: dict[str, bytes] = field(default_factory=dict)

    def display(self, display: RolloutDisplay, place: Place) -> PlannedDisplay | None:
        if display.file is None:
            faces = tuple(
                PlannedFace(
                    face.name,
                    face.profile,
                    tuple(
                        self._loop(loop, (*place, "faces", number, "loops", at))
                        for at, loop in enumerate(face.loops)
                    ),
                )
                for number, face in enumerate(display.faces)
            )
            return PlannedDisplay(display.id, display.title, faces)
        loaded = self._read(lambda: load_display(self.folder / str(display.file)), "display file", place)
        if loaded is None:
            return None
        faces = tuple(_face_of_file(face, display.starts, display.confirm_by) for face in loaded.faces)
        for face in faces:
            self._each_version_once(face, (*place, "file"))
        return PlannedDisplay(display.id or loaded.display.id, display.title or loaded.display.title, faces)

    def _each_version_once(self, face: PlannedFace, place: Place) -> None:
        """Of two that are called alike, one would be lost."""
        names = [folded(loop.version) for loop in face.loops]
        twice = next((name for name in names if names.count(name) > 1), None)
        if twice is not None:
            expected = f"a display file that calls each version of {the_face(face.name)} by a name of its own"
            self._problem(place, expected, f'more than one "{twice[:60]}"')

    def _loop(self, loop: DueLoop, place: Place) -> PlannedLoop:
        content = content_key(loop.sha256)
        if loop.manifest is not None:
            named = self.folder / loop.manifest
            manifest = self._read(lambda: read_manifest(named), "manifest", (*place, "manifest"))
            content = _content_of(manifest) if manifest else None
        picture = None
        if loop.picture is not None:
            shown = self.folder / loop.picture
            jpeg = self._read(lambda: picture_of(shown), "picture", (*place, "picture"))
            picture = self._kept(jpeg) if jpeg else None
        return PlannedLoop(loop.version, loop.starts, loop.confirm_by, content, picture)

    def _kept(self, jpeg: tuple[str, bytes]) -> str:
        key, content = jpeg
        self.pictures[key] = content
        return key

    def _read(self, read: Callable[[], T], what: str, place: Place) -> T | None:
        try:
            return read()
        except (DisplayError, ManifestError, RolloutError) as error:
            first = str(error).splitlines()[0].rstrip(".")
            self._problem(place, f"a {what} that can be used", f"none: {first}")
        return None

    def each_once(self, list_: str, key: str, names: Sequence[str]) -> None:
        """Complain about names that stand there more than once. Empty: not known."""
        seen: set[str] = set()
        for number, name in enumerate(names):
            if name and name in seen:
                self._problem((list_, number, key), "each once", f'another "{name[:60]}"')
            seen.add(name)

    def _problem(self, place: Place, expected: str, found: str) -> None:
        line = self.document.lines.get(place)
        self.problems.append(Problem(self.document.source, line, dotted(place), expected, found))


def _face_of_file(face: LoadedFace, starts: date | None, confirm_by: date | None) -> PlannedFace:
    """Of a display file, whose loop belongs there from this day on; earlier ones have no date."""
    loop = face.face.loop
    digests = [item.sha256 for item in loop.items]
    by_items = content_key(filter(None, digests)) if all(digests) else None
    content = _content_of(face.manifest) if face.manifest else by_items
    version = loop.version or loop.title or "present"
    present = PlannedLoop(version, starts, confirm_by, content)
    pairs = zip(loop.earlier, face.earlier, strict=True)
    earlier = tuple(PlannedLoop(named.name, content=_content_of(manifest)) for named, manifest in pairs)
    return PlannedFace(face.name, face.profile.profile.id, (*earlier, present))


def _content_of(manifest: Manifest) -> str | None:
    return content_key(file.sha256 for file in manifest.files if file.kind in SHOWN)


def _table(path: Path) -> Plan:
    """Stores from a table with headings (RFC 4180); displays are separated by blanks or semicolons."""
    problems: list[Problem] = []
    stores: dict[str, Store] = {}
    for line, store in _rows_of(path, problems):
        if store.number in stores:
            problems.append(
                Problem(str(path), line, "number", "each store once", f'another "{store.number}"')
            )
        stores[store.number] = store
    if problems:
        more = len(problems) - SHOWN_PROBLEMS
        lines = [str(problem) for problem in problems[:SHOWN_PROBLEMS]]
        raise RolloutError("\n".join([*lines, *([f"... and {more} more problems."] if more > 0 else [])]))
    return Plan(stores=tuple(stores.values()))


def _rows_of(path: Path, problems: list[Problem]) -> Iterator[tuple[int, Store]]:
    """Each store with its line, from 1."""
    text = _text(path)
    table = csv.reader(io.StringIO(text, newline=""), delimiter=_separator(text), strict=True)
    try:
        headings = [heading.strip().casefold() for heading in next(table, [])]
        _demand_headings(path, headings)
        for cells in table:
            store = _row(path, headings, cells, table.line_num, problems) if any(cells) else None
            if store is not None:
                yield table.line_num, store
    except csv.Error as error:
        problems.append(Problem(str(path), table.line_num, "", "a table (CSV)", f"something else: {error}"))


def _separator(text: str) -> str:
    """What stands between the headings, none of which holds any of these."""
    headings = text.partition("\n")[0]
    return max(SEPARATORS, key=headings.count)


def _text(path: Path) -> str:
    try:
        if path.stat().st_size > TABLE_MAX_BYTES:
            raise RolloutError(f"{path} is larger than any table of stores.")
        return path.read_text("utf-8-sig")
    except OSError as error:
        raise RolloutError(f"{path} cannot be read: {error.strerror or error}.") from error
    except UnicodeDecodeError:
        raise RolloutError(f"{path} is not UTF-8 text: save the table as CSV UTF-8.") from None


def _demand_headings(path: Path, headings: Sequence[str]) -> None:
    """Spreadsheets write columns without a heading where something once stood: those have to be empty."""
    headings = list(filter(None, headings))
    unknown = [heading for heading in headings if heading not in COLUMNS]
    if "number" not in headings:
        columns = ", ".join(COLUMNS)
        raise RolloutError(
            f"{path} has no column named number: its first line names columns out of {columns}."
        )
    if unknown:
        raise RolloutError(f'{path} has a column that is not known here: "{unknown[0][:60]}".')
    if len(set(headings)) < len(headings):
        raise RolloutError(f"{path} has a column that stands there twice.")


def _row(
    path: Path, headings: Sequence[str], cells: Sequence[str], line: int, problems: list[Problem]
) -> Store | None:
    if len(cells) != len(headings):
        found = f"{len(cells)} cells"
        problems.append(Problem(str(path), line, "", f"{len(headings)} cells, as there are headings", found))
        return None
    given: dict[str, Any] = {k: cell.strip() for k, cell in zip(headings, cells, strict=True) if cell.strip()}
    if "" in given:
        found = f'"{given[""][:60]}" below none'
        problems.append(Problem(str(path), line, "", "a heading above every cell with words", found))
        return None
    if "displays" in given:
        given["displays"] = tuple(given["displays"].replace(";", " ").split())
    try:
        return _store(RolloutStore.model_validate(given))
    except ValidationError as error:
        problems += _cell_problems(path, line, error)
        return None


def _cell_problems(path: Path, line: int, error: ValidationError) -> Iterator[Problem]:
    for detail in error.errors():
        key = str(detail["loc"][0]) if detail["loc"] else ""
        expected = str(detail.get("ctx", {}).get("error", "")) or "a value that is possible here"
        if detail["type"] == "missing":
            yield Problem(str(path), line, key, "a value", "nothing")
        else:
            yield Problem(str(path), line, key, expected, f'"{str(detail["input"])[:60]}"')


def rollout_schema() -> dict[str, Any]:
    """The JSON Schema of a rollout (draft 2020-12), with what each key means."""
    schema = Rollout.model_json_schema(schema_generator=Untitled)
    head = {"$schema": GenerateJsonSchema.schema_dialect, "title": "mediacheck rollout"}
    return {**head, **{key: value for key, value in schema.items() if key != "title"}}


if __name__ == "__main__":
    sys.stdout.write(json.dumps(rollout_schema(), indent=2) + "\n")
