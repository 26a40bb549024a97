"""What is kept of an item as the bytes of one small file, and back.

It must not trust a file: whatever is in it, the answer is an item or one sentence.
"""

from __future__ import annotations

import io
import zipfile
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from mediacheck.errors import LibraryError
from mediacheck.identify.features import LENGTH, Points
from mediacheck.identify.index import SMALL, ItemIndex, Keyframe
from mediacheck.identify.retrieve import vocabulary, vocabulary_mark, worded
from mediacheck.identify.traces import HEIGHT, WIDTH, Trace

VERSION = 2
PLACES_PX = 64.0
"""Places are kept to a 64th of a pixel."""
QUALITY = 88
"""Of the small pictures (JPEG)."""
UNPACKED_MAX_BYTES = 400_000_000
"""More than two hours of film take; what unpacks to more is no item."""
SHAPES = {
    "version": (1,), "seconds": (1,), "trace": (-1, HEIGHT, WIDTH), "times": (-1, 2), "sizes": (-1, 2),
    "jpeg": (-1,), "lengths": (-1,), "counts": (-1,), "places": (-1, 2), "strength": (-1, 1),
    "descriptors": (-1, LENGTH), "vocabulary": (16,), "words": (-1,), "signatures": (-1,),
}  # fmt: skip
"""Of what is kept; -1: any length."""
POINTWISE = ("places", "strength", "descriptors", "words", "signatures")
JPEG_START = b"\xff\xd8"
BROKEN = (
    cv2.error,
    ValueError,
    KeyError,
    OSError,
    zipfile.BadZipFile,
    EOFError,
    IndexError,
    TypeError,
    MemoryError,
)


def packed(item: ItemIndex) -> bytes:
    """The item as bytes; the same item gives the same bytes."""
    frames = item.keyframes
    points = [worded(frame.points) for frame in frames]
    jpegs = [_jpeg(frame.small) for frame in frames]
    arrays = {
        "version": np.array([VERSION]),
        "seconds": np.array([item.seconds]),
        "trace": item.trace.pictures,
        "times": np.array([(frame.second, frame.until_s) for frame in frames], np.float64).reshape(-1, 2),
        "sizes": np.array([frame.size_px for frame in frames], np.int32).reshape(-1, 2),
        "jpeg": np.frombuffer(b"".join(jpegs), np.uint8),
        "lengths": np.array([len(jpeg) for jpeg in jpegs], np.int64),
        "counts": np.array([len(frame.points) for frame in frames], np.int64),
        "places": _joined(
            [np.rint(f.points.places * PLACES_PX).astype(np.uint16) for f in frames], 2, np.uint16
        ),
        "strength": _joined([f.points.strength[:, None] for f in frames], 1, np.float32).astype(np.float16),
        "descriptors": _joined([frame.points.descriptors for frame in frames], LENGTH, np.uint8),
        "vocabulary": np.frombuffer(vocabulary_mark(), np.uint8),
        "words": _row([point.words for point in points], np.uint16),
        "signatures": _row([point.signatures for point in points], np.uint64),
    }
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, array in arrays.items():
            part = io.BytesIO()
            np.lib.format.write_array(part, np.ascontiguousarray(array), allow_pickle=False)
            archive.writestr(zipfile.ZipInfo(f"{name}.npy"), part.getvalue(), zipfile.ZIP_DEFLATED)
    return made.getvalue()


def unpacked(content: bytes, called: str) -> ItemIndex:
    """The item that bytes hold; `called` is their name in the LibraryError."""
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as archive:
            if sum(part.file_size for part in archive.infolist()) > UNPACKED_MAX_BYTES:
                raise ValueError("far too large")
        with np.load(io.BytesIO(content), allow_pickle=False) as kept:
            if int(kept["version"][0]) != VERSION:
                raise LibraryError(
                    f"{called} was made by another version of mediacheck: index its loop again."
                )
            return _item(_checked({name: kept[name] for name in SHAPES}))
    except BROKEN as error:
        raise LibraryError(f"{called} is damaged: index its loop again.") from error


def _checked(kept: dict[str, NDArray[np.generic]]) -> dict[str, NDArray[np.generic]]:
    """The same, where all of it has the shapes and lengths that it is written with. ValueError."""
    for name, shape in SHAPES.items():
        there = kept[name].shape
        same = len(there) == len(shape) and all(w in (-1, t) for w, t in zip(shape, there, strict=True))
        if not same or kept[name].dtype.kind not in "uif":
            raise ValueError(f"{name} has another shape")
    frames = len(kept["counts"])
    points, jpegs = int(kept["counts"].sum()), int(kept["lengths"].sum())
    fits = [
        all(len(kept[name]) == frames for name in ("times", "sizes", "lengths")),
        all(len(kept[name]) == points for name in POINTWISE),
        len(kept["jpeg"]) == jpegs,
        not frames or int(kept["counts"].min()) >= 0,
        not frames or int(kept["lengths"].min()) > 0,
        not frames or int(kept["sizes"].min()) >= 2,
        all(np.isfinite(kept[name]).all() for name in ("times", "seconds", "strength")),
    ]
    if not all(fits):
        raise ValueError("its parts do not fit each other")
    return kept


def _item(kept: dict[str, NDArray[np.generic]]) -> ItemIndex:
    trace = np.asarray(kept["trace"], np.uint8).reshape(-1, HEIGHT, WIDTH)
    ends = np.cumsum(kept["counts"])
    jpeg_ends = np.cumsum(kept["lengths"])
    ours = kept["vocabulary"].tobytes() == vocabulary_mark()
    words = np.asarray(kept["words"], np.uint16)
    if ours and len(words) and int(words.max()) >= len(vocabulary()):
        raise ValueError("no such word")
    frames = []
    for number, (end, jpeg_end) in enumerate(zip(ends, jpeg_ends, strict=True)):
        some = slice(int(end - kept["counts"][number]), int(end))
        jpeg = kept["jpeg"][int(jpeg_end - kept["lengths"][number]) : int(jpeg_end)]
        points = Points(
            kept["places"][some].astype(np.float32) / PLACES_PX,
            np.asarray(kept["descriptors"][some], np.uint8),
            kept["strength"][some, 0].astype(np.float32),
            words[some] if ours else None,
            np.asarray(kept["signatures"][some], np.uint64) if ours else None,
        )
        second, until_s = (float(time) for time in kept["times"][number])
        size = int(kept["sizes"][number][0]), int(kept["sizes"][number][1])
        frames.append(Keyframe(second, until_s, size, _small(np.asarray(jpeg, np.uint8)), points))
    return ItemIndex(float(kept["seconds"][0]), tuple(frames), Trace(trace))


def _joined(parts: list[NDArray[np.generic]], width: int, kind: type[np.generic]) -> NDArray[np.generic]:
    return np.concatenate(parts) if parts else np.empty((0, width), kind)


def _row(parts: list[NDArray[Any] | None], kind: type[np.generic]) -> NDArray[Any]:
    return np.concatenate([part for part in parts if part is not None] or [np.empty(0, kind)])


def _jpeg(small: NDArray[np.uint8]) -> bytes:
    _, made = cv2.imencode(".jpg", small[:, :, ::-1], [cv2.IMWRITE_JPEG_QUALITY, QUALITY])
    return made.tobytes()


def _small(jpeg: NDArray[np.uint8]) -> NDArray[np.uint8]:
    if jpeg[:2].tobytes() != JPEG_START:
        raise ValueError("no small picture")
    found = cv2.imdecode(jpeg, cv2.IMREAD_COLOR)
    if found is None or found.shape[:2] != SMALL[::-1]:
        raise ValueError("no small picture")
    return np.ascontiguousarray(found[:, :, ::-1])
