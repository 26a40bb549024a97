"""Display files: read and checked, with the profiles and manifests that they name, and their schema.

It must not judge values: what a display may hold is for the models, and what is on a card for the rules.

    python -m mediacheck.display_files > docs/display.schema.json
"""

from __future__ import annotations

import json
import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from difflib import get_close_matches
from pathlib import Path
from typing import Any, TypeVar

from pydantic.json_schema import GenerateJsonSchema

from mediacheck.display import Display, Face, FaceLoop
from mediacheck.errors import DisplayError, ManifestError, ProfileError
from mediacheck.face_names import folded
from mediacheck.manifest.model import Manifest
from mediacheck.manifest.record import read_manifest
from mediacheck.profile_files import LoadedProfile, Untitled, load_profile, with_id
from mediacheck.strict_yaml import Document, InvalidFile, Place, Problem, dotted, read_mapping
from mediacheck.validated import validated

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class LoadedFace:
    """A face, with what the files hold that it names."""

    face: Face
    profile: LoadedProfile
    manifest: Manifest | None = None
    """Of the loop that belongs there; None where the display file names none."""
    earlier: tuple[Manifest, ...] = ()
    """In the order of `face.loop.earlier`."""

    @property
    def name(self) -> str:
        """What people in the store call it."""
        return self.face.name

    @property
    def play_order(self) -> tuple[str, ...]:
        """Paths of the items that belong on the card, in play order; empty where nobody said."""
        return (
            self.manifest.play_order if self.manifest else tuple(item.name for item in self.face.loop.items)
        )

    def title_of(self, path: str) -> str:
        """What an item shows, in the words of the store; its path where nobody said."""
        titles = {folded(item.name): item.title for item in self.face.loop.items}
        return titles.get(folded(path)) or path


@dataclass(frozen=True, slots=True)
class LoadedDisplay:
    """A display, the file that it came from, and the SHA-256 of that file's bytes."""

    display: Display
    faces: tuple[LoadedFace, ...]
    source: str
    sha256: str

    def face(self, name: str) -> LoadedFace:
        """The face of this name, whatever its capitals. DisplayError, which lists the faces: none has it."""
        by_name = {folded(face.name): face for face in self.faces}
        if folded(name) in by_name:
            return by_name[folded(name)]
        near = get_close_matches(folded(name), by_name, n=1)
        hint = f'; did you mean "{by_name[near[0]].name}"?' if near else "."
        raise self._refused(f'{self.source} has no face named "{name[:60]}"{hint}')

    def chosen(self, name: str | None) -> DisplayFace:
        """The face that a card is for; of a display with one face, no name is needed. DisplayError."""
        if name is None and len(self.faces) > 1:
            raise self._refused(
                f"{self.source} has {len(self.faces)} faces: say with --face which one it is."
            )
        return DisplayFace(self, self.faces[0] if name is None else self.face(name))

    def _refused(self, text: str) -> DisplayError:
        error = DisplayError(text)
        error.advice = f"Its faces are: {', '.join(face.name for face in self.faces)}."
        return error

    @property
    def files(self) -> tuple[Path, ...]:
        """Every file that was read: the display's own, the profiles and the manifests."""
        named = [path for face in self.faces for path in _manifests_of(face.face.loop)]
        folder = Path(self.source).parent
        profiles = [Path(face.profile.source) for face in self.faces]
        return (Path(self.source), *profiles, *(folder / path for path in named))


@dataclass(frozen=True, slots=True)
class DisplayFace:
    """One face of a display that a card is held against, and the others, whose loops it may carry instead."""

    display: LoadedDisplay
    face: LoadedFace

    @property
    def others(self) -> tuple[LoadedFace, ...]:
        """The other faces of the display."""
        return tuple(face for face in self.display.faces if face is not self.face)


def _manifests_of(loop: FaceLoop) -> tuple[str, ...]:
    return (*([loop.manifest] if loop.manifest else []), *(version.manifest for version in loop.earlier))


def load_display(path: str | Path) -> LoadedDisplay:
    """The display in a file, with all that it names. Raises DisplayError with every problem, each with its
    line and key."""
    try:
        document = with_id(read_mapping(path), "display")
        display = validated(document, Display)
        reading = _Reading(document, Path(document.source).parent, [])
        faces = tuple(reading.face(face, ("faces", number)) for number, face in enumerate(display.faces))
        if reading.problems:
            raise InvalidFile(tuple(reading.problems))
    except InvalidFile as error:
        raise DisplayError(str(error)) from error
    return LoadedDisplay(display, tuple(filter(None, faces)), document.source, document.sha256)


@dataclass(frozen=True, slots=True)
class _Reading:
    """Reads what a display file names, and collects what is wrong with it."""

    document: Document
    folder: Path
    problems: list[Problem]

    def face(self, face: Face, place: Place) -> LoadedFace | None:
        """The face with its files; None where its profile cannot be used."""
        profile = self._profile(face.profile, (*place, "profile"))
        loop, inside = face.loop, (*place, "loop")
        manifest = self._manifest(loop.manifest, (*inside, "manifest")) if loop.manifest else None
        earlier = [
            self._manifest(version.manifest, (*inside, "earlier", number))
            for number, version in enumerate(loop.earlier)
        ]
        if manifest:
            self.problems.extend(self._contradictions(loop, manifest, (*inside, "items")))
        return LoadedFace(face, profile, manifest, tuple(filter(None, earlier))) if profile else None

    def _profile(self, name: str, place: Place) -> LoadedProfile | None:
        return self._read(lambda: load_profile(name, self.folder), "profile", place)

    def _manifest(self, path: str, place: Place) -> Manifest | None:
        return self._read(lambda: read_manifest(self.folder / path), "manifest", place)

    def _read(self, read: Callable[[], T], what: str, place: Place) -> T | None:
        expected = f"a {what} that can be used"
        try:
            return read()
        except InvalidFile as error:
            self.problems.extend((self._problem(place, expected, "one that cannot"), *error.problems))
        except (ProfileError, ManifestError) as error:
            self.problems.append(self._problem(place, expected, f"none: {str(error).rstrip('.')}"))
        return None

    def _contradictions(self, loop: FaceLoop, manifest: Manifest, place: Place) -> Iterator[Problem]:
        """Items that are not what the manifest beside them lists."""
        listed = {folded(file.path): file for file in manifest.files}
        for number, item in enumerate(loop.items):
            file = listed.get(folded(item.name))
            if file is None:
                near = get_close_matches(item.name, [one.path for one in manifest.files], n=1)
                at = (*place, number, "name")
                yield self._problem(at, "a file of the manifest", f'"{item.name[:60]}"', *near)
            elif item.sha256 not in (None, file.sha256):
                at = (*place, number, "sha256")
                yield self._problem(at, "what the manifest lists for this file", "another SHA-256")

    def _problem(self, place: Place, expected: str, found: str, nearest: str | None = None) -> Problem:
        line = self.document.lines.get(place)
        return Problem(self.document.source, line, dotted(place), expected, found, nearest)


def display_schema() -> dict[str, Any]:
    """The JSON Schema of a display file (draft 2020-12), with what each key means."""
    schema = Display.model_json_schema(schema_generator=Untitled)
    head = {"$schema": GenerateJsonSchema.schema_dialect, "title": "mediacheck display"}
    return {**head, **{key: value for key, value in schema.items() if key != "title"}}


if __name__ == "__main__":
    sys.stdout.write(json.dumps(display_schema(), indent=2) + "\n")
