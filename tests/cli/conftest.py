"""A frame that shows stills, and what goes on its card: for the tests of `build`."""

from __future__ import annotations

from pathlib import Path

import pytest
from PIL import Image

FRAME = """
id: frame
title: A frame that shows stills
player: {order: ORDER}
card: {file_systems: [FAT32], partition_tables: [MBR], label_pattern: "[A-Z]+"}
stills: {formats: [JPEG], width_max: 1024, height_max: 600, seconds: 5}
loop: {items_min: 1}
"""


@pytest.fixture
def profile(tmp_path: Path) -> str:
    """A profile of a frame that shows stills by name, as a file."""
    path = tmp_path / "frame.yaml"
    path.write_text(FRAME.replace("ORDER", "name"))
    return str(path)


@pytest.fixture
def disk_profile(tmp_path: Path) -> str:
    """The same for a frame that goes by the order of the disk."""
    path = tmp_path / "disk.yaml"
    path.write_text(FRAME.replace("ORDER", "disk"))
    return str(path)


@pytest.fixture
def face(tmp_path: Path) -> Path:
    """What goes on a card: two good stills, and what a desktop left."""
    folder = tmp_path / "face"
    folder.mkdir()
    for number, colour in ((2, "brown"), (1, "green")):
        Image.new("RGB", (1024, 600), colour).save(folder / f"{number} pots.jpg")
    (folder / ".DS_Store").write_bytes(b"x")
    return folder
