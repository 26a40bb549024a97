"""A test chart keeps its colours: 75 % bars in BT.601 and in BT.709 come out at the published BT.709 codes.

Published: the matrices of ITU-R BT.601-7 and BT.709-6 and the quantisation of both (Y 16 to 235, C 16 to
240); codes of 75 % bars follow from them (as in SMPTE RP 219). Tolerance: 2 codes.
"""

from __future__ import annotations

import subprocess
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from mediacheck.repair.model import Wishes
from tests.repair.bench import fixed
from tests.repair.films import PLAYER, player

BARS = [(r, g, b) for g in (0.75, 0) for r in (0.75, 0) for b in (0.75, 0)]
"""White, yellow, cyan, green, magenta, red, blue, black."""
KR_KB = {"bt709": (0.2126, 0.0722), "smpte170m": (0.299, 0.114)}


def codes(matrix: str, full: bool) -> list[tuple[int, int, int]]:
    """Y, Cb and Cr of each bar."""
    kr, kb = KR_KB[matrix]
    found = []
    for r, g, b in BARS:
        y = kr * r + (1 - kr - kb) * g + kb * b
        cb, cr = (b - y) / (2 * (1 - kb)), (r - y) / (2 * (1 - kr))
        if full:
            found.append((round(255 * y), round(128 + 255 * cb), round(128 + 255 * cr)))
        else:
            found.append((round(16 + 219 * y), round(128 + 224 * cb), round(128 + 224 * cr)))
    return found


def chart(matrix: str, full: bool, width: int, height: int) -> bytes:
    """One picture in yuv444p."""
    across = np.arange(width) * len(BARS) // width
    planes = [np.array([code[plane] for code in codes(matrix, full)], np.uint8)[across] for plane in range(3)]
    return b"".join(np.tile(plane, (height, 1)).tobytes() for plane in planes)


@pytest.mark.parametrize(
    ("matrix", "full", "marked"),
    [
        ("bt709", False, True),
        ("bt709", True, True),
        ("smpte170m", False, True),
        ("smpte170m", False, False),
        ("smpte170m", True, True),
    ],
)
def test_bars_come_out_at_the_published_codes(
    matrix: str, full: bool, marked: bool, ffmpeg: str, tmp_path: Path
) -> None:
    width, height = 640, 360
    (tmp_path / "masters").mkdir()
    marks = ["-colorspace", matrix, "-color_primaries", matrix, "-color_trc", matrix] if marked else []
    marks += ["-color_range", "pc" if full else "tv"]
    raw = chart(matrix, full, width, height) * 25
    pixels = ["-f", "rawvideo", "-pix_fmt", "yuvj444p" if full else "yuv444p", "-s", f"{width}x{height}"]
    command = [ffmpeg, "-v", "error", *pixels, "-r", "25", "-i", "-", "-c:v", "libx264", "-qp", "0", *marks]
    subprocess.run([*command, str(tmp_path / "masters" / "bars.mkv")], input=raw, check=True)
    found = fixed(tmp_path / "masters", tmp_path / "ready", player())
    assert found.failed == ()
    measured = _planes(ffmpeg, tmp_path / "ready" / "bars.mp4")
    for bar, wanted in enumerate(codes("bt709", False)):
        assert measured[bar] == pytest.approx(wanted, abs=2), BARS[bar]


def _planes(ffmpeg: str, path: Path) -> list[NDArray[np.float64]]:
    """Y, Cb and Cr in the middle of each bar."""
    command = [
        ffmpeg,
        "-v",
        "error",
        "-i",
        str(path),
        "-frames:v",
        "1",
        "-f",
        "rawvideo",
        "-pix_fmt",
        "yuv420p",
        "-",
    ]
    data = np.frombuffer(subprocess.run(command, capture_output=True, check=True).stdout, np.uint8)
    width, height = PLAYER["video"]["width"], PLAYER["video"]["height"]
    luma = data[: width * height].reshape(height, width)
    chroma = data[width * height :].reshape(2, height // 2, width // 2)
    found = []
    for bar in range(len(BARS)):
        x = int((bar + Fraction(1, 2)) * width / len(BARS))
        found.append(np.array([luma[height // 2, x], *chroma[:, height // 4, x // 2]], np.float64))
    return found


def test_pictures_of_another_shape_get_bars_that_are_told(ffmpeg: str, tmp_path: Path) -> None:
    (tmp_path / "masters").mkdir()
    source = ["-f", "lavfi", "-i", "testsrc2=s=240x180:r=25:d=1", "-c:v", "libx264", "-pix_fmt", "yuv420p"]
    subprocess.run([ffmpeg, "-v", "error", *source, str(tmp_path / "masters" / "old.mp4")], check=True)
    found = fixed(tmp_path / "masters", tmp_path / "ready", player(), Wishes(fit="contain"))
    assert any("--fit cover" in note for note in found.planned.plan.notes)
    assert found.after is not None
    assert [finding.rule for finding in found.after.findings] == ["picture-bars"]
    assert found.verdict == "warn"
