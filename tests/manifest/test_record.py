"""Manifests as JSON: what is written comes back, and what cannot be used is told in one sentence."""

from __future__ import annotations

import json
import os
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given

from mediacheck.errors import ManifestError
from mediacheck.manifest.model import Manifest
from mediacheck.manifest.record import manifest_of, manifest_text, read_manifest
from tests.manifest.make import MANIFEST, listed, manifests, sha256


def complaint(content: bytes) -> str:
    """What is said of a file that cannot be used."""
    with pytest.raises(ManifestError) as caught:
        manifest_of(content, "card.manifest.json")
    assert caught.value.exit_code == 2
    return str(caught.value)


@given(manifests())
def test_any_manifest_comes_back_as_it_was(made: Manifest) -> None:
    assert manifest_of(manifest_text(made).encode(), "m.json") == made


def test_the_text_is_what_programs_rely_on() -> None:
    small = replace(
        MANIFEST, files=(listed("a.mp4", b"seeds"),), play_order=("a.mp4",), folders=(), left_out=()
    )
    assert json.loads(manifest_text(small)) == {
        "schema": "mediacheck/manifest/1",
        "tool": {"name": "mediacheck", "version": "1.2.3"},
        "profile": {
            "id": "basic-1080p",
            "title": "Basic player, 1080p screen",
            "sha256": sha256(b"profile"),
            "order": "disk",
        },
        "depth": "full",
        "verdict": "fail",
        "even_so": True,
        "passed_over": [
            {"rule": "video-codec", "path": "1 Watering can.mp4"},
            {"rule": "loop-count", "path": None},
        ],
        "card": {
            "file_system": "FAT32",
            "partition_table": "MBR",
            "label": "LOAM_LEFT",
            "serial": "1A2B-3C4D",
            "capacity_bytes": 40_000_000,
            "cluster_bytes": 512,
        },
        "play_order": ["a.mp4"],
        "loop_seconds": 92.4,
        "files": [
            {
                "path": "a.mp4",
                "size_bytes": 5,
                "sha256": sha256(b"seeds"),
                "kind": "video",
                "fingerprint": None,
            }
        ],
        "folders": [],
        "left_out": [],
        "image": {"name": "card.img", "size_bytes": 44_194_304, "sha256": sha256(b"image")},
    }


def test_it_is_indented_by_two_and_ends_in_one_line_end() -> None:
    text = manifest_text(MANIFEST)
    assert text.startswith('{\n  "schema": "mediacheck/manifest/1",\n')
    assert text.endswith("}\n")
    assert "Märzenbecher" in text


def test_a_mark_at_its_start_and_keys_of_a_later_version_are_passed_over() -> None:
    record = json.loads(manifest_text(MANIFEST))
    record["store"] = "Elm Street"
    record["files"][0]["seconds"] = 10
    assert manifest_of(b"\xef\xbb\xbf" + json.dumps(record).encode(), "m.json") == MANIFEST


NAME = "card.manifest.json is no manifest that can be used: "
Change = Callable[[Any], object]
FAULTS: dict[str, tuple[Change, str]] = {
    "another schema": (
        lambda r: r.update(schema="mediacheck/report/1"),
        "it does not say of itself that it is one (mediacheck/manifest/1)",
    ),
    "no schema": (
        lambda r: r.pop("schema"),
        "it does not say of itself that it is one (mediacheck/manifest/1)",
    ),
    "a missing key": (lambda r: r.pop("files"), "it has no files"),
    "a missing key within": (lambda r: r["files"][1].pop("size_bytes"), "it has no files.1.size_bytes"),
    "a file twice": (
        lambda r: r["files"].append(dict(r["files"][0])),
        "it lists '1 Watering can.mp4' twice",
    ),
    "an absolute path": (
        lambda r: r["files"][0].update(path="/etc/loam"),
        "'/etc/loam' is no path of a file on the card: it is not relative to the card's root",
    ),
    "a path upwards": (
        lambda r: r["files"][0].update(path="Spring/../../loam"),
        "'Spring/../../loam' is no path of a file on the card: it leads out of the card",
    ),
    "a folder upwards": (
        lambda r: r["folders"].append(".."),
        "'..' is no path of a file on the card: it leads out of the card",
    ),
    "a drive of Windows": (
        lambda r: r["files"][0].update(path="C:loam.mp4"),
        "'C:loam.mp4' is no path of a file on the card: on Windows, it leads out of the card",
    ),
    "an upward path of Windows": (
        lambda r: r["files"][0].update(path="a\\..\\..\\loam.mp4"),
        "'a\\\\..\\\\..\\\\loam.mp4' is no path of a file on the card: on Windows, it leads out of the card",
    ),
    "an empty name": (
        lambda r: r["files"][0].update(path=""),
        "'' is no path of a file on the card: it has an empty part",
    ),
    "a bad hash": (lambda r: r["files"][2].update(sha256="E3B0"), "its files.2.sha256 cannot be 'E3B0'"),
    "a negative size": (lambda r: r["image"].update(size_bytes=-1), "its image.size_bytes cannot be -1"),
    "a size in words": (lambda r: r["image"].update(size_bytes="5"), "its image.size_bytes cannot be '5'"),
    "an unknown verdict": (lambda r: r.update(verdict="ok"), "its verdict cannot be 'ok'"),
    "an item that is not listed": (
        lambda r: r["play_order"].append("b.mp4"),
        "it plays 'b.mp4', which it does not list",
    ),
    "an item twice": (
        lambda r: r["play_order"].append("1 Watering can.mp4"),
        "it plays '1 Watering can.mp4' twice",
    ),
    "an image with no room for its files": (
        lambda r: r["image"].update(size_bytes=9),
        "its image is smaller than its files together",
    ),
    "a size beyond any file system": (
        lambda r: r["files"][0].update(size_bytes=2**64),
        "its files.0.size_bytes cannot be 18446744073709551616",
    ),
    "a path that steers a terminal": (
        lambda r: r["play_order"].append("\x1b[2J\u202e.mp4"),
        r"it plays '\x1b[2J\u202e.mp4', which it does not list",
    ),
    "a path that no system has": (
        lambda r: r["files"][0].update(path="a/" * 2047 + "bc"),
        f"'{'a/' * 29}a... is no path of a file on the card: it is longer than 4,095 characters",
    ),
    "a length that is no number": (
        lambda r: r.update(loop_seconds=float("nan")),
        "its loop_seconds cannot be nan",
    ),
    "half a letter": (lambda r: r["files"][0].update(path="\ud800.mp4"), "it is not JSON, or was cut off"),
    "a list for a text": (
        lambda r: r.update(depth=["full"] * 99),
        "its depth cannot be ['full', 'full', 'full', 'full', 'full', 'full', 'full', 'fu...",
    ),
}


@pytest.mark.parametrize("name", FAULTS)
def test_a_fault_is_told_in_one_sentence(name: str) -> None:
    change, told = FAULTS[name]
    record = json.loads(manifest_text(MANIFEST))
    change(record)
    assert complaint(json.dumps(record).encode()) == NAME + told


@pytest.mark.parametrize(
    "content", [b"", b"{", b"water", b"\xff\xfe{}", manifest_text(MANIFEST).encode()[:-9]]
)
def test_what_is_not_json_is_said_to_be_none(content: bytes) -> None:
    assert complaint(content) == NAME + "it is not JSON, or was cut off"


@pytest.mark.parametrize("content", [b"[]", b"7", b'"manifest"', b"{}"])
def test_other_json_is_no_manifest(content: bytes) -> None:
    assert complaint(content) == NAME + "it does not say of itself that it is one (mediacheck/manifest/1)"


def test_a_very_deep_document_is_refused_like_any_other() -> None:
    assert complaint(b"[" * 100_000) == NAME + "it is not JSON, or was cut off"


def test_what_cannot_be_listed_is_not_written() -> None:
    outside = replace(MANIFEST, files=(listed("../a.mp4", b""),), play_order=())
    with pytest.raises(ManifestError) as caught:
        manifest_text(outside)
    told = "'../a.mp4' is no path of a file on the card: it leads out of the card"
    assert str(caught.value) == f"no manifest can be made of these files: {told}"


def test_a_file_is_read_and_a_missing_one_told(tmp_path: Path) -> None:
    path = tmp_path / "card.manifest.json"
    with pytest.raises(ManifestError) as missing:
        read_manifest(path)
    assert str(missing.value) == f"the manifest {path} cannot be read: there is nothing of that name"
    with pytest.raises(ManifestError) as folder:
        read_manifest(tmp_path)
    assert str(folder.value) == f"the manifest {tmp_path} cannot be read: it is a folder"
    path.write_bytes(manifest_text(MANIFEST).encode())
    assert read_manifest(path) == MANIFEST


def test_neither_a_pipe_nor_a_huge_file_is_read(tmp_path: Path) -> None:
    image = tmp_path / "card.img"
    with image.open("wb") as file:
        file.truncate(1 << 40)
    with pytest.raises(ManifestError) as huge:
        read_manifest(image)
    assert str(huge.value) == f"{image} is no manifest: it is too large to be one"
    if hasattr(os, "mkfifo"):
        os.mkfifo(tmp_path / "pipe")
        with pytest.raises(ManifestError) as pipe:
            read_manifest(tmp_path / "pipe")
        assert "it is a device or pipe, not a file" in str(pipe.value)


def test_what_windows_wrote_as_utf_16_is_read(tmp_path: Path) -> None:
    path = tmp_path / "card.manifest.json"
    path.write_text(manifest_text(MANIFEST), "utf-16")
    assert read_manifest(path) == MANIFEST
