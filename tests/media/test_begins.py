"""When the picture begins, against ffprobe's start times: so much sound is cut off before it."""

from __future__ import annotations

import json
import subprocess
from dataclasses import replace
from pathlib import Path

import av
import pytest

from mediacheck.media.facts import MediaFacts, PacketFacts
from mediacheck.media.read import read_facts
from tests.repair.films import Film

FRAME_S = 0.04
LATE = Film(filters="setpts=PTS+0.6/TB", wrapping=())


def begins_s(path: Path) -> float:
    facts = read_facts(path, path.name)
    assert isinstance(facts, MediaFacts)
    assert facts.video is not None
    assert isinstance(facts.video.packets, PacketFacts)
    return facts.video.packets.begins_s


def by_ffprobe(path: Path) -> float:
    """The picture's start less that of the whole file."""
    command = ["ffprobe", "-v", "error", "-of", "json", "-show_streams", "-show_format", str(path)]
    told = json.loads(subprocess.run(command, capture_output=True, check=True, timeout=60).stdout)
    picture = next(stream for stream in told["streams"] if stream["codec_type"] == "video")
    return float(picture["start_time"]) - float(told["format"]["start_time"])


@pytest.mark.parametrize("suffix", [".ts", ".mp4", ".mov", ".mkv"])
@pytest.mark.parametrize(("film", "about_s"), [(LATE, 0.6), (Film(wrapping=()), 0.0)])
def test_it_is_what_ffprobe_says(suffix: str, film: Film, about_s: float, tmp_path: Path) -> None:
    path = tmp_path / f"a{suffix}"
    film.make(path)
    found = begins_s(path)
    assert found == pytest.approx(by_ffprobe(path), abs=0.0005)
    assert found == pytest.approx(about_s, abs=2.5 * FRAME_S)


def test_sound_that_begins_late_does_not_move_the_picture(tmp_path: Path) -> None:
    path = tmp_path / "a.ts"
    late = replace(Film(wrapping=()), tone="anoisesrc=duration=2:seed=7,asetpts=PTS+0.6/TB")
    late.make(path)
    assert begins_s(path) == pytest.approx(by_ffprobe(path), abs=0.0005)
    assert begins_s(path) < FRAME_S


def test_pictures_before_the_first_keyframe_do_not_count(tmp_path: Path) -> None:
    """They need what is not there; a keyframe stands at every 25th picture."""
    whole, cut = tmp_path / "whole.ts", tmp_path / "cut.ts"
    Film(wrapping=(), tone=None).make(whole)
    with av.open(str(whole)) as source, av.open(str(cut), "w") as goal:
        stream = goal.add_stream_from_template(source.streams.video[0])
        for number, packet in enumerate(source.demux()):
            if number >= 8 and packet.dts is not None:
                packet.stream = stream
                goal.mux(packet)
    assert begins_s(cut) == pytest.approx((25 - 8) * FRAME_S, abs=2.5 * FRAME_S)
