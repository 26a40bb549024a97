"""Small pictures for a page that stands alone: frames as a viewer sees them, as `data:` URIs."""

from __future__ import annotations

import base64
import io
from collections.abc import Mapping

from mediacheck.measure.model import Picture
from mediacheck.report.model import ScreenShape
from mediacheck.sheet.screen_view import marked, seen_shape, size_px, view

LONG_SIDE_PX = 320
QUALITY = 80


def data_uris(
    pictures: Mapping[str, tuple[Picture, ...]], screen: ScreenShape, count: int
) -> dict[str, tuple[str, ...]]:
    """Up to `count` JPEG frames of each item by path, evenly chosen, drawn on the profile's screen."""
    return {
        path: tuple(data_uri(picture, screen) for picture in _chosen(frames, count))
        for path, frames in pictures.items()
    }


def _chosen(frames: tuple[Picture, ...], count: int) -> tuple[Picture, ...]:
    if len(frames) <= count:
        return frames
    return tuple(frames[(2 * place + 1) * len(frames) // (2 * count)] for place in range(count))


def data_uri(picture: Picture, screen: ScreenShape, long_side_px: int = LONG_SIDE_PX) -> str:
    """One frame on the screen, as a JPEG."""
    size = size_px(seen_shape(screen, picture), long_side_px)
    packed = io.BytesIO()
    marked(view(picture, screen, size), screen).save(packed, "JPEG", quality=QUALITY)
    return "data:image/jpeg;base64," + base64.b64encode(packed.getvalue()).decode("ascii")
