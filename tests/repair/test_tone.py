"""HDR greys and colours land where the published formulas put them; the formulas are written out again here.

SMPTE ST 2084 (PQ), ITU-R BT.2100 (HLG), BT.2390 (curve), BT.2408 (203 cd/m2), BT.1886 (gamma): from memory.
"""

from __future__ import annotations

import math
import subprocess
from pathlib import Path

import numpy as np
import pytest

from mediacheck.repair import tone
from mediacheck.repair.commands import with_lut
from mediacheck.repair.model import LUT, Tone

PQ = Tone("smpte2084", "bt2020")
HLG = Tone("arib-std-b67", "bt2020")


def pq_code(light: float) -> float:
    power = (light / 10_000) ** 0.1593017578125
    return float(((0.8359375 + 18.8515625 * power) / (1 + 18.6875 * power)) ** 78.84375)


def pq_light(code: float) -> float:
    power = code ** (1 / 78.84375)
    return float(
        10_000 * (max(power - 0.8359375, 0) / (18.8515625 - 18.6875 * power)) ** (1 / 0.1593017578125)
    )


def screen_code(light: float) -> float:
    """BT.2390 from 1,000 to 203 cd/m2, then the inverse of BT.1886."""
    peak, most = pq_code(1000), pq_code(203) / pq_code(1000)
    code, knee = min(pq_code(light) / peak, 1), 1.5 * most - 0.5
    if code >= knee:
        t = (code - knee) / (1 - knee)
        code = (
            (2 * t**3 - 3 * t**2 + 1) * knee
            + (t**3 - 2 * t**2 + t) * (1 - knee)
            + (-2 * t**3 + 3 * t**2) * most
        )
    return float(min(pq_light(code * peak) / 203, 1) ** (1 / 2.4))


def hlg_light(code: float) -> float:
    a = 0.17883277
    b, c = 1 - 4 * a, 0.5 - a * math.log(4 * a)
    scene = code * code / 3 if code <= 0.5 else (math.exp((code - c) / a) + b) / 12
    return float(1000 * scene**1.2)


@pytest.mark.parametrize("code", [0.0, 0.1, 0.25, 0.4, 0.5, 0.58, 0.65, 0.7, 0.752, 0.9, 1.0])
def test_greys_of_pq_land_where_the_formulas_say(code: float) -> None:
    found = tone.converted(np.array([[code] * 3]), PQ)[0]
    assert found == pytest.approx([screen_code(pq_light(code))] * 3, abs=1e-4)


@pytest.mark.parametrize("code", [0.0, 0.1, 0.3, 0.5, 0.6, 0.75, 0.9, 1.0])
def test_greys_of_hlg_land_where_the_formulas_say(code: float) -> None:
    found = tone.converted(np.array([[code] * 3]), HLG)[0]
    assert found == pytest.approx([screen_code(hlg_light(code))] * 3, abs=2e-4)


def test_known_points_of_pq() -> None:
    """ITU-R BT.2100 Table 4 and BT.2408: 100 cd/m2 is 0.508, 203 is 0.58, 1,000 is 0.752 (from memory)."""
    lights = np.array([100.0, 203.0, 1000.0, 10_000.0])
    assert tone.pq_code(lights) == pytest.approx([0.508, 0.5807, 0.7518, 1.0], abs=5e-4)
    assert tone.pq_light_cd_m2(tone.pq_code(lights)) == pytest.approx(lights, rel=1e-6)


def test_colours_that_both_screens_have_stay_what_they_are() -> None:
    """A wide picture of SDR: white stays white, and the red of BT.709 comes out as full red."""
    wide = Tone("bt2020-10", "bt2020")
    red_in_2020 = np.array([[0.6274, 0.0691, 0.0164]]) ** (1 / 2.4)
    assert tone.converted(np.array([[1.0, 1.0, 1.0]]), wide)[0] == pytest.approx([1, 1, 1], abs=1e-6)
    assert tone.converted(red_in_2020, wide)[0] == pytest.approx([1, 0, 0], abs=0.06)


def test_only_pictures_beyond_ordinary_screens_need_it() -> None:
    assert tone.needs("smpte2084", None)
    assert tone.needs("arib-std-b67", "bt2020")
    assert tone.needs("bt709", "smpte432")
    assert not tone.needs("bt709", "bt709")
    assert not tone.needs(None, None)
    assert not tone.needs("smpte170m", "smpte170m")


@pytest.mark.parametrize("code", [0.2, 0.5, 0.58, 0.7])
def test_ffmpeg_reads_the_table_as_it_is_meant(code: float, ffmpeg: str, tmp_path: Path) -> None:
    table = tmp_path / "it's, a [table]; 100%.cube"
    table.write_text(tone.cube(PQ), "ascii")
    value = round(code * 65535)
    grey = np.full((16, 16, 3), value, "<u2").tobytes()
    filters = with_lut(
        f"format=gbrp16le,lut3d=file={LUT}:interp=tetrahedral,format=rgb48le", table.as_posix()
    )
    line = ["-f", "rawvideo", "-pix_fmt", "rgb48le", "-s", "16x16", "-i", "-", "-vf", filters]
    command = [ffmpeg, "-v", "error", *line, "-f", "rawvideo", "-pix_fmt", "rgb48le", "-"]
    out = subprocess.run(command, input=grey, capture_output=True, check=True).stdout
    found = np.frombuffer(out, "<u2") / 65535
    assert found == pytest.approx(screen_code(pq_light(code)), abs=1.5 / 255)
