"""What comes through the pipe is unwrapped with its kind, shape and time."""

from __future__ import annotations

import io
import subprocess
from collections import Counter
from pathlib import Path
from typing import BinaryIO, cast

import numpy as np
import pytest

from mediacheck.measure.graph import Plan, plan
from mediacheck.measure.pieces import Piece, pieces
from mediacheck.media.facts import MediaFacts
from mediacheck.media.read import read_facts
from tests.conftest import ClipFactory
from tests.media.recipe import Variant

CLIP = Variant(
    "pieces-portrait.mkv",
    "-c:v libx264 -preset ultrafast -pix_fmt yuv420p -c:a pcm_s16le",
    "",
    size="90x160",
    sound="5.1@44100",
)


@pytest.fixture
def output(clip: ClipFactory, ffmpeg: str) -> tuple[bytes, Plan]:
    """All that the process writes, and its plan."""
    place = clip(CLIP)
    facts = read_facts(place, place.name)
    assert isinstance(facts, MediaFacts)
    work = plan(Path(ffmpeg), f"file:{place}", facts, 2)
    return subprocess.run(work.command, capture_output=True, check=True, timeout=60).stdout, work


def unwrapped(data: bytes, work: Plan) -> list[Piece]:
    return list(pieces(cast("BinaryIO", io.BytesIO(data)), work))


def test_every_picture_comes_small_and_others_now_and_then(output: tuple[bytes, Plan]) -> None:
    found = unwrapped(*output)
    shapes = {(piece.kind, piece.data.shape) for piece in found if piece.kind != "sound"}
    assert shapes == {
        ("small", (160, 90, 3)),
        ("columns", (160, 32)),
        ("rows", (18, 90)),
        ("thumbnail", (360, 202, 3)),
    }
    assert Counter(piece.kind for piece in found if piece.kind != "sound") == {
        "small": 25, "columns": 8, "rows": 4, "thumbnail": 2,
    }  # fmt: skip


def test_pictures_come_in_order_with_their_times(output: tuple[bytes, Plan]) -> None:
    found = unwrapped(*output)
    times = {kind: [piece.second for piece in found if piece.kind == kind] for kind in ("small", "columns")}
    assert times["small"] == pytest.approx([number / 25 for number in range(25)], abs=0.0006)
    pairs = [number / 25 for number in (0, 1, 7, 8, 14, 15, 21, 22)]
    assert times["columns"] == pytest.approx(pairs, abs=0.0006)


def test_sound_comes_whole_at_its_own_rate(output: tuple[bytes, Plan]) -> None:
    blocks = [piece for piece in unwrapped(*output) if piece.kind == "sound"]
    assert {(piece.sample_rate, piece.data.shape[1], piece.data.dtype) for piece in blocks} == {
        (44100, 6, np.dtype(np.float32))
    }
    assert sum(len(piece.data) for piece in blocks) == 44100
    heard = np.cumsum([0] + [len(piece.data) for piece in blocks])[:-1] / 44100
    # Matroska keeps times in milliseconds.
    assert [piece.second for piece in blocks] == pytest.approx(heard.tolist(), abs=0.001)


def test_a_piece_stays_as_it_came(output: tuple[bytes, Plan]) -> None:
    """Gauges keep pictures without a copy."""
    data, work = output
    found = [(piece, piece.data.copy()) for piece in pieces(cast("BinaryIO", io.BytesIO(data)), work)]
    assert all(np.array_equal(piece.data, then) for piece, then in found)
    assert not any(piece.data.flags.writeable for piece, _ in found)


@pytest.mark.parametrize("share", [0.0, 0.001, 0.3, 0.9])
def test_where_the_process_ends_early_what_came_before_counts(
    output: tuple[bytes, Plan], share: float
) -> None:
    data, work = output
    whole, part = unwrapped(data, work), unwrapped(data[: round(share * len(data))], work)
    assert len(part) < len(whole)
    assert [(piece.kind, piece.second) for piece in part] == [
        (piece.kind, piece.second) for piece in whole[: len(part)]
    ]
    assert all(np.array_equal(a.data, b.data) for a, b in zip(part[:-1], whole, strict=False))


def test_sound_that_begins_before_the_picture_is_timed_from_the_picture(ffmpeg: str) -> None:
    """Two seconds of sound; the picture comes a second later."""
    inputs = "-f lavfi -i sine=r=8000:d=2 -itsoffset 1 -f lavfi -i color=s=4x2:r=10:d=1"
    maps = "-map 1:v -map 1:v -map 1:v -map 0:a -pix_fmt:v:0 rgb24 -pix_fmt:v:1 gray -pix_fmt:v:2 gray"
    command = [ffmpeg, "-v", "error", *inputs.split(), *maps.split(), "-c:v", "rawvideo", "-c:a", "pcm_f32le"]
    data = subprocess.run([*command, "-f", "nut", "-"], capture_output=True, check=True, timeout=60).stdout
    found = unwrapped(data, Plan((), (4, 2), has_sound=True, thumbnails=0))
    pictures = [piece.second for piece in found if piece.kind == "small"]
    assert pictures == pytest.approx([number / 10 for number in range(10)])
    sound = [piece for piece in found if piece.kind == "sound"]
    heard = np.cumsum([0] + [len(piece.data) for piece in sound]) / 8000
    assert heard[-1] == 2
    assert [piece.second for piece in sound] == pytest.approx((heard[:-1] - 1).tolist(), abs=1e-6)
