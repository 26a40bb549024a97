"""What `mediacheck --version` prints: the versions of what the answers rest on."""

from __future__ import annotations

import platform
from importlib.metadata import version

from mediacheck import __version__
from mediacheck.errors import MediacheckError

LIBRARIES = ("av", "pymediainfo", "opencv-python-headless", "numpy", "Pillow", "pydantic", "ffmpeg-python")


def version_lines() -> tuple[str, ...]:
    """One line for each program and library in use."""
    return (
        f"mediacheck {__version__}",
        f"Python {platform.python_version()} on {platform.system()} {platform.machine()}",
        _ffmpeg(),
        _libavformat(),
        _libmediainfo(),
        *(f"{name} {version(name)}" for name in LIBRARIES),
    )


def _ffmpeg() -> str:
    from mediacheck.which_ffmpeg import find_ffmpeg

    try:
        found = find_ffmpeg()
    except MediacheckError as error:
        return f"ffmpeg: {error}"
    return f"ffmpeg {found.version} ({found.origin}: {found.path})"


def _libavformat() -> str:
    import av

    numbers = av.library_versions["libavformat"]
    return f"libavformat {'.'.join(map(str, numbers))} (in the av wheel)"


def _libmediainfo() -> str:
    from pymediainfo import MediaInfo

    can, text = MediaInfo.can_parse(), ""
    if can:
        import json

        answer = json.loads(MediaInfo.parse(__file__, output="JSON"))
        text = str(answer.get("creatingLibrary", {}).get("version", ""))
    return f"libmediainfo {text or 'not found'} (in the pymediainfo wheel)"
