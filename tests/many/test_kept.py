"""What a report follows from: whatever of it changes, the card is checked again."""

from __future__ import annotations

import json
import os
from dataclasses import replace
from pathlib import Path

import pytest

from mediacheck.card.folder import open_folder
from mediacheck.card.model import Card
from mediacheck.display_files import DisplayFace, load_display
from mediacheck.many import kept
from mediacheck.many.kept import basis_of, key_of
from tests.many.make import LOADED, card


@pytest.fixture
def stand(tmp_path: Path) -> Path:
    """A display with two faces for the same player."""
    (tmp_path / "garden.yaml").write_text("id: garden\n")
    faces = [{"name": name, "profile": "garden.yaml"} for name in ("aisle side", "window side")]
    path = tmp_path / "stand.yaml"
    path.write_text(json.dumps({"id": "stand", "title": "Stand", "faces": faces}))
    return path


def face(stand: Path, name: str = "aisle side") -> DisplayFace:
    return load_display(stand).chosen(name)


def test_a_report_follows_from_program_profile_depth_decoder_and_face(
    stand: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    found = [
        basis_of(LOADED, None, "full", "7.1"),
        basis_of(replace(LOADED, sha256="1" * 64), None, "full", "7.1"),
        basis_of(LOADED, None, "quick", "7.1"),
        basis_of(LOADED, None, "full", "7.2"),
        basis_of(LOADED, face(stand), "full", "7.1"),
        basis_of(LOADED, face(stand, "window side"), "full", "7.1"),
    ]
    stand.write_text(stand.read_text() + "\n")
    found.append(basis_of(LOADED, face(stand), "full", "7.1"))
    monkeypatch.setattr(kept, "__version__", "0.0.9")
    found.append(basis_of(LOADED, None, "full", "7.1"))
    monkeypatch.undo()
    monkeypatch.setattr(kept, "MEASUREMENTS_VERSION", -1)
    found.append(basis_of(LOADED, None, "full", "7.1"))
    assert len(set(found)) == len(found)


def test_an_image_that_was_written_again_is_another_card(tmp_path: Path) -> None:
    """With a file of the same size in the same place, the listing is the same."""
    image = tmp_path / "aisle.img"
    image.write_bytes(bytes(1024))
    opened = Card(str(image), "image", ())
    before = key_of(image, opened, "basis")
    assert before is not None
    assert key_of(image, opened, "basis") == before
    os.utime(image, (0, 0))
    assert key_of(image, opened, "basis") != before


def test_of_a_card_in_a_reader_nothing_is_kept(tmp_path: Path) -> None:
    listed = open_folder(card(tmp_path / "aisle", b"watering"))
    assert key_of(tmp_path / "aisle", listed, "basis") is not None
    for kind in ("volume", "device"):
        assert key_of(tmp_path / "aisle", replace(listed, kind=kind), "basis") is None
