"""The limits of one inspection: the decode is ended first, and costs the file's facts nothing."""

from __future__ import annotations

import errno
import hashlib
import threading
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mediacheck import inspection
from mediacheck.cache import Cache
from mediacheck.inspection import Wanted, decode_limit_s, inspect, time_limit_s
from mediacheck.measure.model import Measurements, NotMeasured
from mediacheck.media.facts import MediaFacts, Unreadable
from mediacheck.which_ffmpeg import find_ffmpeg

CLIP = Path(__file__).parents[1] / "sample_media" / "seeds-portrait.mp4"


@given(st.integers(0, 10**12))
def test_a_full_inspection_may_take_as_long_as_a_quick_one_and_a_decode(size_bytes: int) -> None:
    quick, full = (
        time_limit_s(CLIP, "clip.mp4", size_bytes, Wanted(depth, sha256=True)) for depth in ("quick", "full")
    )
    assert full == quick + decode_limit_s(size_bytes)
    assert quick >= 60


def test_a_decode_that_takes_too_long_leaves_the_facts(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(inspection, "DECODE_LIMIT_S", 0.01)
    monkeypatch.setattr(inspection, "DECODE_BYTES_S", 10**12)
    ffmpeg = find_ffmpeg().path
    found = inspect(CLIP, CLIP.name, CLIP.stat().st_size, Wanted("full", sha256=True, ffmpeg=ffmpeg))
    assert isinstance(found.facts, MediaFacts)
    assert isinstance(found.measurements, NotMeasured)
    assert found.measurements.expected is False
    assert found.measurements.reason.startswith("the decoder gave no answer: ")


@pytest.fixture
def events(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """What came when: the hash is held back until the decode has begun, if that does not wait for it."""
    found: list[str] = []
    begun = threading.Event()
    hashed, measured = inspection.sha256_of, inspection._measured

    def slow_hash(location: Path) -> str:
        begun.wait(2.0)
        digest = hashed(location)
        found.append("hashed")
        return digest

    def noted(*arguments: Any) -> Any:
        found.append("decoding")
        begun.set()
        return measured(*arguments)

    monkeypatch.setattr(inspection, "sha256_of", slow_hash)
    monkeypatch.setattr(inspection, "_measured", noted)
    return found


@pytest.mark.parametrize("cached", [False, True])
def test_the_hash_is_taken_beside_the_decode_unless_it_may_save_that(
    tmp_path: Path, events: list[str], cached: bool
) -> None:
    ffmpeg = find_ffmpeg()
    cache = Cache(tmp_path, ffmpeg.version) if cached else None
    wanted = Wanted("full", sha256=True, ffmpeg=ffmpeg.path, cache=cache)
    found = inspect(CLIP, CLIP.name, CLIP.stat().st_size, wanted)
    assert events == (["hashed", "decoding"] if cached else ["decoding", "hashed"])
    assert found.sha256 == hashlib.sha256(CLIP.read_bytes()).hexdigest()
    assert isinstance(found.measurements, Measurements)
    again = inspect(CLIP, CLIP.name, CLIP.stat().st_size, wanted)
    assert again == found
    assert events.count("decoding") == (1 if cached else 2)


def test_a_file_that_cannot_be_hashed_cannot_be_read(monkeypatch: pytest.MonkeyPatch) -> None:
    def fails(location: Path) -> str:
        raise OSError(errno.EIO, "Input/output error")

    monkeypatch.setattr(inspection, "sha256_of", fails)
    wanted = Wanted("full", sha256=True, ffmpeg=find_ffmpeg().path)
    found = inspect(CLIP, CLIP.name, CLIP.stat().st_size, wanted)
    assert isinstance(found.facts, Unreadable)
    assert found.facts.reason == "it cannot be read (Input/output error)"
    assert found.measurements is None


def test_what_need_not_be_decoded_is_told_from_what_was_kept_or_not_at_all(tmp_path: Path) -> None:
    ffmpeg = find_ffmpeg()
    wanted = Wanted("full", sha256=True, ffmpeg=ffmpeg.path, cache=Cache(tmp_path, ffmpeg.version))
    unseen = replace(wanted, decode=False)
    before = inspect(CLIP, CLIP.name, CLIP.stat().st_size, unseen)
    assert before.measurements == inspection.NOT_DECODED
    assert isinstance(before.facts, MediaFacts)
    seen = inspect(CLIP, CLIP.name, CLIP.stat().st_size, wanted)
    assert inspect(CLIP, CLIP.name, CLIP.stat().st_size, unseen) == seen
