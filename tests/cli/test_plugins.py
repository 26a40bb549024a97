"""Plugins that other packages bring for pydantic do not run in this program."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

PYDANTIC_ALONE = ("-c", "from pydantic import create_model; create_model('Any', key=(int, 1))")
PROGRAM = ("-m", "mediacheck", "profile", "show", "basic-1080p")


def _seen(folder: Path, *words: str) -> bool:
    """Whether a plugin that is installed in `folder` was loaded by a Python with these words."""
    loaded = folder / "loaded"
    loaded.unlink(missing_ok=True)
    paths = (str(folder), str(Path(__file__).parents[2]))
    environment = {**os.environ, "PYTHONPATH": os.pathsep.join(paths)}
    environment.pop("PYDANTIC_DISABLE_PLUGINS", None)
    subprocess.run((sys.executable, *words), env=environment, check=True, capture_output=True, timeout=60)
    return loaded.exists()


def test_a_plugin_of_pydantics_is_not_loaded(tmp_path: Path) -> None:
    installed = tmp_path / "a_plugin-1.0.dist-info"
    installed.mkdir()
    (installed / "METADATA").write_text("Metadata-Version: 2.1\nName: a-plugin\nVersion: 1.0\n")
    (installed / "entry_points.txt").write_text("[pydantic]\nany = a_plugin:plugin\n")
    (tmp_path / "a_plugin.py").write_text(
        "from pathlib import Path\n"
        "Path(__file__).with_name('loaded').touch()\n"
        "class Plugin:\n"
        "    def new_schema_validator(self, *_, **__): return None, None, None\n"
        "plugin = Plugin()\n"
    )
    assert _seen(tmp_path, *PYDANTIC_ALONE), "the plugin is one"
    assert not _seen(tmp_path, *PROGRAM)
