"""A manifest as a file: written as JSON that is the same for the same content, and read back.

It must not open any of the files that it lists.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from pathlib import Path

from pydantic import ValidationError

from mediacheck.errors import ManifestError
from mediacheck.manifest.document import (
    SCHEMA_NAME,
    CardMade,
    Document,
    FileListed,
    Image,
    PassedOver,
    ProfileNamed,
    Tool,
)
from mediacheck.manifest.model import ImageName, Manifest, ManifestFile
from mediacheck.manifest.paths import shown
from mediacheck.manifest.reading import manifest_bytes


def manifest_text(manifest: Manifest) -> str:
    """The manifest as JSON, indented by two, with one line feed at its end.

    ManifestError: it names a path that no manifest may name; such a file does not go on a card.
    """
    try:
        return _document(manifest).model_dump_json(indent=2, by_alias=True) + "\n"
    except ValidationError as error:
        raise ManifestError(f"no manifest can be made of these files: {_fault(error)}") from error


def read_manifest(path: Path) -> Manifest:
    """Read a manifest that `manifest_text` wrote. ManifestError: one sentence with what is wrong."""
    return manifest_of(manifest_bytes(path), str(path))


def manifest_of(content: bytes, source: str) -> Manifest:
    """The manifest that the bytes of a file hold. `source` is its name in the ManifestError."""
    try:
        document = Document.model_validate_json(content.removeprefix(b"\xef\xbb\xbf"))
    except ValidationError as error:
        raise ManifestError(f"{source} is no manifest that can be used: {_fault(error)}") from error
    fault = next(_inner_faults(document), None)
    if fault:
        raise ManifestError(f"{source} is no manifest that can be used: {fault}")
    return _manifest(document)


def _document(manifest: Manifest) -> Document:
    image = manifest.image
    return Document(
        schema=SCHEMA_NAME,
        tool=Tool(name="mediacheck", version=manifest.version),
        profile=ProfileNamed(
            id=manifest.profile_id,
            title=manifest.profile_title,
            sha256=manifest.profile_sha256,
            order=manifest.player_order,
        ),
        depth=manifest.depth,
        verdict=manifest.verdict,
        even_so=manifest.even_so,
        passed_over=tuple(PassedOver(rule=rule, path=path) for rule, path in manifest.findings),
        card=CardMade(
            file_system=manifest.file_system,
            partition_table=manifest.partition_table,
            label=manifest.label,
            serial=manifest.serial,
            capacity_bytes=manifest.capacity_bytes,
            cluster_bytes=manifest.cluster_bytes,
        ),
        play_order=manifest.play_order,
        loop_seconds=manifest.loop_seconds,
        files=tuple(_listed(file) for file in manifest.files),
        folders=manifest.folders,
        left_out=manifest.left_out,
        image=Image(name=image.name, size_bytes=image.size_bytes, sha256=image.sha256) if image else None,
    )


def _listed(file: ManifestFile) -> FileListed:
    return FileListed(
        path=file.path,
        size_bytes=file.size_bytes,
        sha256=file.sha256,
        kind=file.kind,
        fingerprint=file.fingerprint,
    )


def _manifest(document: Document) -> Manifest:
    card, image = document.card, document.image
    return Manifest(
        version=document.tool.version,
        profile_id=document.profile.id,
        profile_title=document.profile.title,
        profile_sha256=document.profile.sha256,
        depth=document.depth,
        verdict=document.verdict,
        even_so=document.even_so,
        findings=tuple((each.rule, each.path) for each in document.passed_over),
        file_system=card.file_system,
        partition_table=card.partition_table,
        label=card.label,
        serial=card.serial,
        capacity_bytes=card.capacity_bytes,
        cluster_bytes=card.cluster_bytes,
        play_order=document.play_order,
        loop_seconds=document.loop_seconds,
        files=tuple(
            ManifestFile(file.path, file.size_bytes, file.sha256, file.kind, file.fingerprint)
            for file in document.files
        ),
        folders=document.folders,
        left_out=document.left_out,
        image=ImageName(image.name, image.size_bytes, image.sha256) if image else None,
        player_order=document.profile.order,
    )


def _inner_faults(document: Document) -> Iterator[str]:
    """What no single key shows."""
    counts, plays = Counter(file.path for file in document.files), Counter(document.play_order)
    yield from (f"it lists {shown(path)} twice" for path, count in counts.items() if count > 1)
    yield from (f"it plays {shown(path)} twice" for path, count in plays.items() if count > 1)
    yield from (f"it plays {shown(path)}, which it does not list" for path in plays if path not in counts)
    if document.image and document.image.size_bytes < sum(file.size_bytes for file in document.files):
        yield "its image is smaller than its files together"


def _fault(error: ValidationError) -> str:
    """The first thing that is wrong, as a clause."""
    first = min(error.errors(), key=lambda each: each["type"] == "missing" and each["loc"] != ("schema",))
    place = ".".join(map(str, first["loc"]))
    if first["type"] == "json_invalid":
        return "it is not JSON, or was cut off"
    if first["loc"] == ("schema",) or not place:
        return f"it does not say of itself that it is one ({SCHEMA_NAME})"
    if first["type"] == "missing":
        return f"it has no {place}"
    if first["type"] == "value_error":
        return str(first["ctx"]["error"])
    return f"its {place} cannot be {shown(first['input'])}"
