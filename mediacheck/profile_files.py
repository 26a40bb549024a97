"""Profiles as files: the bundled ones by name, others by path, and the schema for editors.

It must not judge values: what a profile may hold is for the models.
"""

from __future__ import annotations

import json
import re
from dataclasses import dataclass, replace
from difflib import get_close_matches
from pathlib import Path
from typing import Any

from pydantic.json_schema import GenerateJsonSchema

from mediacheck.errors import ProfileError
from mediacheck.profile import Profile
from mediacheck.strict_yaml import Document, read_mapping
from mediacheck.validated import validated

SUFFIXES = (".yaml", ".yml")


@dataclass(frozen=True, slots=True)
class LoadedProfile:
    """A profile, the file that it came from, and the SHA-256 of that file's bytes."""

    profile: Profile
    source: str
    sha256: str

    @property
    def option(self) -> str:
        """What `--profile` takes for it: its name where it is bundled, else its path."""
        return Path(self.source).stem if Path(self.source).parent == bundled_folder() else self.source


def load_profile(name_or_path: str, folder: Path | None = None) -> LoadedProfile:
    """A bundled profile by its name, or any other by its path. Raises ProfileError.

    `folder` is what the path is relative to, where that is not the current one.
    """
    path = name_or_path if folder is None else str(folder / name_or_path)
    if _is_path(name_or_path, path):
        return read_profile(path)
    names = bundled_names()
    if name_or_path not in names:
        raise ProfileError(_unknown(name_or_path, names))
    return read_profile(bundled_folder() / f"{name_or_path}.yaml")


def read_profile(path: str | Path) -> LoadedProfile:
    """The profile in a file. Raises InvalidFile with every problem, each with its line and key."""
    document = with_id(read_mapping(path), "profile")
    return LoadedProfile(validated(document, Profile), document.source, document.sha256)


def with_id(document: Document, otherwise: str) -> Document:
    """The document with an id: its own, or that of its file's name, or `otherwise`."""
    if "id" in document.data:
        return document
    stem = re.sub(r"[^A-Za-z0-9._-]+", "-", Path(document.source).stem).lstrip("._-")
    return replace(document, data={**document.data, "id": stem or otherwise})


def bundled_names() -> tuple[str, ...]:
    """The names of the profiles that come with the program, sorted."""
    return tuple(sorted(path.stem for path in bundled_folder().glob("*.yaml")))


def bundled_folder() -> Path:
    """Where the bundled profiles are: inside the installed package, or beside it in a source checkout."""
    package = Path(__file__).parent
    installed = package / "bundled_profiles"
    return installed if installed.is_dir() else package.parent / "profiles"


def _is_path(text: str, path: str) -> bool:
    if "/" in text or "\\" in text or text.lower().endswith(SUFFIXES):
        return True
    try:
        return Path(path).is_file()
    except OSError:  # a name longer than the system takes
        return False


def _unknown(name: str, names: tuple[str, ...]) -> str:
    close = get_close_matches(name.lower(), names, n=1)
    hint = f"did you mean '{close[0]}'? Otherwise give the path of a file; " if close else ""
    return f"no profile named {name[:60]!r}; {hint}the bundled ones are {', '.join(names)}."


class Untitled(GenerateJsonSchema):
    """Leaves out the titles that pydantic makes up from the keys: they say nothing that the key does not."""

    def field_title_should_be_set(self, schema: Any) -> bool:
        return False


def profile_schema() -> dict[str, Any]:
    """The JSON Schema of a profile (draft 2020-12), with what each key means."""
    schema = Profile.model_json_schema(schema_generator=Untitled)
    head = {"$schema": GenerateJsonSchema.schema_dialect, "title": "mediacheck profile"}
    return {**head, **{key: value for key, value in schema.items() if key != "title"}}


def profile_schema_text() -> str:
    """The same as the text that is committed and printed: ASCII, two spaces of indent, one line end."""
    return json.dumps(profile_schema(), indent=2) + "\n"
