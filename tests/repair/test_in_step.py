"""Time in a new file: sound stays in step with the picture, and frames come as evenly as they can.

A beep sounds while the picture flashes; each frame shows its number. Both are found again by PyAV,
which knows nothing of this program.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise
from pathlib import Path

import av
import numpy as np
import pytest

from mediacheck.repair.model import Wishes
from tests.repair.bench import fixed
from tests.repair.films import AAC, FIRST, MARKS, PLAIN, X264, Film, player

FRAME_S = 0.04
OFF_S = 0.05
"""A frame, and a little for the blocks of a sound codec (EBU R 37 allows 40 ms early and 60 ms late)."""
BEEP = "aevalsrc=0.5*sin(2*PI*1000*t)*between(t\\,1\\,1.04)+0.001*sin(500*t):s=48000:d=2:c=stereo"
FLASH = "drawbox=c=white:t=fill:enable=between(t\\,0.99\\,1.02)"
SIGNAL = Film(filters=FLASH, tone=BEEP)
OLD = ("-c:v", "mpeg4", "-q:v", "3", "-g", "25")
LEADER = "smptehdbars=s=320x180:r=25:d=3[b];testsrc2=s=320x180:r=25:d=3[t];[b][t]concat"


def flash_s(path: Path) -> float:
    """When the picture flashes, for the first time."""
    with av.open(str(path)) as clip:
        for frame in clip.decode(video=0):
            if frame.to_ndarray(format="gray").mean() > 220:
                assert frame.time is not None
                return frame.time
    raise AssertionError("no flash")


def beep_s(path: Path) -> float:
    """When the beep begins."""
    with av.open(str(path)) as clip:
        for frame in clip.decode(audio=0):
            samples = np.abs(frame.to_ndarray().astype(float))
            scale = 32768 if frame.format.name.startswith("s16") else 1
            loud = np.flatnonzero(samples.reshape(-1, frame.samples).max(axis=0) > 0.1 * scale)
            if len(loud):
                assert frame.time is not None
                return frame.time + float(loud[0]) / frame.sample_rate
    raise AssertionError("no beep")


MASTERS: dict[str, tuple[str, Film, Wishes]] = {
    "a picture encoded again": ("s.mp4", replace(SIGNAL, video=OLD), Wishes()),
    "sound encoded again": ("s.mp4", replace(SIGNAL, sound=("-c:a", "libmp3lame", "-ar", "48000")), Wishes()),
    "both": ("s.mkv", replace(SIGNAL, video=OLD, sound=("-c:a", "libopus"), wrapping=()), Wishes()),
    "wrapped anew": ("s.mkv", replace(SIGNAL, wrapping=()), Wishes()),
    "sound of another rate": (
        "s.mov",
        replace(SIGNAL, sound=("-c:a", "pcm_s16le", "-ar", "44100")),
        Wishes(),
    ),
    "frames left out": ("s.mp4", replace(SIGNAL, picture="testsrc2=s=320x180:r=50:d=2"), Wishes()),
    "half pictures": (
        "s.ts",
        replace(
            SIGNAL,
            picture="testsrc2=s=320x180:r=50:d=2",
            filters=f"{FLASH},tinterlace=interleave_top,setfield=tff",
            video=("-c:v", "mpeg2video", "-flags", "+ilme+ildct", "-q:v", "3"),
            wrapping=(),
        ),
        Wishes(),
    ),
    "times far from nought": (
        "s.ts",
        replace(SIGNAL, video=OLD, wrapping=("-output_ts_offset", "3600")),
        Wishes(),
    ),
    "times far from nought, wrapped anew": (
        "s.ts",
        replace(SIGNAL, wrapping=("-output_ts_offset", "3600")),
        Wishes(),
    ),
    "a picture that begins late": (
        "s.ts",
        replace(SIGNAL, filters=f"{FLASH},setpts=PTS+0.6/TB", video=("-c:v", "mpeg2video"), wrapping=()),
        Wishes(),
    ),
    "a picture that begins late, by an edit list": (
        "s.mp4",
        replace(SIGNAL, filters=f"{FLASH},setpts=PTS+0.6/TB", video=OLD, wrapping=()),
        Wishes(),
    ),
    "a leader cut off a picture that begins late": (
        "s.ts",
        replace(
            SIGNAL,
            picture=LEADER,
            filters="drawbox=c=white:t=fill:enable=between(t\\,3.99\\,4.02),setpts=PTS+0.6/TB",
            tone=BEEP.replace("1\\,1.04", "4\\,4.04").replace("d=2", "d=6"),
            video=("-c:v", "mpeg2video", "-q:v", "3"),
            wrapping=(),
        ),
        Wishes(trim_ends=True),
    ),
    "sound that begins late": (
        "s.ts",
        replace(SIGNAL, tone=f"{BEEP},asetpts=PTS+0.6/TB", video=("-c:v", "mpeg2video"), wrapping=()),
        Wishes(),
    ),
    "a late sound encoded again": (
        "s.mkv",
        replace(SIGNAL, tone=f"{BEEP},asetpts=PTS+0.4/TB", sound=("-c:a", "ac3"), wrapping=()),
        Wishes(),
    ),
    "a leader cut off": (
        "s.mp4",
        replace(
            SIGNAL,
            picture=LEADER,
            filters="drawbox=c=white:t=fill:enable=between(t\\,3.99\\,4.02)",
            tone=BEEP.replace("1\\,1.04", "4\\,4.04").replace("d=2", "d=6"),
        ),
        Wishes(trim_ends=True),
    ),
}


@pytest.mark.parametrize("name", MASTERS)
def test_the_beep_comes_with_the_flash(name: str, tmp_path: Path) -> None:
    file, film, wishes = MASTERS[name]
    (tmp_path / "masters").mkdir()
    film.make(tmp_path / "masters" / file)
    apart_s = beep_s(tmp_path / "masters" / file) - flash_s(tmp_path / "masters" / file)
    found = fixed(tmp_path / "masters", tmp_path / "ready", player(), wishes)
    assert found.failed == ()
    (result,) = found.results
    assert result.item.change in ("container", "sound", "picture")
    new = tmp_path / "ready" / result.item.path
    assert beep_s(new) - flash_s(new) == pytest.approx(apart_s, abs=OFF_S)


NUMBERED = "geq=lum='if(bitand(N\\,pow(2\\,floor(X/40)))\\,235\\,16)':cb=128:cr=128"
"""Eight bands, the bits of the frame's number, the lowest on the left."""


def numbers(path: Path) -> Iterator[tuple[float, int]]:
    """Second and number of each frame that is shown."""
    with av.open(str(path)) as clip:
        for frame in clip.decode(video=0):
            assert frame.time is not None
            bands = frame.to_ndarray(format="gray")[90, 20::40] > 128
            yield frame.time, int(sum(1 << bit for bit, lit in enumerate(bands) if lit))


def numbered(folder: Path, rate: str, **changes: object) -> list[tuple[float, int]]:
    """What a new film shows of a master whose frames are numbered."""
    (folder / "masters").mkdir()
    film = Film(f"color=black:s=320x180:r={rate}:d=2", NUMBERED, OLD, tone=None)
    replace(film, **changes).make(folder / "masters" / "s.mp4")  # type: ignore[arg-type]
    found = fixed(folder / "masters", folder / "ready", player())
    assert found.failed == ()
    return list(numbers(folder / "ready" / "s.mp4"))


@pytest.mark.parametrize(
    ("rate", "new", "shown"),
    [
        ("25", 25, lambda n: n),
        ("50", 25, lambda n: 2 * n),
        ("60", 30, lambda n: 2 * n),
        ("60000/1001", Fraction(30000, 1001), lambda n: 2 * n),
        ("15", 30, lambda n: n // 2),
        ("12", 24, lambda n: n // 2),
        ("120", 30, lambda n: 4 * n),
    ],
)
def test_frames_come_evenly(
    rate: str, new: Fraction | int, shown: Callable[[int], int], tmp_path: Path
) -> None:
    """Each once, every other one, or each twice: never unevenly."""
    found = numbered(tmp_path, rate)
    steps = {round(after - before, 3) for (before, _), (after, _) in pairwise(found)}
    assert steps <= {round(float(1 / Fraction(new)) + off, 3) for off in (-0.001, 0, 0.001)}
    shift = found[0][1] - shown(0)
    assert shift in (0, 1)
    assert [number for _, number in found] == [shown(n) + shift for n in range(len(found))]
    assert len(found) == pytest.approx(float(2 * Fraction(new)), abs=1)


def test_uneven_frames_are_shown_when_they_were(tmp_path: Path) -> None:
    """Each new frame shows what the master shows at that time, or the frame next to it."""
    uneven = f"{NUMBERED},setpts=if(lt(N\\,20)\\,N\\,20+(N-20)*3)/25/TB"
    found = numbered(
        tmp_path, "25", filters=uneven, video=(*X264, *PLAIN, *MARKS), wrapping=("-fps_mode", "vfr", *FIRST)
    )
    master = list(numbers(tmp_path / "masters" / "s.mp4"))
    for at_s, number in found:
        there = max(n for second, n in master if second <= at_s + FRAME_S / 2)
        assert abs(number - there) <= 1
    assert found[-1][0] == pytest.approx(master[-1][0], abs=2 * FRAME_S)


def test_a_clip_that_is_cut_out_of_a_longer_one_begins_with_its_first_whole_picture(tmp_path: Path) -> None:
    """Before that, a player shows grey; picture and sound are cut together."""
    (tmp_path / "masters").mkdir()
    signal = replace(
        SIGNAL,
        picture="testsrc2=s=320x180:r=25:d=4",
        filters=FLASH.replace("0.99", "2.99").replace("1.02", "3.02"),
        tone=BEEP.replace("1\\,1.04", "3\\,3.04").replace("d=2", "d=4"),
        sound=AAC,
        wrapping=(),
    )
    whole, cut = tmp_path / "whole.ts", tmp_path / "masters" / "s.ts"
    signal.make(whole)
    without_head(whole, cut, packets=8)
    apart_s = beep_s(cut) - flash_s(cut)
    found = fixed(tmp_path / "masters", tmp_path / "ready", player())
    assert "video-gop" in {finding.rule for finding in found.planned.before.findings}
    assert found.failed == ()
    assert found.verdict == "pass"
    new = tmp_path / "ready" / "s.mp4"
    assert beep_s(new) - flash_s(new) == pytest.approx(apart_s, abs=OFF_S)


def without_head(whole: Path, cut: Path, packets: int) -> None:
    """The same file without so many packets of its picture."""
    with av.open(str(whole)) as source, av.open(str(cut), "w") as goal:
        streams = {stream.index: goal.add_stream_from_template(stream) for stream in source.streams}
        left = packets
        for packet in source.demux():
            if packet.dts is None:
                continue
            if packet.stream.type == "video" and left:
                left -= 1
                continue
            packet.stream = streams[packet.stream_index]
            goal.mux(packet)
