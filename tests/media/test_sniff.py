"""The first bytes of a file promise what the file is, whatever its name says."""

from __future__ import annotations

import io

import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from mediacheck.media.sniff import HEAD_BYTES, promised_by
from tests.conftest import ClipFactory
from tests.media.recipe import Variant
from tests.media.variants import VARIANTS


@pytest.mark.parametrize("variant", VARIANTS, ids=lambda variant: variant.file_name)
def test_each_variant_begins_as_its_container_does(variant: Variant, clip: ClipFactory) -> None:
    """Sound in an MP4 file cannot be told from a picture in one by its first bytes."""
    promise = promised_by(clip(variant).read_bytes()[:HEAD_BYTES])
    kind = "video" if variant.size or variant.file_name.endswith(".m4a") else "audio"
    assert promise == (kind, variant.truth["container"])


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "GIF", "BMP", "WebP"])
def test_each_still_begins_as_its_format_does(kind: str) -> None:
    file = io.BytesIO()
    Image.new("RGB", (4, 4)).save(file, kind)
    assert promised_by(file.getvalue()) == ("still", kind)


@pytest.mark.parametrize(("brand", "kind"), [(b"heic", "HEIC"), (b"mif1", "HEIC"), (b"avif", "AVIF")])
def test_stills_in_the_boxes_of_mp4_are_no_films(brand: bytes, kind: str) -> None:
    """ISO/IEC 23008-12: the major brand tells (from memory)."""
    assert promised_by(b"\x00\x00\x00\x1cftyp" + brand + bytes(16)) == ("still", kind)


@pytest.mark.parametrize(
    ("head", "promise"),
    [
        (b"\x00\x00\x00\x20ftypisom", ("video", "MP4")),
        (b"\x00\x00\x00\x14ftypqt  ", ("video", "MOV")),
        (b"\x00\x00\x00\x08wide\x00\x00\x10\x00mdat", ("video", "MP4")),
        (b"\x1a\x45\xdf\xa3" + bytes(60), ("video", "MKV")),
        (b"RIFF\x00\x00\x00\x00AVI LIST", ("video", "AVI")),
        (b"RIFF\x00\x00\x00\x00WAVEfmt ", ("audio", "WAV")),
        (b"\x00\x00\x01\xba\x44", ("video", "MPEG-PS")),
        (b"ID3\x04\x00", ("audio", "MP3")),
        (b"fLaC\x00", ("audio", "FLAC")),
        (b"OggS\x00", ("audio", "Ogg")),
        (b"RIFF\x00\x00\x00\x00ACON", None),
        (b"#EXTM3U\n", None),
        (b"GIF90a", None),
        (b"", None),
    ],
)
def test_signatures(head: bytes, promise: tuple[str, str] | None) -> None:
    assert promised_by(head) == promise


@pytest.mark.parametrize(("before", "step"), [(0, 188), (4, 192)])
def test_a_transport_stream_has_its_sync_byte_at_each_packet(before: int, step: int) -> None:
    """ISO/IEC 13818-1: 47h each 188 bytes; disc cameras put a 4-byte time before each packet."""
    packet = bytes(before) + b"\x47" + bytes(step - before - 1)
    assert promised_by(packet * 4) == ("video", "MPEG-TS")
    assert promised_by(packet * 2 + b"\x00" + packet * 2) is None


@given(st.binary(max_size=600))
def test_any_bytes_promise_something_or_nothing(head: bytes) -> None:
    promise = promised_by(head)
    assert promise is None or promise[0] in ("video", "audio", "still")
