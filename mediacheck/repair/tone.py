"""From HDR and wide colours to those of an ordinary screen, as a table that ffmpeg's lut3d takes.

It must not run anything. The table holds for pictures whose codes are RGB of the full range. Formulas from
memory: SMPTE ST 2084 (PQ), ITU-R BT.2100 (HLG), BT.2390 (the curve), BT.2408 (reference white), BT.1886 (the
screen); chromaticities of BT.709, BT.2020 and P3-D65 as in ITU-T H.273.
"""

from __future__ import annotations

from functools import cache

import numpy as np
from numpy.typing import NDArray

from mediacheck.repair.model import Tone

Array = NDArray[np.float64]
SIDE = 65
"""Points on each side of the table; common sizes are 33 and 65 (common practice, no source)."""
WHITE_CD_M2 = 203.0
"""HDR reference white (ITU-R BT.2408): becomes the white of the screen."""
PEAK_CD_M2 = 1000.0
"""What HDR is usually mastered for (common practice); brighter is cut off."""
HLG_GAMMA = 1.2
"""System gamma of a screen of 1,000 cd/m2 (ITU-R BT.2100)."""
SCREEN_GAMMA = 2.4
"""ITU-R BT.1886 with black at zero."""
M1, M2 = 2610 / 16384, 2523 / 4096 * 128
C1, C2, C3 = 3424 / 4096, 2413 / 4096 * 32, 2392 / 4096 * 32
HLG_A = 0.17883277
HLG_B, HLG_C = 1 - 4 * HLG_A, 0.5 - HLG_A * float(np.log(4 * HLG_A))
CORNERS = {
    "bt709": ((0.640, 0.330), (0.300, 0.600), (0.150, 0.060)),
    "bt2020": ((0.708, 0.292), (0.170, 0.797), (0.131, 0.046)),
    "smpte432": ((0.680, 0.320), (0.265, 0.690), (0.150, 0.060)),
}
D65 = (0.3127, 0.3290)
LUMA_2020 = np.array((0.2627, 0.6780, 0.0593))
SAME_CORNERS = {"smpte431": "smpte432"}
"""DCI-P3 has the corners of P3-D65 and another white, to which eyes adapt (common practice)."""


def needs(transfer: str | None, primaries: str | None) -> bool:
    """Whether an ordinary screen shows such a picture wrongly."""
    return transfer in ("smpte2084", "arib-std-b67") or _corners(primaries) != "bt709"


@cache
def cube(tone: Tone) -> str:
    """The table as text of a .cube file, red fastest."""
    steps = np.linspace(0.0, 1.0, SIDE)
    blue, green, red = np.meshgrid(steps, steps, steps, indexing="ij")
    codes = converted(np.stack((red, green, blue), axis=-1).reshape(-1, 3), tone)
    lines = "\n".join(f"{r:.6f} {g:.6f} {b:.6f}" for r, g, b in codes)
    return f"LUT_3D_SIZE {SIDE}\n{lines}\n"


def converted(codes: Array, tone: Tone) -> Array:
    """RGB codes, 0 to 1 in rows of three, as an ordinary screen must get them."""
    light = _light_cd_m2(codes, tone.transfer)
    if tone.transfer in ("smpte2084", "arib-std-b67"):
        light = _rolled_off(light)
    shown = light / WHITE_CD_M2 @ _matrix(_corners(tone.primaries)).T
    return np.clip(shown, 0.0, 1.0) ** (1 / SCREEN_GAMMA)


def _light_cd_m2(codes: Array, transfer: str | None) -> Array:
    if transfer == "smpte2084":
        return pq_light_cd_m2(codes)
    if transfer == "arib-std-b67":
        return hlg_light_cd_m2(codes)
    return np.asarray(WHITE_CD_M2 * codes**SCREEN_GAMMA)


def pq_light_cd_m2(codes: Array) -> Array:
    """Light on the screen (SMPTE ST 2084)."""
    power = codes ** (1 / M2)
    return np.asarray(10_000 * (np.maximum(power - C1, 0) / (C2 - C3 * power)) ** (1 / M1))


def pq_code(light_cd_m2: Array) -> Array:
    """The inverse."""
    power = np.clip(light_cd_m2 / 10_000, 0, 1) ** M1
    return np.asarray(((C1 + C2 * power) / (1 + C3 * power)) ** M2)


def hlg_light_cd_m2(codes: Array) -> Array:
    """Light on a screen of 1,000 cd/m2 (ITU-R BT.2100: inverse OETF, then OOTF)."""
    scene = np.where(codes <= 0.5, codes**2 / 3, (np.exp((codes - HLG_C) / HLG_A) + HLG_B) / 12)
    luminance = (scene @ LUMA_2020)[:, None]
    return np.asarray(PEAK_CD_M2 * np.maximum(luminance, 1e-9) ** (HLG_GAMMA - 1) * scene)


def _rolled_off(light_cd_m2: Array) -> Array:
    """The highlights of a bright screen in the range of an ordinary one: the brightest of red, green and blue
    follows the curve, and the others keep their ratio to it, so that colours keep their hue."""
    brightest = light_cd_m2.max(axis=1, keepdims=True)
    lowered = eetf_cd_m2(np.minimum(brightest, PEAK_CD_M2))
    return np.asarray(light_cd_m2 * np.where(brightest > 0, lowered / np.maximum(brightest, 1e-9), 0))


def eetf_cd_m2(light_cd_m2: Array) -> Array:
    """ITU-R BT.2390: a straight line up to a knee in PQ codes, then a Hermite spline; blacks stay."""
    white, most = float(pq_code(np.array(PEAK_CD_M2))), float(pq_code(np.array(WHITE_CD_M2)))
    codes, ceiling = pq_code(light_cd_m2) / white, most / white
    knee = 1.5 * ceiling - 0.5
    t = np.clip((codes - knee) / (1 - knee), 0, 1)
    bent = (
        (2 * t**3 - 3 * t**2 + 1) * knee
        + (t**3 - 2 * t**2 + t) * (1 - knee)
        + (-2 * t**3 + 3 * t**2) * ceiling
    )
    return pq_light_cd_m2(np.where(codes < knee, codes, bent) * white)


def _corners(primaries: str | None) -> str:
    name = SAME_CORNERS.get(primaries or "", primaries or "bt709")
    return name if name in CORNERS else "bt709"


def _matrix(corners: str) -> Array:
    """Linear light of these primaries as that of BT.709 (SMPTE RP 177, from memory)."""
    if corners == "bt709":
        return np.eye(3)
    return np.asarray(np.linalg.inv(_to_xyz("bt709")) @ _to_xyz(corners))


def _to_xyz(corners: str) -> Array:
    columns = np.array([(x / y, 1.0, (1 - x - y) / y) for x, y in CORNERS[corners]]).T
    white = np.array((D65[0] / D65[1], 1.0, (1 - D65[0] - D65[1]) / D65[1]))
    return np.asarray(columns * np.linalg.solve(columns, white))
