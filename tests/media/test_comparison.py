"""Where the two readers differ, it is said, and nowhere else."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest

from mediacheck.media import mediainfo
from mediacheck.media.comparison import disagreements
from mediacheck.media.facts import AudioFacts, ContainerFacts, Disagreement, MediaFacts, VideoFacts
from mediacheck.media.mediainfo import SecondOpinion
from mediacheck.media.read import read_facts
from tests.conftest import ClipFactory
from tests.media.variants import BY_NAME

VIDEO = VideoFacts(
    codec="H.264",
    profile="High",
    level="4",
    width=1920,
    height=1080,
    pixel_aspect=Fraction(1),
    rotation=0,
    frame_rate=Fraction(30000, 1001),
    frame_rate_mode="constant",
    bit_depth=8,
    chroma="4:2:0",
    scan="progressive",
    bit_rate=8_000_000,
    duration=Fraction(10),
)
SOUND = AudioFacts("AAC", "LC", 48_000, 2, 128_000, Fraction(10))
FIRST = MediaFacts("video", ContainerFacts("MP4", "first"), VIDEO, (SOUND,), duration=Fraction(10))
SECOND = SecondOpinion(
    container="MP4",
    encrypted=False,
    video_codec="H.264",
    width=1920,
    height=1080,
    pixel_aspect=Fraction(1),
    rotation=0,
    frame_rate=Fraction("29.970"),
    bit_depth=8,
    chroma="4:2:0",
    scan="progressive",
    duration=Fraction("10.010"),
    audio_codec="AAC",
    sample_rate=48_000,
    channels=2,
)


def test_equal_answers_are_no_disagreement() -> None:
    """Three printed digits of 30000/1001 and a length of the nearest picture are equal enough."""
    assert disagreements(FIRST, SECOND) == ()


@pytest.mark.parametrize(
    ("change", "expected"),
    [
        ({"container": "MOV"}, Disagreement("container", "MP4", "MOV")),
        ({"video_codec": "H.265"}, Disagreement("picture codec", "H.264", "H.265")),
        ({"width": 1280}, Disagreement("width in pixels", "1920", "1280")),
        ({"height": 1088}, Disagreement("height in pixels", "1080", "1088")),
        ({"pixel_aspect": Fraction(4, 3)}, Disagreement("pixel shape", "1.000", "1.333")),
        ({"rotation": 90}, Disagreement("rotation in degrees", "0", "90")),
        ({"frame_rate": Fraction(30)}, None),
        ({"frame_rate": Fraction(25)}, Disagreement("frame rate", "29.970", "25.000")),
        ({"bit_depth": 10}, Disagreement("bit depth", "8", "10")),
        ({"chroma": "4:2:2"}, Disagreement("chroma format", "4:2:0", "4:2:2")),
        ({"scan": "interlaced"}, Disagreement("scan", "progressive", "interlaced")),
        ({"duration": Fraction(11)}, Disagreement("length in seconds", "10.000", "11.000")),
        ({"duration": Fraction("10.4")}, None),
        ({"audio_codec": "MP3"}, Disagreement("sound codec", "AAC", "MP3")),
        ({"sample_rate": 44_100}, Disagreement("sample rate in Hz", "48000", "44100")),
        ({"channels": 6}, Disagreement("sound channels", "2", "6")),
    ],
)
def test_each_difference_is_named_with_both_answers(
    change: dict[str, Any], expected: Disagreement | None
) -> None:
    found = disagreements(FIRST, replace(SECOND, **change))
    assert found == (() if expected is None else (expected,))


@pytest.mark.parametrize("name", [name for name in SecondOpinion.__slots__ if name != "encrypted"])
def test_what_one_reader_does_not_say_is_no_disagreement(name: str) -> None:
    nothing: dict[str, Any] = {name: None}
    assert disagreements(FIRST, replace(SECOND, **nothing)) == ()


def test_every_answer_of_the_second_reader_is_compared() -> None:
    """A field that is added there and forgotten here would never be missed otherwise."""
    other: dict[str, Any] = {
        name: "other" if isinstance(getattr(SECOND, name), str) else getattr(SECOND, name) + 7
        for name in SecondOpinion.__slots__
        if name != "encrypted"
    }
    assert len(disagreements(FIRST, replace(SECOND, **other))) == len(other)


def test_a_variable_rate_is_not_compared() -> None:
    """One reader gives the average and the other the nominal rate: neither is wrong."""
    uneven = replace(FIRST, video=replace(VIDEO, frame_rate_mode="variable"))
    assert disagreements(uneven, replace(SECOND, frame_rate=Fraction(50))) == ()


def test_a_file_without_picture_or_sound_is_compared_in_what_it_has() -> None:
    assert disagreements(replace(FIRST, video=None), replace(SECOND, channels=1)) == (
        Disagreement("sound channels", "2", "1"),
    )
    assert disagreements(replace(FIRST, audio=()), replace(SECOND, channels=1)) == ()
    assert disagreements(MediaFacts("video"), SECOND) == ()


def test_a_file_that_contradicts_itself_is_noticed(clip: ClipFactory, tmp_path: Path) -> None:
    """The sample entry says 640 pixels, the picture's own header 320: each reader believes another."""
    data = bytearray(clip(BY_NAME["h264-422.mp4"]).read_bytes())
    entry = data.index(b"avc1", data.index(b"stsd"))
    width = slice(entry + 28, entry + 30)
    assert data[width] == (320).to_bytes(2, "big")
    data[width] = (640).to_bytes(2, "big")
    place = tmp_path / "two-widths.mp4"
    place.write_bytes(data)
    facts = read_facts(place, place.name)
    assert isinstance(facts, MediaFacts)
    assert [one.fact for one in facts.disagreements] == ["width in pixels"]
    assert facts.disagreements[0].libavformat != facts.disagreements[0].libmediainfo


def test_a_reader_that_is_made_to_lie_is_noticed(clip: ClipFactory, monkeypatch: pytest.MonkeyPatch) -> None:
    """The whole way from the two readers to the facts."""
    location = clip(BY_NAME["h264-main-24.mp4"])
    honest = mediainfo.read(location)
    assert honest is not None
    lie = replace(honest, height=honest.height and honest.height + 8, sample_rate=44_100)
    monkeypatch.setattr(mediainfo, "read", lambda _: lie)
    facts = read_facts(location, location.name)
    assert isinstance(facts, MediaFacts)
    assert facts.disagreements == (
        Disagreement("height in pixels", "180", "188"),
        Disagreement("sample rate in Hz", "48000", "44100"),
    )
