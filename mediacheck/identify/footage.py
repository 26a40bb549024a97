"""The pictures of an item as a viewer sees them, a few each second, from one decode.

It must not choose or judge.
"""

from __future__ import annotations

from collections.abc import Iterator

import av
import cv2
import numpy as np
from av.stream import Disposition
from numpy.typing import NDArray

from mediacheck.measure.frames import pictures_of
from mediacheck.media.facts import MediaFacts
from mediacheck.media.opening import Location, open_container

Rgb = NDArray[np.uint8]
WIDTH, HEIGHT = 640, 360
STEP_S = 0.25
"""A picture of each quarter of a second."""
JUMP_S = 120.0
"""No picture stands so long: the clock of the file jumped, and a player goes on with the next picture."""
LONGEST_S = 7200.0
"""No loop is as long as this; what comes after it is left out, and memory stays bounded."""
TURNS = {90: cv2.ROTATE_90_COUNTERCLOCKWISE, 180: cv2.ROTATE_180, 270: cv2.ROTATE_90_CLOCKWISE}


def footage(location: Location, facts: MediaFacts, turned_degrees: int = 0) -> Iterator[tuple[float, Rgb]]:
    """Second and picture, RGB, fitted into 640 x 360 or 360 x 640; a still gives one.

    `turned_degrees`: how the panel hangs, clockwise; the picture is turned back to what a viewer sees. What
    cannot be decoded is left out.
    """
    frames = _still(location, facts) if facts.kind == "still" else _clip(location)
    for second, picture in frames:
        turned = cv2.rotate(picture, TURNS[turned_degrees]) if turned_degrees else picture
        yield second, np.asarray(turned, np.uint8)


def _still(location: Location, facts: MediaFacts) -> Iterator[tuple[float, Rgb]]:
    for picture in pictures_of(location, facts, 1, long_side_px=WIDTH):
        yield 0.0, np.frombuffer(picture.rgb, np.uint8).reshape(picture.height, picture.width, 3)


def _clip(location: Location) -> Iterator[tuple[float, Rgb]]:
    try:
        with open_container(location) as container:
            streams = container.streams.video
            stream = next((s for s in streams if not s.disposition & Disposition.attached_pic), None)
            if stream is None:
                return
            stream.thread_type = "AUTO"
            stream.codec_context.options = {"skip_loop_filter": "all"}
            next_s, first_s, second = 0.0, None, 0.0
            for frame in container.decode(stream):
                at_s = frame.time if frame.time is not None else next_s + (first_s or 0.0)
                first_s = at_s if first_s is None else first_s
                if at_s - first_s > second + JUMP_S:
                    first_s = at_s - next_s
                second = at_s - first_s
                if second > LONGEST_S:
                    return
                if second + 1e-6 >= next_s:
                    yield second, _fitted(frame)
                    next_s = (int(second / STEP_S + 1e-6) + 1) * STEP_S
    except (av.FFmpegError, OSError, ValueError):
        return  # the file breaks off here; what came before it counts


def _fitted(frame: av.VideoFrame) -> Rgb:
    across = float(frame.sample_aspect_ratio or 1) if hasattr(frame, "sample_aspect_ratio") else 1.0
    shape = frame.width * across / frame.height
    box = (WIDTH, HEIGHT) if shape >= 1 else (HEIGHT, WIDTH)
    scale = min(box[0] / shape, box[1])
    size = max(2, round(shape * scale)), max(2, round(scale))
    return np.asarray(frame.reformat(*size, format="rgb24", interpolation="AREA").to_ndarray())
