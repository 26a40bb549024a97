"""The JSON Schema of the manifest, held against real manifests and against the published file."""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from jsonschema import Draft202012Validator  # type: ignore[import-untyped]  # it has no types

from mediacheck.manifest.model import Manifest
from mediacheck.manifest.record import manifest_text
from mediacheck.manifest.schema import manifest_schema
from tests.manifest.make import MANIFEST, manifests

PUBLISHED = Path(__file__).parents[2] / "docs" / "manifest.schema.json"
VALIDATOR = Draft202012Validator(manifest_schema())


def complaints(record: Any) -> list[str]:
    return [error.message for error in VALIDATOR.iter_errors(record)]


def test_the_schema_is_itself_valid() -> None:
    Draft202012Validator.check_schema(manifest_schema())


@settings(max_examples=40, deadline=None)
@given(manifests())
def test_any_manifest_keeps_the_schema(made: Manifest) -> None:
    assert complaints(json.loads(manifest_text(made))) == []


Break = Callable[[Any], object]
BREAKS: dict[str, Break] = {
    "another schema": lambda r: r.update(schema="mediacheck/manifest/2"),
    "an unknown key": lambda r: r.update(made_at="2026-01-31T09:30:00Z"),
    "an unknown key of a file": lambda r: r["files"][0].update(seconds=1),
    "a size below 0": lambda r: r["files"][0].update(size_bytes=-1),
    "a short hash": lambda r: r["image"].update(sha256="e3b0"),
    "an unknown rule": lambda r: r["passed_over"][0].update(rule="video-smell"),
    "an unknown file system": lambda r: r["card"].update(file_system="FAT"),
    "an unknown kind of file": lambda r: r["files"][0].update(kind="film"),
    "an unknown depth": lambda r: r.update(depth="deep"),
    "a length below 0": lambda r: r.update(loop_seconds=-1),
}


@pytest.mark.parametrize("name", BREAKS)
def test_a_broken_manifest_is_rejected(name: str) -> None:
    record = json.loads(manifest_text(MANIFEST))
    assert complaints(record) == []
    BREAKS[name](record)
    assert complaints(record) != []


@pytest.mark.parametrize("key", sorted(json.loads(manifest_text(MANIFEST))))
def test_every_key_is_required(key: str) -> None:
    record = json.loads(manifest_text(MANIFEST))
    del record[key]
    assert complaints(record) == [f"'{key}' is a required property"]


def test_the_published_schema_is_what_the_module_prints() -> None:
    """To renew it: python -m mediacheck.manifest.schema > docs/manifest.schema.json."""
    command = [sys.executable, "-m", "mediacheck.manifest.schema"]
    printed = subprocess.run(command, capture_output=True, text=True, check=True, timeout=60).stdout
    assert printed == PUBLISHED.read_text(encoding="utf-8")
    assert json.loads(printed) == manifest_schema()
