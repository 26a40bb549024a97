"""Which pictures of a library may be in a photo: by visual words, and by small pictures of a found screen.

It must not verify: what comes out is a short list.
Sources: J. Sivic, A. Zisserman, "Video Google", ICCV 2003 (words, inverted lists, idf); H. Jegou, M. Douze,
C. Schmid, "Hamming embedding and weak geometric consistency", ECCV 2008 (signatures within a word).
"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import replace
from functools import cache
from importlib import resources

import cv2
import numpy as np
from numpy.typing import NDArray

from mediacheck.identify.features import LENGTH, Points

BITS = 64
HAMMING_MAX = 24
SOFT = 2
"""So many words each point of a photo may be."""
GRID = (32, 18)
SMOOTH_PX = 5.0
"""What is broader than this is light and shade: it is taken out of small pictures."""

Floats = NDArray[np.float32]


@cache
def vocabulary() -> Floats:
    """Words, (n, 128), that `benchmarks/identify_train.py` learned."""
    with resources.files("mediacheck.identify").joinpath("words.npy").open("rb") as file:
        return np.asarray(np.load(file), np.float32)


@cache
def vocabulary_mark() -> bytes:
    """By which words are known to be of this vocabulary: 16 bytes."""
    return hashlib.sha256(vocabulary().tobytes()).digest()[:16]


@cache
def _projection() -> Floats:
    """Directions by whose signs two descriptors of one word are told apart; the same on every machine."""
    return np.random.default_rng(64).standard_normal((LENGTH, BITS)).astype(np.float32)


def words_of(descriptors: NDArray[np.uint8], count: int) -> NDArray[np.int64]:
    """The nearest words of each descriptor, (n, count), the nearest first."""
    words = vocabulary()
    some = descriptors.astype(np.float32)
    distance = (words * words).sum(axis=1)[None, :] - 2 * (some @ words.T)
    rows, found = np.arange(len(some)), []
    for _ in range(count):
        found.append(distance.argmin(axis=1))
        distance[rows, found[-1]] = np.inf
    return np.stack(found, axis=1)


def _signatures(descriptors: NDArray[np.uint8], words: NDArray[np.int64]) -> NDArray[np.uint64]:
    off = descriptors.astype(np.float32) - vocabulary()[words]
    bits = np.packbits(off @ _projection() > 0, axis=1)
    return np.ascontiguousarray(bits).view(np.uint64).reshape(-1)


def worded(points: Points) -> Points:
    """The same points with their words and signatures."""
    if points.words is not None and points.signatures is not None:
        return points
    words = _in_parts(points.descriptors)
    signatures = _signatures(points.descriptors, words)
    return replace(points, words=words.astype(np.uint16), signatures=signatures)


def _bit_counts(values: NDArray[np.uint64]) -> NDArray[np.uint8]:
    as_bytes = values.view(np.uint8).reshape(-1, 8)
    return np.asarray(_ONES[as_bytes].sum(axis=1), np.uint8)


_ONES = np.array([bin(value).count("1") for value in range(256)], np.uint8)


class WordIndex:
    """All pictures of a library by their words."""

    def __init__(self, pictures: Sequence[Points]) -> None:
        known = [worded(points) for points in pictures]
        words = np.concatenate([p.words for p in known if p.words is not None] or [np.empty(0, np.uint16)])
        signatures = [p.signatures for p in known if p.signatures is not None]
        self._of = np.repeat(np.arange(len(pictures)), [len(p) for p in pictures])
        self._count = len(pictures)
        order = np.argsort(words, kind="stable")
        self._of = self._of[order]
        self._signatures = np.concatenate(signatures or [np.empty(0, np.uint64)])[order]
        size = len(vocabulary())
        self._starts = np.searchsorted(words[order], np.arange(size + 1))
        holding = np.zeros(size)
        pairs = np.unique(
            words.astype(np.int64) * max(1, self._count)
            + np.repeat(np.arange(len(pictures)), [len(p) for p in pictures])
        )
        np.add.at(holding, pairs // max(1, self._count), 1)
        self._idf = np.log((self._count + 1) / (holding + 1)).astype(np.float32)
        self._norm = np.sqrt(np.maximum(20, np.bincount(self._of, minlength=self._count))).astype(np.float32)

    def votes(self, points: Points) -> Floats:
        """How much each picture of the library has in common with these points."""
        if not len(points) or not self._count:
            return np.zeros(self._count, np.float32)
        words = words_of(points.descriptors, SOFT)
        weight_of_point = np.zeros(len(self._of), np.float32)
        for rank in range(SOFT):
            self._vote(points.descriptors, words[:, rank], weight_of_point)
        return np.asarray(np.bincount(self._of, weight_of_point, self._count).astype(np.float32) / self._norm)

    def _vote(self, descriptors: NDArray[np.uint8], words: NDArray[np.int64], weights: Floats) -> None:
        """Each point of the library gets one vote at most, its best one: one thing that repeats in a photo
        would outvote all others."""
        starts, counts = self._starts[words], self._starts[words + 1] - self._starts[words]
        total = int(counts.sum())
        if not total:
            return
        firsts = np.repeat(starts - np.r_[0, counts.cumsum()[:-1]], counts)
        places = firsts + np.arange(total)
        asked = np.repeat(_signatures(descriptors, words), counts)
        off = _bit_counts(asked ^ self._signatures[places])
        near = off <= HAMMING_MAX
        gain = np.exp(-((off[near].astype(np.float32) / 16.0) ** 2))
        gain *= np.repeat(self._idf[words], counts)[near]
        np.maximum.at(weights, places[near], gain)


def _in_parts(descriptors: NDArray[np.uint8], at_once: int = 20_000) -> NDArray[np.int64]:
    parts = [words_of(descriptors[at : at + at_once], 1)[:, 0] for at in range(0, len(descriptors), at_once)]
    return np.concatenate(parts) if parts else np.empty(0, np.int64)


def plain(pictures: Sequence[NDArray[np.uint8]]) -> Floats:
    """Small pictures without light and shade, each a row of length 1."""
    rows = [_plain(picture) for picture in pictures]
    return np.stack(rows) if rows else np.empty((0, GRID[0] * GRID[1]), np.float32)


def _plain(picture: NDArray[np.uint8]) -> Floats:
    grey = cv2.cvtColor(picture, cv2.COLOR_RGB2GRAY)
    small = cv2.resize(grey, GRID, interpolation=cv2.INTER_AREA).astype(np.float32)
    fine = small - cv2.GaussianBlur(small, (0, 0), SMOOTH_PX)
    flat = (fine / (6.0 + cv2.GaussianBlur(np.abs(fine), (0, 0), SMOOTH_PX))).reshape(-1)
    flat = flat - flat.mean()
    return np.asarray(flat / max(1e-3, float(np.linalg.norm(flat))), np.float32)
