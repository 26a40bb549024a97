"""Displays made by hand, with the manifests of their loops; no file is read."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

from mediacheck.display import Display, Face
from mediacheck.display_files import DisplayFace, LoadedDisplay, LoadedFace
from mediacheck.manifest.model import Manifest, ManifestFile
from mediacheck.names import FileKind
from mediacheck.profile_files import LoadedProfile
from tests.compare.make import measured, sha
from tests.manifest.make import MANIFEST
from tests.rules import make


def listed(
    path: str, contents: object = None, picture: Sequence[int] | None = None, kind: FileKind = "video"
) -> ManifestFile:
    """A file of a manifest: of equal `contents`, equal bytes; of near `picture`, near fingerprints."""
    fingerprint = measured(picture).fingerprint if picture is not None else None
    return ManifestFile(path, 10_000_000, sha(contents or path), kind, fingerprint)


def manifest(*files: ManifestFile | str) -> Manifest:
    """Of a card with these items in this order, or of clips with these names, and with a note beside them."""
    items = tuple(listed(file) if isinstance(file, str) else file for file in files)
    note = ManifestFile("read me.txt", 0, sha("note"), "other")
    return replace(
        MANIFEST,
        play_order=tuple(file.path for file in items),
        files=(note, *items),
        folders=(),
        findings=(),
        image=None,
    )


def face(
    name: str,
    current: Manifest | None = None,
    earlier: Mapping[str, Manifest] | None = None,
    items: Sequence[Mapping[str, Any]] = (),
    **changes: Any,
) -> LoadedFace:
    """A face whose loop is in version 3; `earlier` are manifests by what that version is called."""
    before = earlier or {}
    told = {
        "name": name,
        "profile": "bare",
        "loop": {
            "version": "3",
            "manifest": "now.manifest.json" if current else None,
            "earlier": [{"version": version, "manifest": f"{version}.manifest.json"} for version in before],
            "items": list(items),
        },
        **changes,
    }
    loaded = LoadedProfile(make.bare_profile(), "bare.yaml", "0" * 64)
    return LoadedFace(Face.model_validate(told), loaded, current, tuple(before.values()))


def display(*faces: LoadedFace) -> LoadedDisplay:
    """A display with these faces."""
    model = Display(id="loam", faces=tuple(each.face for each in faces))
    return LoadedDisplay(model, faces, "loam.yaml", "0" * 64)


def chosen(*faces: LoadedFace) -> DisplayFace:
    """The first of these faces, in a display with the others."""
    return display(*faces).chosen(faces[0].name)
