"""Whether a clip shows another thing than the item that it was laid on, block by block and moment by moment.

It must not look for the item, or for the moment.
"""

from __future__ import annotations

from collections.abc import Sequence

import cv2
import numpy as np
from numpy.typing import NDArray

from mediacheck.identify.traces import HEIGHT, WIDTH

BLOCK = (6, 8)
"""Rows and columns, of the 36 x 64 of a picture: 48 blocks."""
LATER, STILL = 2, 0.97
"""A block tells something where it looks like itself (by this correlation) so many moments later or before:
what moves is elsewhere in pictures of another rate."""
STANDING = 0.15
"""So many of the blocks that differ have to stand still: where most move, the others do not by chance."""
OTHER = 0.6
"""Correlation of one block below which the two show another thing there."""
TEXTURED = 7.0
"""Contrast of a block, in levels, from which it can be told."""
BRIGHTER, USUALLY = 14.0, 3.0
"""Difference of two blocks without contrast, in levels, from which it is no encoder's; and as many times what
nine in ten of them differ by."""
WHITE, BLACK = (170.0, 246.0), (10.0, 50.0)
"""A block this bright in both, and in one of them as bright as it gets, tells nothing; nor a dark one."""
BLUR_PX = 1.0
"""Of 64: a crop lies between two pixels, and has to be laid on as if it were less sharp."""
SAMPLES = 5
"""So many pictures say how the clip was cropped."""
SCALED, SHIFTED_PX = 0.3, 12.0
"""No crop is further off the one that was found first."""

Pictures = NDArray[np.uint8]
"""(n, 36, 64)."""
Floats = NDArray[np.float32]


def laid(
    clip: Pictures, item: Pictures, pairs: Sequence[tuple[int, int]]
) -> tuple[Pictures, NDArray[np.bool_]]:
    """The item's pictures laid on those of the clip, which may be a crop to one side, and which blocks of
    these they cover."""
    ordered = sorted(pairs, key=lambda pair: -float(clip[pair[0]].std()))
    samples = ordered[:: max(1, len(ordered) // SAMPLES)][:SAMPLES]
    warps = [np.eye(2, 3, dtype=np.float32)]
    for ours, theirs in samples:
        warps += _warp(clip[ours], item[theirs])
    warp = max(
        warps,
        key=lambda one: sum(_fits(clip[ours], moved_by(item[theirs], one)) for ours, theirs in samples),
    )
    inside = moved_by(np.full((HEIGHT, WIDTH), 255, np.uint8), warp, cv2.BORDER_CONSTANT).astype(np.float32)
    return np.stack([moved_by(one, warp) for one in item]), _blocks(inside).min(axis=1) > 250


def _warp(ours: NDArray[np.uint8], theirs: NDArray[np.uint8]) -> list[NDArray[np.float32]]:
    """From a picture of the clip to one of the item; nothing where they do not lie on each other."""
    criteria = (cv2.TERM_CRITERIA_EPS | cv2.TERM_CRITERIA_COUNT, 60, 1e-4)
    begin, everywhere = np.eye(2, 3, dtype=np.float32), np.full((HEIGHT, WIDTH), 255, np.uint8)
    try:
        _, found = cv2.findTransformECC(ours, theirs, begin, cv2.MOTION_AFFINE, criteria, everywhere, 3)
    except cv2.error:
        return []
    off = np.abs(found[:, :2] - np.eye(2)).max()
    return [np.asarray(found, np.float32)] if off < SCALED and np.abs(found[:, 2]).max() < SHIFTED_PX else []


def moved_by(
    picture: NDArray[np.uint8], warp: NDArray[np.float32], border: int = cv2.BORDER_REPLICATE
) -> NDArray[np.uint8]:
    how = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    return np.asarray(cv2.warpAffine(picture, warp, (WIDTH, HEIGHT), flags=how, borderMode=border), np.uint8)


def _fits(one: NDArray[np.uint8], other: NDArray[np.uint8]) -> float:
    return float(np.corrcoef(one.ravel(), other.ravel())[0, 1]) if one.std() and other.std() else 0.0


def differing(
    clip: Pictures,
    item: Pictures,
    pairs: Sequence[tuple[int, int]],
    inside: NDArray[np.bool_],
    cropped: bool,
) -> NDArray[np.bool_]:
    """Of each pair of moments, whether some block shows another thing, and shows it right beside as well.

    `inside`: the blocks that count.
    """
    if not pairs:
        return np.zeros(0, np.bool_)
    ours, theirs = (_softened(one, cropped) for one in (clip, item))
    near = np.array([[there - 1, there, there + 1] for _, there in pairs]).clip(0, len(item) - 1)
    told = [
        _compared(ours[here], theirs[there])
        for (here, _), row in zip(pairs, near, strict=True)
        for there in row
    ]
    like, level, contrast = (
        np.array(told, np.float32).reshape(len(pairs), 3, 3, -1).swapaxes(0, 2).swapaxes(1, 2)
    )
    still = _still(ours)[[here for here, _ in pairs]][:, None] & _still(theirs)[near]
    textured = contrast >= TEXTURED
    usual = float(np.percentile(np.abs(level[~textured]), 90)) if not textured.all() else 0.0
    off = np.where(textured, like < OTHER, np.abs(level) > max(BRIGHTER, USUALLY * usual))
    told, found = (off & still & inside).sum(axis=2), (off & inside).sum(axis=2)
    return np.asarray(((told > 0) & (told >= STANDING * found)).all(axis=1), np.bool_)


def _softened(pictures: Pictures, cropped: bool) -> Floats:
    some = pictures.astype(np.float32)
    return np.stack([cv2.GaussianBlur(one, (0, 0), BLUR_PX) for one in some]) if cropped else some


def _still(pictures: Floats) -> NDArray[np.bool_]:
    """Of each moment, the blocks that look the same a second later, or looked the same a second before."""
    found = np.zeros((len(pictures), (HEIGHT // BLOCK[0]) * (WIDTH // BLOCK[1])), np.bool_)
    for first in range(len(pictures) - LATER):
        like, level, contrast = _compared(pictures[first], pictures[first + LATER])
        same = np.where(contrast >= TEXTURED, like > STILL, np.abs(level) < BRIGHTER)
        found[first] |= same
        found[first + LATER] |= same
    return found


def _compared(one: Floats, other: Floats) -> tuple[Floats, Floats, Floats]:
    """Of each block: correlation, difference in levels, and contrast. Brightness and contrast of the whole do
    not count."""
    spread = float(other.std()) / max(1.0, float(one.std()))
    first, second = _blocks((one - one.mean()) * spread + other.mean()), _blocks(other)
    level = first.mean(axis=1) - second.mean(axis=1)
    contrast = np.maximum(first.std(axis=1), second.std(axis=1))
    first, second = first - first.mean(axis=1, keepdims=True), second - second.mean(axis=1, keepdims=True)
    length = np.linalg.norm(first, axis=1) * np.linalg.norm(second, axis=1)
    like = (first * second).sum(axis=1) / np.maximum(1e-3, length)
    spoiled = _spoiled(_blocks(one).mean(axis=1), _blocks(other).mean(axis=1))
    return np.where(spoiled, 1.0, like), np.where(spoiled, 0.0, level), contrast


def _spoiled(one: Floats, other: Floats) -> NDArray[np.bool_]:
    """Made brighter or darker, a block ends where a picture can get no brighter or darker."""
    white = (np.maximum(one, other) > WHITE[1]) & (np.minimum(one, other) > WHITE[0])
    black = (np.minimum(one, other) < BLACK[0]) & (np.maximum(one, other) < BLACK[1])
    return np.asarray(white | black, np.bool_)


def _blocks(picture: Floats) -> Floats:
    rows, columns = HEIGHT // BLOCK[0], WIDTH // BLOCK[1]
    parts = picture.reshape(rows, BLOCK[0], columns, BLOCK[1]).transpose(0, 2, 1, 3)
    return np.asarray(parts.reshape(rows * columns, -1), np.float32)
