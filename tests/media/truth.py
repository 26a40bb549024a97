"""What a recipe is known to make, written in one line and read back as facts by name.

It must not know how our readers work: these are the facts that were asked for.

A line has the container, the picture and each sound, with `;` between them: "MP4; H.264 High 25 8 4:2:0
progressive turned=90; AAC 48000 2". The picture is its codec, profile (`-` for none, `_` for a space),
pictures a second, bits, chroma format and scan; then, where they are not the usual, `turned` in degrees
clockwise, `pixel` shape, `colour` primaries/transfer, and `variable`.
"""

from __future__ import annotations

from fractions import Fraction
from typing import Any

Answers = dict[str, Any]
"""Facts by name; the same names for what was asked for, what we find and what ffprobe finds."""


def truth_of(line: str, size: str) -> Answers:
    """The facts of a truth line for a picture of `size` ("320x180"; "" for none)."""
    container, *parts = [part.strip() for part in line.split(";")]
    picture = _picture(parts.pop(0), size) if size else {}
    return {"container": container, **picture, "sound": tuple(_sound(part) for part in parts)}


def _picture(text: str, size: str) -> Answers:
    codec, profile, rate, bits, chroma, scan, *rest = text.split()
    extra = dict(word.partition("=")[::2] for word in rest)
    width, height = size.split("x")
    primaries, _, transfer = extra.get("colour", "").partition("/")
    return {
        "codec": codec,
        "profile": None if profile == "-" else profile.replace("_", " "),
        "width": int(width),
        "height": int(height),
        "pixel_aspect": Fraction(extra.get("pixel", "1")),
        "rotation": int(extra.get("turned", "0")),
        "frame_rate": Fraction(rate),
        "frame_rate_mode": "variable" if "variable" in extra else "constant",
        "bit_depth": int(bits),
        "chroma": chroma,
        "scan": None if scan == "-" else scan,
        "colour_primaries": primaries or None,
        "colour_transfer": transfer or None,
    }


def _sound(text: str) -> tuple[str, int, int]:
    codec, rate, channels = text.split()
    return codec, int(rate), int(channels)
