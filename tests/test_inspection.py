"""The limits of one inspection: the decode is ended first, and costs the file's facts nothing."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mediacheck import inspection
from mediacheck.inspection import Wanted, decode_limit_s, inspect, time_limit_s
from mediacheck.measure.model import NotMeasured
from mediacheck.media.facts import MediaFacts
from mediacheck.programs import find_ffmpeg

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
