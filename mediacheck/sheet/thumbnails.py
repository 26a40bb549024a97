"""Small pictures for a page that stands alone: frames as a viewer sees them, as `data:` URIs."""

from __future__ import annotations

import base64
import io
from collections.abc import Mapping

from mediacheck.measure.model import Picture
from mediacheck.report.model import ScreenShape
from mediacheck.sheet.screen_view import seen_shape, view

LONG_SIDE_PX = 320
QUALITY = 80


def data_uris(
    pictures: Mapping[str, tuple[Picture, ...]], screen: ScreenShape, count: int
) -> dict[str, tuple[str, ...]]:
    """Up to `count` JPEG frames of each item by path, evenly chosen, drawn on the profile's screen."""
    return {
        path: tuple(_data_uri(picture, screen) for picture in _chosen(frames, count))
        for path, frames in pictures.items()
    }


def _chosen(frames: tuple[Picture, ...], count: int) -> tuple[Picture, ...]:
    if len(frames) <= count:
        return frames
    return tuple(frames[(2 * place + 1) * len(frames) // (2 * count)] for place in range(count))


def _data_uri(picture: Picture, screen: ScreenShape) -> str:
    shape = seen_shape(screen, picture)
    across = LONG_SIDE_PX if shape >= 1 else max(1, round(LONG_SIDE_PX * shape))
    down = LONG_SIDE_PX if shape < 1 else max(1, round(LONG_SIDE_PX / shape))
    packed = io.BytesIO()
    view(picture, screen, (across, down)).save(packed, "JPEG", quality=QUALITY)
    return "data:image/jpeg;base64," + base64.b64encode(packed.getvalue()).decode("ascii")
