"""Stills say what they are: files written by Pillow, whole, cut and damaged."""

from __future__ import annotations

import io
import random
import struct
import warnings
import zlib
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from mediacheck.media.facts import MediaFacts, StillFacts, Unreadable
from mediacheck.media.stills import read

NOISE = Image.effect_noise((64, 48), 80)
KINDS = ("JPEG", "PNG", "BMP", "GIF", "WEBP")


def written(mode: str, kind: str, **options: Any) -> bytes:
    file = io.BytesIO()
    NOISE.convert(mode).save(file, kind, **options)
    return file.getvalue()


def still_of(location: Path, data: bytes) -> StillFacts:
    location.write_bytes(data)
    facts = read(location)
    assert isinstance(facts, MediaFacts)
    assert (facts.kind, facts.video, facts.audio, facts.duration) == ("still", None, (), None)
    assert facts.still is not None
    return facts.still


def still(kind: str, colour: str, bits: int, **more: Any) -> StillFacts:
    return replace(StillFacts(kind, 64, 48, False, colour, bits), **more)


@pytest.mark.parametrize(
    ("mode", "kind", "options", "expected"),
    [
        ("RGB", "JPEG", {}, still("JPEG", "RGB", 8)),
        ("RGB", "JPEG", {"progressive": True}, still("JPEG", "RGB", 8, progressive=True)),
        ("L", "JPEG", {}, still("JPEG", "grey", 8)),
        ("CMYK", "JPEG", {}, still("JPEG", "CMYK", 8)),
        ("RGB", "PNG", {}, still("PNG", "RGB", 8)),
        ("RGBA", "PNG", {}, still("PNG", "RGBA", 8)),
        ("LA", "PNG", {}, still("PNG", "RGBA", 8)),
        ("P", "PNG", {}, still("PNG", "palette", 8)),
        ("1", "PNG", {}, still("PNG", "grey", 1)),
        ("I;16", "PNG", {}, still("PNG", "grey", 16)),
        ("RGB", "BMP", {}, still("BMP", "RGB", 8)),
        ("1", "BMP", {}, still("BMP", "grey", 1)),
        ("P", "GIF", {}, still("GIF", "palette", 8)),
        ("RGB", "WEBP", {}, still("WebP", "RGB", 8)),
        ("RGBA", "WEBP", {"lossless": True}, still("WebP", "RGB", 8)),
    ],
)
def test_files_of_pillow(
    mode: str, kind: str, options: dict[str, Any], expected: StillFacts, tmp_path: Path
) -> None:
    """Format, size, colour, bits; WebP drops an alpha channel that is opaque all over."""
    assert still_of(tmp_path / "still", written(mode, kind, **options)) == expected


def test_a_16_bit_colour_png_says_so(tmp_path: Path) -> None:
    """Pillow cannot write one, and reads it as 8 bits: the depth is that of the header (IHDR, byte 8)."""

    def chunk(kind: bytes, content: bytes) -> bytes:
        return (
            struct.pack(">I", len(content)) + kind + content + struct.pack(">I", zlib.crc32(kind + content))
        )

    header = struct.pack(">IIBBBBB", 64, 48, 16, 2, 0, 0, 0)
    lines = zlib.compress((b"\x00" + bytes(64 * 6)) * 48)
    data = b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + chunk(b"IDAT", lines) + chunk(b"IEND", b"")
    assert still_of(tmp_path / "still", data) == still("PNG", "RGB", 16)


def test_ycck_is_told_from_cmyk(tmp_path: Path) -> None:
    """By the transform byte of the Adobe segment."""
    data = written("CMYK", "JPEG")
    at = data.index(b"Adobe") + 11
    found = still_of(tmp_path / "still", data[:at] + b"\x02" + data[at + 1 :])
    assert found == still("JPEG", "YCCK", 8)


def test_the_frames_of_an_animation_are_counted(tmp_path: Path) -> None:
    others = [NOISE.rotate(90 * turn).convert("P") for turn in (1, 2)]
    data = written("P", "GIF", save_all=True, append_images=others)
    assert still_of(tmp_path / "still", data).frames == 3


def test_a_jpeg_with_a_second_picture_behind_it_is_a_jpeg(tmp_path: Path) -> None:
    """Phones write such files; Pillow calls them MPO."""
    data = written("RGB", "MPO", save_all=True, append_images=[NOISE.convert("RGB")])
    assert still_of(tmp_path / "still", data) == still("JPEG", "RGB", 8, frames=2)


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("share", [0.5, 0.8, 0.95])
def test_a_file_that_ends_early_is_damaged(kind: str, share: float, tmp_path: Path) -> None:
    """WebP is unpacked whole or not at all: its header counts as the picture."""
    whole = written("RGB", kind)
    location = tmp_path / "still"
    location.write_bytes(whole[: int(share * len(whole))])
    facts = read(location)
    if kind == "WEBP":
        assert isinstance(facts, Unreadable)
    else:
        assert isinstance(facts, MediaFacts)
        assert facts.still is not None
        assert facts.still.damaged == "the file ends before the picture does"
        assert (facts.still.width, facts.still.height) == (64, 48)


def test_a_whole_file_is_not_damaged(tmp_path: Path) -> None:
    for kind in KINDS:
        assert still_of(tmp_path / kind, written("RGB", kind)).damaged is None


@pytest.mark.parametrize("data", [b"", b"not a picture", b"\xff\xd8\xff", b"\x89PNG\r\n\x1a\n", b"GIF89a"])
def test_what_is_no_picture_is_unreadable(data: bytes, tmp_path: Path) -> None:
    (tmp_path / "still").write_bytes(data)
    assert isinstance(read(tmp_path / "still"), Unreadable)


def test_a_claim_of_too_many_pixels_is_unreadable_and_nothing_is_printed(tmp_path: Path) -> None:
    """A header of 60,000 x 60,000 pixels in a small file would take 10 GB to unpack."""
    bmp = bytearray(written("RGB", "BMP"))
    for side, pixels in (("huge", 60_000), ("large", 11_000)):
        bmp[18:26] = pixels.to_bytes(4, "little") * 2
        (tmp_path / side).write_bytes(bmp)
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        assert read(tmp_path / "huge") == Unreadable("still", "it claims more pixels than any screen has")
        large = read(tmp_path / "large")
    assert isinstance(large, MediaFacts)
    assert large.still is not None
    assert large.still.damaged == "the file ends before the picture does"


def test_a_file_that_is_not_there_raises_oserror(tmp_path: Path) -> None:
    with pytest.raises(FileNotFoundError):
        read(tmp_path / "missing")


@settings(max_examples=200, deadline=None)
@given(kind=st.sampled_from(KINDS), seed=st.integers(0, 10_000), changes=st.integers(1, 12))
def test_any_change_of_bytes_gives_facts_or_a_reason(
    kind: str, seed: int, changes: int, tmp_path_factory: pytest.TempPathFactory
) -> None:
    """Broken headers, chunks, tables and picture data; never an exception."""
    data = bytearray(written("P" if kind == "GIF" else "RGB", kind))
    chance = random.Random(seed)
    for _ in range(changes):
        reach = 60 if chance.random() < 0.5 else len(data)
        data[chance.randrange(min(reach, len(data)))] = chance.randrange(256)
    location = tmp_path_factory.getbasetemp() / "changed"
    location.write_bytes(data)
    assert isinstance(read(location), MediaFacts | Unreadable)
