"""From what was built to its manifest, and the names of the files that stand beside the output.

It must not write.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from mediacheck import __version__
from mediacheck.build.plan import Content
from mediacheck.loop import File
from mediacheck.manifest.model import ImageName, Manifest, ManifestFile
from mediacheck.measure.model import Measurements
from mediacheck.report.model import Report


@dataclass(frozen=True, slots=True)
class Beside:
    """The files that tell of an output."""

    manifest: Path
    sums: Path
    """Lines for `sha256sum -c`."""


def beside(out: Path) -> Beside:
    """Where they stand: "card.manifest.json" and "card.img.sha256" beside "card.img"."""
    return Beside(out.with_name(f"{out.stem}.manifest.json"), out.with_name(f"{out.name}.sha256"))


def manifest_of(report: Report, content: Content, even_so: bool, image: ImageName | None) -> Manifest:
    """The manifest of a card with this content, of which the check said this."""
    volume = report.volume
    there = {file.entry.path for file in content.files}
    items = [item for item in report.items if item.path in there]  # the report has what is left out, too
    seconds = [item.seconds for item in items if item.seconds is not None]
    fails = tuple((found.rule, found.path) for found in report.findings if found.severity == "fail")
    return Manifest(
        version=__version__,
        profile_id=report.profile.id,
        profile_title=report.profile.title,
        profile_sha256=report.profile.sha256,
        player_order="disk" if report.disk_order else "name",
        depth=report.depth,
        verdict=report.verdict,
        even_so=even_so and report.verdict in ("fail", "incomplete"),
        findings=fails if even_so else (),
        file_system=volume.file_system if volume else None,
        partition_table=volume.partition_table if volume else None,
        label=volume.label if volume else None,
        serial=volume.serial if volume else None,
        capacity_bytes=volume.capacity_bytes if volume else None,
        cluster_bytes=volume.cluster_bytes if volume else None,
        play_order=tuple(item.path for item in items),
        loop_seconds=float(sum(seconds)) if len(seconds) == len(items) else None,
        files=tuple(map(_file, content.files)),
        folders=content.folders,
        left_out=content.left_out,
        image=image,
    )


def _file(file: File) -> ManifestFile:
    measured = file.measurements
    fingerprint = measured.fingerprint if isinstance(measured, Measurements) else None
    return ManifestFile(file.entry.path, file.entry.size_bytes, file.sha256 or "", file.kind, fingerprint)
