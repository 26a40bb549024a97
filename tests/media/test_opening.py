"""Files are opened without decoding where that is enough, and no fact is lost by it."""

from __future__ import annotations

from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from mediacheck.media import libav
from mediacheck.media.facts import MediaFacts
from mediacheck.media.opening import OPTIONS, SKIM, SKIM_INDEXED, open_container
from mediacheck.media.sniff import HEAD_BYTES, promised_by
from tests.conftest import ClipFactory
from tests.media.footage import real_footage, sample_clips
from tests.media.recipe import Variant
from tests.media.variants import BY_NAME, VARIANTS

LARGE = Variant(
    "large-first-picture.mp4",
    "-c:v libx264 -preset ultrafast -profile:v high -pix_fmt yuv420p -qp 4 -c:a ac3 -movflags +faststart",
    "MP4; H.264 High 25 8 4:2:0 progressive; AC-3 48000 2",
    size="1280x720",
    seconds="0.4",
    sound="stereo@48000",
)
"""Its first picture alone is larger than all that is read ahead."""


def read(location: Path) -> MediaFacts:
    promise = promised_by(location.read_bytes()[:HEAD_BYTES])
    facts = libav.read(location, promise[1] if promise else None)
    assert isinstance(facts, MediaFacts)
    return facts


def same_when_decoded(location: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    skimmed = read(location)
    monkeypatch.setattr(libav, "_tells_all", lambda _: False)
    assert skimmed == read(location)


@pytest.mark.parametrize("variant", [*VARIANTS, LARGE], ids=lambda variant: variant.file_name)
def test_nothing_is_lost_by_not_decoding(
    variant: Variant, clip: ClipFactory, monkeypatch: pytest.MonkeyPatch
) -> None:
    """All facts are those that libavformat finds when it decodes first pictures, as ffprobe does."""
    same_when_decoded(clip(variant), monkeypatch)


@pytest.mark.parametrize("location", [*sample_clips(), *real_footage()], ids=lambda location: location.name)
def test_nothing_is_lost_on_sample_and_real_clips(location: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    same_when_decoded(location, monkeypatch)


@pytest.mark.parametrize(
    "name", ["h264-main-24.mp4", "h264-30.mov", "h264.ts", "h264-flac.mkv", "h264.avi", "h265-main.mp4"]
)
def test_the_usual_files_need_no_second_opening(name: str, clip: ClipFactory) -> None:
    """What a card holds most of is told by its headers alone."""
    extra = SKIM_INDEXED if name.endswith((".mp4", ".mov")) else SKIM
    with open_container(clip(BY_NAME[name]), extra) as container:
        assert libav._tells_all(container)


@pytest.mark.parametrize(
    ("format_name", "bit_rate", "enough"),
    [("mov,mp4,m4a", 128_000, True), ("mov,mp4,m4a", None, False), ("matroska,webm", None, True)],
)
def test_sound_without_a_bit_rate_is_looked_into_where_no_packets_are_counted(
    format_name: str, bit_rate: int | None, enough: bool
) -> None:
    sound = SimpleNamespace(codec_context=SimpleNamespace(sample_rate=48_000, bit_rate=bit_rate))
    streams = SimpleNamespace(video=(), audio=(sound,))
    opened: Any = SimpleNamespace(format=SimpleNamespace(name=format_name), streams=streams)
    assert bool(libav._tells_all(opened)) == enough


def test_a_picture_without_headers_of_its_own_is_decoded(clip: ClipFactory, tmp_path: Path) -> None:
    """An avcC box may hold no parameter set, where they stand before the pictures (avc3)."""
    data = clip(BY_NAME["h264-422.mp4"]).read_bytes()
    at = data.index(b"avcC") + 4
    assert data[at + 5] & 31 == 1
    emptied = bytearray(data)
    emptied[at + 5] &= ~31
    place = tmp_path / "bare.mp4"
    place.write_bytes(emptied)
    with open_container(place, SKIM_INDEXED) as container:
        assert not libav._tells_all(container)


def test_a_file_is_closed_behind_us(clip: ClipFactory, tmp_path: Path) -> None:
    """Also where the library refuses it: a file that stays open cannot be removed on Windows."""
    import av.error

    (tmp_path / "text.mp4").write_bytes(b"no film")
    with pytest.raises(av.error.FFmpegError), open_container(tmp_path / "text.mp4"):
        pytest.fail("a text was opened as a film")
    with open_container(clip(BY_NAME["h264.avi"])) as container:
        pass
    with pytest.raises(AssertionError, match="Container is not open"):
        next(container.demux())


def test_what_may_be_opened_holds_media_by_itself() -> None:
    """Formats that name other files or addresses are not among them."""
    allowed = set(OPTIONS["format_whitelist"].split(","))
    assert not allowed & {"hls", "dash", "concat", "concatf", "image2", "sdp", "rtsp", "applehttp", "lavfi"}
    assert OPTIONS["protocol_whitelist"] == "file"
