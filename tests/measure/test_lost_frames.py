"""Clips with frames lost on their way, and whole ones of many kinds: the whole ones are silent.

Each is decoded as the program does it, and judged by the rule picture-damaged.
"""

from __future__ import annotations

import shlex
import subprocess
from collections.abc import Callable
from pathlib import Path

import av
import pytest

from mediacheck import which_ffmpeg
from mediacheck.measure.decode import measure
from mediacheck.media.facts import MediaFacts
from mediacheck.media.read import read_facts
from mediacheck.rules.model import PASSED, Answer, NotChecked
from mediacheck.rules.picture import picture_damaged
from tests.rules import make

LIMIT_S = 60.0
SOURCE = "-f lavfi -i testsrc2=size=160x96:rate=25:duration=4"
H264 = "-c:v libx264 -preset ultrafast -pix_fmt yuv420p -bf 2 -g 25"
OPEN_H264 = "-c:v libx264 -preset veryfast -pix_fmt yuv420p -bf 3 -g 25 -x264opts open-gop=1"
OPEN_H265 = (
    "-c:v libx265 -preset ultrafast -pix_fmt yuv420p "
    "-x265-params log-level=none:open-gop=1:keyint=25:min-keyint=25:bframes=4"
)
MPEG2 = "-c:v mpeg2video -bf 2 -g 12"
TWICE = "-c:v libvpx -auto-alt-ref 1 -lag-in-frames 16 -b:v 100k -g 40"
Maker = Callable[[str, str], Path]
Change = Callable[[int, bytes], bytes | None]


@pytest.fixture
def made(ffmpeg: str, tmp_path: Path) -> Maker:
    """Makes a clip of 100 frames in 4 s, or another from ffmpeg's arguments."""

    def run(name: str, arguments: str) -> Path:
        place = tmp_path / name
        words = shlex.split(arguments)
        command = [ffmpeg, "-nostdin", "-v", "error", "-y", "-threads", "1", *words, str(place)]
        subprocess.run(command, check=True, timeout=LIMIT_S, cwd=tmp_path)
        return place

    return run


def changed(place: Path, name: str, change: Change) -> Path:
    """The same clip with each packet's bytes as `change` has them, or without it where that gives None."""
    target = place.with_name(name)
    with av.open(str(place)) as source, av.open(str(target), "w") as goal:
        stream = source.streams.video[0]
        goal_stream = goal.add_stream_from_template(stream)
        whole = (packet for packet in source.demux(stream) if packet.size)
        for number, packet in enumerate(whole):
            content = change(number, bytes(packet))
            if content is not None:
                copy = av.Packet(content)
                copy.pts, copy.dts, copy.duration = packet.pts, packet.dts, packet.duration
                copy.time_base, copy.is_keyframe, copy.stream = (
                    packet.time_base,
                    packet.is_keyframe,
                    goal_stream,
                )
                goal.mux(copy)
    return target


def keyframes(place: Path) -> list[int]:
    with av.open(str(place)) as clip:
        return [n for n, packet in enumerate(clip.demux(video=0)) if packet.size and packet.is_keyframe]


def facts_of(place: Path) -> MediaFacts:
    facts = read_facts(place, place.name)
    assert isinstance(facts, MediaFacts), facts
    return facts


def judged(ffmpeg: str | Path, place: Path) -> Answer:
    facts = facts_of(place)
    measured = measure(Path(ffmpeg), place, facts, 0, LIMIT_S).measurements
    given: Answer = picture_damaged.judge(
        make.one(make.file_of(place.name, "video", facts, measurements=measured))
    )
    return given


def found(answer: Answer) -> str:
    assert isinstance(answer, tuple), answer
    (seen,) = answer
    return seen.found


def emptied(first: int, count: int, content: bytes | None = None) -> Change:
    """So many packets hold nothing but zeros, or `content`."""

    def change(number: int, packet: bytes) -> bytes:
        if not first <= number < first + count:
            return packet
        return bytes(len(packet)) if content is None else content

    return change


def without(first: int, count: int) -> Change:
    return lambda number, packet: None if first <= number < first + count else packet


WHOLE = {
    "h264.mp4": H264,
    "h264.mkv": H264,
    "h264.ts": H264,
    "fragments.mp4": f"{H264} -movflags frag_keyframe+empty_moov",
    "open.mp4": OPEN_H264,
    "h265.mp4": OPEN_H265,
    "h265.mkv": OPEN_H265,
    "h265.ts": OPEN_H265,
    "interlaced.ts": f"{H264} -flags +ilme+ildct -x264opts tff=1",
    "mpeg2.ts": MPEG2,
    "mpeg2.mpg": MPEG2,
    "mpeg2.mkv": MPEG2,
    "mpeg2 interlaced.ts": f"{MPEG2} -flags +ilme+ildct -alternate_scan 1",
    "mpeg4.avi": "-c:v mpeg4 -bf 2",
    "mpeg4.mp4": "-c:v mpeg4 -bf 2",
    "vp8.webm": "-c:v libvpx -b:v 100k -deadline realtime -cpu-used 8",
    "vp9.webm": "-c:v libvpx-vp9 -b:v 100k -deadline realtime -cpu-used 8 -auto-alt-ref 1 -lag-in-frames 16",
    "mjpeg.avi": "-c:v mjpeg",
    "prores.mov": "-c:v prores",
    "wmv.wmv": "-c:v wmv2",
    "variable.mp4": f"-vf select='not(mod(n\\,3))+gt(mod(n\\,40)\\,30)' -fps_mode vfr {H264}",
    "variable.mkv": f"-vf select='not(mod(n\\,3))+gt(mod(n\\,40)\\,30)' -fps_mode vfr {H264}",
}


@pytest.mark.parametrize("name", WHOLE)
def test_a_whole_clip_of_any_kind_is_silent(made: Maker, ffmpeg: str, name: str) -> None:
    assert judged(ffmpeg, made(name, f"{SOURCE} {WHOLE[name]}")) == PASSED


def test_packets_of_vp8_that_are_never_shown_are_no_loss(made: Maker, ffmpeg: str) -> None:
    made("first.webm", f"{SOURCE} {TWICE} -pass 1")
    place = made("alternate.webm", f"{SOURCE} {TWICE} -pass 2")
    video = facts_of(place).video
    assert video is not None
    assert video.packets is not None
    assert video.packets.count > 100
    assert judged(ffmpeg, place) == PASSED


LEADING = {
    "open.mkv": (OPEN_H265, 1, 1),
    "open.mp4": (OPEN_H265, 1, 1),
    "mpeg2.mkv": (MPEG2, 1, 1),
    "mpeg2 in the middle.mkv": (MPEG2, 1, 4),
}


@pytest.mark.parametrize("name", LEADING)
def test_leading_pictures_of_a_clip_cut_out_of_a_longer_one_are_no_loss(
    made: Maker, ffmpeg: str, name: str
) -> None:
    """Cut at its second keyframe, or three packets behind it."""
    options, keyframe, behind = LEADING[name]
    whole = made(f"whole {name}", f"{SOURCE} {options}")
    cut = changed(whole, name, without(0, keyframes(whole)[keyframe] + behind - 1))
    video = facts_of(cut).video
    assert video is not None
    assert video.packets is not None
    assert video.packets.leading >= 2
    assert judged(ffmpeg, cut) == PASSED


def test_complaints_about_the_start_of_such_a_clip_are_not_taken_for_damage(made: Maker, ffmpeg: str) -> None:
    whole = made("whole.mkv", f"{SOURCE} {OPEN_H264}")
    answer = judged(ffmpeg, changed(whole, "cut.mkv", without(0, keyframes(whole)[1])))
    assert answer == PASSED or (isinstance(answer, NotChecked) and "cut out of a longer one" in answer.reason)


@pytest.mark.parametrize("number", [6, 10, 14])
def test_damage_soon_after_the_start_of_such_a_clip_is_not_put_down_to_the_cut(
    made: Maker, ffmpeg: str, number: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """With a thread for each of the first pictures, all of them are decoded before one is shown."""
    monkeypatch.setattr("os.cpu_count", lambda: 8)
    whole = made("whole.mp4", f"{SOURCE} {OPEN_H264}")
    cut = changed(whole, "cut.mp4", without(0, keyframes(whole)[1]))

    def mostly_zeros(at: int, packet: bytes) -> bytes:
        kept = len(packet) // 3
        return packet[:kept] + bytes(len(packet) - kept) if at == number else packet

    assert "decoding errors" in found(judged(ffmpeg, changed(cut, "damaged.mp4", mostly_zeros)))


def test_a_transport_stream_cut_at_both_ends_is_not_failed_for_it(
    made: Maker, ffmpeg: str, tmp_path: Path
) -> None:
    whole = made("whole.ts", f"{SOURCE} {OPEN_H265}").read_bytes()
    packets = len(whole) // 188
    for share in (0.15, 0.2, 0.25):
        cut = tmp_path / "cut.ts"
        cut.write_bytes(whole[round(share * packets) * 188 : round(0.9 * packets) * 188])
        facts = read_facts(cut, "cut.ts")
        if isinstance(facts, MediaFacts) and facts.video and facts.video.width:
            answer = judged(ffmpeg, cut)
            lost = "frames missing" in found(answer) if isinstance(answer, tuple) and answer else False
            assert not lost


def _not_coded(ticks: int) -> bytes:
    """A picture of MPEG-4 that says "the same again" (ISO/IEC 14496-2: vop_coded is 0); 25 ticks a second."""
    bits = f"01{'0'}1{ticks:05b}10"  # P, no whole second passed, marker, time, marker, not coded
    bits += "0" + "1" * (-(len(bits) + 1) % 8)
    return b"\0\0\1\xb6" + int(bits, 2).to_bytes(len(bits) // 8, "big")


def test_pictures_of_mpeg4_that_say_the_same_again_are_no_loss(made: Maker, ffmpeg: str) -> None:
    whole = made("whole.mp4", f"{SOURCE} -c:v mpeg4 -bf 0 -g 100")
    same = changed(whole, "same.mp4", lambda n, packet: _not_coded(n % 25) if 40 <= n < 49 else packet)
    measured = measure(Path(ffmpeg), same, facts_of(same), 0, LIMIT_S).measurements
    assert measured.frames < 100, "these frames don't come out of the decoder"
    assert judged(ffmpeg, same) == PASSED


SILENT_LOSS = {
    "mpeg2.mkv": (MPEG2, emptied(40, 11), "11 of 100 frames missing (0.44 s) at 1.5 s"),
    "mpeg2 short.mkv": (MPEG2, emptied(40, 11, b"\0\0\1"), "11 of 100 frames missing (0.44 s) at 1.5 s"),
}


@pytest.mark.parametrize("newer", [False, True], ids=["ffmpeg on PATH", "ffmpeg of the wheel"])
@pytest.mark.parametrize("name", SILENT_LOSS)
def test_frames_lost_without_a_word_are_found_with_their_second(
    made: Maker, ffmpeg: str, name: str, newer: bool
) -> None:
    options, change, told = SILENT_LOSS[name]
    hurt = changed(made("whole.mkv", f"{SOURCE} {options}"), name, change)
    program = which_ffmpeg.find_ffmpeg(lambda _: None).path if newer else ffmpeg
    assert found(judged(program, hurt)).startswith(told)


LOST = {
    "h264.mp4": H264,
    "h264.mkv": H264,
    "h265.mp4": OPEN_H265,
    "h265.mkv": OPEN_H265,
    "mpeg4.mp4": "-c:v mpeg4",
    "prores.mov": "-c:v prores",
    "mjpeg.avi": "-c:v mjpeg",
}


@pytest.mark.parametrize("name", LOST)
def test_complaints_say_how_many_frames_are_missing_and_where(made: Maker, ffmpeg: str, name: str) -> None:
    hurt = changed(made(f"whole {name}", f"{SOURCE} {LOST[name]}"), name, emptied(40, 11))
    told = found(judged(ffmpeg, hurt))
    assert "decoding error" in told
    assert "of 100 frames missing (" in told
    assert " at 1.5 s" in told or " at 1.6 s" in told


@pytest.mark.parametrize("container", ["mkv", "mp4"])
def test_packets_dropped_by_a_copy_are_complained_of(made: Maker, ffmpeg: str, container: str) -> None:
    """The container lists no more of them, so that nothing is missing against it; the decoder says so."""
    whole = made(f"whole.{container}", f"{SOURCE} {OPEN_H265}")
    hole = f"-i {shlex.quote(str(whole))} -c copy -bsf:v noise=drop='between(n\\,40\\,50)'"
    assert "decoding error" in found(judged(ffmpeg, made(f"hole.{container}", hole)))
    tail = f"-i {shlex.quote(str(whole))} -c copy -bsf:v noise=drop='gte(n\\,90)'"
    assert judged(ffmpeg, made(f"short.{container}", tail)) == PASSED
