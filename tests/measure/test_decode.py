"""One ffmpeg process sees every picture and hears every sound, as the file stores them."""

from __future__ import annotations

import os
import random
import shlex
import subprocess
import sys
import threading
from collections.abc import Callable
from contextlib import AbstractContextManager
from pathlib import Path
from typing import Any

import av
import psutil
import pytest

from mediacheck import programs, which_ffmpeg
from mediacheck.measure.decode import NICER_BY, Measured, measure
from mediacheck.measure.model import Bars, Leader, Measurements, Span
from mediacheck.measure.watch import Watch
from mediacheck.media.facts import MediaFacts
from mediacheck.media.read import read_facts
from tests.media import surgery
from tests.media.footage import real_footage

LIMIT_S = 60.0
FRAME_S = 0.04
SOURCE = "-f lavfi -i testsrc2=size={size}:rate=25:duration={seconds}"
TONE = "-f lavfi -i sine=440:sample_rate=48000:duration={seconds}"
H264 = "-c:v libx264 -preset ultrafast -pix_fmt yuv420p"

Maker = Callable[..., Path]


def near(value: object, abs: float = 1e-6) -> Any:
    """A number or numbers this close; of any type, as it stands inside other values."""
    return pytest.approx(value, abs=abs)


@pytest.fixture
def make(ffmpeg: str, tmp_path: Path) -> Maker:
    """Makes a clip from ffmpeg's arguments; {size} and {seconds} are filled in."""

    def made(name: str, arguments: str, size: str = "320x180", seconds: float = 2) -> Path:
        place = tmp_path / name
        words = shlex.split(arguments.format(size=size, seconds=seconds))
        subprocess.run(
            [ffmpeg, "-nostdin", "-v", "error", "-y", "-threads", "1", *words, str(place)],
            check=True,
            timeout=LIMIT_S,
        )
        return place

    return made


def facts_of(place: Path) -> MediaFacts:
    facts = read_facts(place, place.name)
    assert isinstance(facts, MediaFacts), facts
    return facts


def full(ffmpeg: str | Path, place: Path, pictures: int = 0) -> Measured:
    return measure(Path(ffmpeg), place, facts_of(place), pictures, LIMIT_S)


def packets_in(place: Path) -> int:
    video = facts_of(place).video
    assert video is not None
    assert video.packets is not None
    return video.packets.count


def wheel_ffmpeg() -> Path:
    """The other version of ffmpeg that mediacheck may come to use."""
    return which_ffmpeg.find_ffmpeg(lambda _: None).path


DROP = "-vf select='not(mod(n\\,3))+gte(n\\,30)' -fps_mode vfr"
WAYS = {
    "plain.mp4": f"{SOURCE} {H264} -bf 0",
    "b-frames.mp4": f"{SOURCE} -c:v libx264 -bf 3 -b_strategy 0 -pix_fmt yuv420p",
    "variable.mkv": f"{SOURCE} {DROP} {H264}",
    "variable.mp4": f"{SOURCE} {DROP} {H264}",
    "interlaced.ts": f"{SOURCE} -c:v libx264 -pix_fmt yuv420p -flags +ilme+ildct -x264opts tff=1",
    "mpeg2.ts": f"{SOURCE} -c:v mpeg2video -bf 2",
    "old.avi": f"{SOURCE} -c:v mpeg4",
    "deep.mp4": f"{SOURCE} -c:v libx265 -preset ultrafast -pix_fmt yuv420p10le -x265-params log-level=none",
    "deep.mkv": f"{SOURCE} -c:v libx264 -preset ultrafast -pix_fmt yuv420p10le",
}


@pytest.mark.parametrize("name", WAYS)
def test_every_packet_gives_a_picture_and_the_seconds_are_the_clips(
    make: Maker, ffmpeg: str, name: str
) -> None:
    place = make(name, WAYS[name])
    seen = full(ffmpeg, place).measurements
    expected = 30 if name.startswith("variable") else 50
    shown = (seen.frames, seen.width, seen.height, seen.decode_error_count, seen.sound)
    assert shown == (expected, 320, 180, 0, None)
    assert packets_in(place) == expected
    # AVI has no time stamps: libavformat's guess of the second one is a frame late where B-frames may come.
    assert seen.seconds == near(2.0, abs=1.1 * FRAME_S)


def test_pictures_at_a_variable_rate_keep_their_times(make: Maker, ffmpeg: str) -> None:
    """The lit picture comes at 0.613 s, between the times that the usual rate would allow."""
    late = "setpts='PTS+if(gte(N\\,15)\\,0.013/TB\\,0)'"
    lit = "drawbox=c=white:t=fill:enable='gte(n\\,15)'"
    arguments = (
        f"-f lavfi -i color=black:size={{size}}:rate=25:duration={{seconds}} "
        f"-vf settb=1/90000,{lit},{late} -fps_mode vfr -enc_time_base 1/90000 "
        f"-video_track_timescale 90000 {H264}"
    )
    (black,) = full(ffmpeg, make("slow.mp4", arguments)).measurements.black or ()
    assert black == Span(0.0, near(0.613, abs=0.0001))


SIZES = {"portrait": "180x320", "odd": "322x182", "thin": "640x36", "square": "240x240"}


@pytest.mark.parametrize("size", SIZES.values(), ids=SIZES.keys())
def test_pictures_of_any_shape_keep_it(make: Maker, ffmpeg: str, size: str) -> None:
    width, height = map(int, size.split("x"))
    found = full(ffmpeg, make("shape.mp4", f"{SOURCE} {H264}", size, 1), pictures=1)
    (picture,) = found.pictures
    seen = found.measurements
    assert (seen.frames, seen.width, seen.height) == (25, width, height)
    assert max(picture.width, picture.height) == 360
    assert picture.width / picture.height == near(width / height, abs=0.04 * width / height)
    assert len(picture.rgb) == picture.width * picture.height * 3


SCENES = "size=320x140:rate=25"
EVERYTHING = f"""
-f lavfi -i color=black:{SCENES}:duration=1
-f lavfi -i testsrc2={SCENES}:duration=3
-f lavfi -i testsrc2={SCENES}:duration=0.04,loop=loop=49:size=1,setpts=N/25/TB
-f lavfi -i color=gray:{SCENES}:duration=1,geq=lum='if(lt(mod(T\\,0.2)\\,0.1)\\,220\\,30)':cb=128:cr=128
-f lavfi -i smptebars={SCENES}:duration=2
-f lavfi -i sine=440:sample_rate=48000:duration=9,pan='stereo|c0=c0|c1=0*c0'
-af volume='between(t\\,1\\,8)':eval=frame
-filter_complex '[0][1][2][3][4]concat=n=5,format=yuv420p,pad=320:180:0:20[v]' -map '[v]' -map 5
{H264} -c:a pcm_s16le
"""


def test_one_process_finds_everything(make: Maker, ffmpeg: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """Black for 1 s, movement, a freeze of 2 s, 5 flashes in 1 s, colour bars for 2 s: all behind bars."""
    place, started = make("everything.mkv", EVERYTHING), list[object]()
    real_start, facts = programs.start, facts_of(place)

    def counted(command: tuple[str, ...], **options: object) -> AbstractContextManager[programs.Running]:
        started.append(command)
        return real_start(command, **options)  # type: ignore[arg-type]

    monkeypatch.setattr(programs, "start", counted)
    found = measure(Path(ffmpeg), place, facts, 4, LIMIT_S)
    seen = found.measurements
    assert len(started) == 1
    assert (seen.frames, seen.seconds) == (225, near(9.0))
    assert seen.black == (Span(0.0, near(1.0)),)
    assert seen.frozen == (
        Span(0.0, near(1.0)),
        Span(near(4.0), near(6.0)),
        Span(near(7.0), near(9.0)),
    )
    assert seen.bars == Bars(20, 20, 0, 0)
    assert seen.leader == (Leader("colour bars", near(7.0, abs=0.1), near(9.0)),)
    assert seen.flash is not None
    assert (seen.flash.general_max, seen.flash.red_max) == (5, 0)
    assert seen.flash.general_at_s == near(6.0, abs=0.2)
    assert seen.seam is not None
    assert seen.seam.black_s == near(1.0)
    assert seen.seam.picture_change > 50
    assert len(found.pictures) == 4
    _check_sound(seen)


def _check_sound(seen: Measurements) -> None:
    """A tone of -18 dBFS on the left from 1 s to 8 s, nothing on the right."""
    sound = seen.sound
    assert sound is not None
    assert sound.seconds == near(9.0, abs=0.001)
    assert sound.dead_channels == (1,)
    assert sound.channel_peaks_dbfs[0] == near(sound.true_peak_dbtp, abs=0.2)
    assert (sound.silent_start_s, sound.silent_end_s) == (
        near(1.0, abs=0.03),
        near(1.0, abs=0.03),
    )
    (tone,) = sound.tone
    assert (tone.start_s, tone.end_s) == (near(1.0, abs=0.13), near(8.0, abs=0.13))


def test_fields_of_two_moments_are_seen_and_whole_pictures_are_not_taken_for_them(
    make: Maker, ffmpeg: str
) -> None:
    """Real footage of cyclists, whole, and woven from two of its pictures each."""
    (clip,) = (place for place in real_footage() if place.name == "bikes.mp4")
    weave = f"-i {shlex.quote(str(clip))} -vf tinterlace=mode=interleave_top {H264}"
    woven = full(ffmpeg, make("woven.mp4", weave)).measurements.combed
    whole = full(ffmpeg, clip).measurements.combed
    assert woven is not None
    assert whole is not None
    assert min(woven.moving, whole.moving) >= 5
    assert woven.share > 0.8
    assert whole.share < 0.2


SOUNDS = {
    "44.1 kHz": ("-c:a pcm_s16le -ar 44100 -ac 2", 2),
    "5.1": ("-c:a ac3 -ac 6", 6),
    "mono AAC": ("-c:a aac", 1),
    "8 kHz": ("-c:a pcm_s16le -ar 8000", 1),
}


@pytest.mark.parametrize(("options", "channels"), SOUNDS.values(), ids=SOUNDS.keys())
def test_sound_of_any_form_is_heard_whole(make: Maker, ffmpeg: str, options: str, channels: int) -> None:
    place = make("sound.mkv", f"{SOURCE} {TONE} {H264} {options}")
    sound = full(ffmpeg, place).measurements.sound
    assert sound is not None
    assert len(sound.channel_peaks_dbfs) == channels
    assert sound.seconds == near(2.0, abs=0.07)
    assert sound.loudness_lufs is not None
    assert -35 < sound.loudness_lufs < -15
    assert not sound.silent


def test_silence_has_no_loudness(make: Maker, ffmpeg: str) -> None:
    quiet = "-f lavfi -i anullsrc=r=48000:cl=stereo:d={seconds}"
    sound = full(ffmpeg, make("quiet.mkv", f"{SOURCE} {quiet} {H264} -c:a aac")).measurements.sound
    assert sound is not None
    assert (sound.silent, sound.loudness_lufs, sound.dead_channels) == (True, None, (0, 1))


def test_times_are_counted_from_the_first_picture_where_the_sound_comes_first(
    make: Maker, ffmpeg: str
) -> None:
    tone = "-f lavfi -i sine=440:sample_rate=48000:duration=3"
    place = make("late.mkv", f"-itsoffset 0.52 {SOURCE} {tone} {H264} -c:a pcm_s16le")
    found = full(ffmpeg, place, pictures=4)
    assert found.measurements.seconds == near(2.0)
    assert found.measurements.sound is not None
    (tone_span,) = found.measurements.sound.tone
    assert (tone_span.start_s, tone_span.end_s) == (0.0, near(2.48, abs=0.02))
    assert [one.second for one in found.pictures] == near([0.25, 0.75, 1.25, 1.75], abs=FRAME_S)


@pytest.mark.parametrize("count", [0, 1, 3, 8])
def test_thumbnails_stand_in_the_middles_of_equal_shares(make: Maker, ffmpeg: str, count: int) -> None:
    pictures = full(ffmpeg, make("shares.mp4", f"{SOURCE} {H264}"), count).pictures
    middles = [2.0 * (2 * place + 1) / (2 * count) for place in range(count)]
    assert [picture.second for picture in pictures] == near(middles, abs=FRAME_S)


@pytest.mark.parametrize("newer", [False, True], ids=["ffmpeg on PATH", "ffmpeg of the wheel"])
@pytest.mark.parametrize(("frames", "second"), [(1, 0.0), (2, FRAME_S)])
def test_a_clip_of_a_picture_or_two_has_a_thumbnail(
    make: Maker, ffmpeg: str, frames: int, second: float, newer: bool
) -> None:
    place = make("short.mp4", f"{SOURCE} {H264} -frames:v {frames}")
    found = full(wheel_ffmpeg() if newer else ffmpeg, place, 3)
    assert found.measurements.frames == frames
    assert [picture.second for picture in found.pictures] == near([second])


def test_a_clip_that_changes_its_size_gives_no_more_thumbnails_than_asked(
    make: Maker, ffmpeg: str, tmp_path: Path
) -> None:
    parts = [make(f"{size}.ts", f"{SOURCE} {H264}", size, 1) for size in ("320x180", "640x360")]
    whole = tmp_path / "whole.ts"
    whole.write_bytes(b"".join(part.read_bytes() for part in parts))
    found = full(ffmpeg, whole, pictures=3)
    assert found.measurements.frames == packets_in(whole) == 50
    assert len(found.pictures) == 3


STORED = f"{SOURCE} {H264} -g 50"


def test_what_is_seen_is_what_is_stored(make: Maker, ffmpeg: str, tmp_path: Path) -> None:
    """Neither a rotation flag nor an edit list changes it."""
    plain = make("stored.mp4", STORED)
    turned = tmp_path / "turned.mp4"
    turned.write_bytes(surgery.turned(90)(plain.read_bytes()))
    cut = make("cut.mp4", f"-ss 1 -i {plain} -c copy")
    turned_facts = facts_of(turned).video
    assert turned_facts is not None
    assert turned_facts.rotation != 0
    assert b"elst" in cut.read_bytes()
    wanted, turned_seen, cut_seen = (full(ffmpeg, place, 2) for place in (plain, turned, cut))
    assert turned_seen == wanted
    assert (cut_seen.measurements.frames, cut_seen.measurements.seconds) == (50, near(2.0))
    assert cut_seen.measurements.fingerprint == wanted.measurements.fingerprint


def _overwritten(place: Path, from_share: float, to_share: float) -> Path:
    """Bytes of the media data, between two shares of its length, replaced by noise that repeats."""
    data = bytearray(place.read_bytes())
    start = data.index(b"mdat") + 4
    length = int.from_bytes(data[start - 8 : start - 4]) - 8
    for offset in range(round(from_share * length), round(to_share * length)):
        data[start + offset] = (offset * 151 + 90) % 256
    hurt = place.with_stem("hurt")
    hurt.write_bytes(data)
    return hurt


@pytest.mark.parametrize("newer", [False, True], ids=["ffmpeg on PATH", "ffmpeg of the wheel"])
@pytest.mark.parametrize(
    ("packet", "coded"),
    [
        *((packet, "-c:v libx264 -bf 2 -g 25 -pix_fmt yuv420p") for packet in (40, 90, 145)),
        (90, "-c:v mpeg4 -bf 2 -g 25"),
        (90, "-c:v prores"),
    ],
)
def test_the_second_of_damage_is_that_of_the_picture_and_not_of_the_decoders_threads(
    packet: int, coded: str, newer: bool, make: Maker, ffmpeg: str
) -> None:
    """As many pictures as it has threads are under way when it complains of one."""
    place = make("whole.mov", f"{SOURCE} {coded}", "640x360", 6)
    with av.open(str(place)) as container:
        packets = [one for one in container.demux(video=0) if one.size]
        found = packets[packet]
        where, size, ticks = found.pos, found.size, found.pts
    assert where is not None
    assert ticks is not None
    whole = place.read_bytes()
    noise = random.Random(packet).randbytes(size // 2)
    hurt = place.with_name("hurt.mov")
    hurt.write_bytes(whole[: where + size // 4] + noise + whole[where + size // 4 + len(noise) :])
    first = full(wheel_ffmpeg() if newer else ffmpeg, hurt).measurements.decode_errors[0]
    assert first.second == near(float(ticks * found.time_base), abs=0.5)


def decoders() -> list[psutil.Process]:
    """Those that run now."""
    return [child for child in psutil.Process().children() if child.name().startswith("ffmpeg")]


def long_clip(make: Maker) -> Path:
    """Two minutes that take seconds to decode."""
    short = make("short.mp4", f"{SOURCE} {H264}", "1280x720", 1)
    return make("long.mp4", f"-stream_loop 119 -i {short} -c copy")


@pytest.mark.skipif(sys.platform != "linux", reason="threads have a niceness of their own on Linux alone")
def test_who_looks_steps_back_behind_the_decoder_and_nobody_else_does(
    make: Maker, ffmpeg: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    looking, decoding = set[int](), set[int]()

    def take(*_: object) -> None:
        looking.add(os.getpriority(os.PRIO_PROCESS, threading.get_native_id()))
        decoding.update(int(one.nice()) for one in decoders())

    monkeypatch.setattr(Watch, "take", take)
    before = os.getpriority(os.PRIO_PROCESS, threading.get_native_id())
    place = make("short.mp4", f"{SOURCE} {H264}")
    for _ in range(2):
        full(ffmpeg, place)
    assert looking == {before + NICER_BY}
    assert decoding == {before}
    assert os.getpriority(os.PRIO_PROCESS, threading.get_native_id()) == before


def test_a_mistake_of_who_looks_comes_out_and_ends_the_decode(
    make: Maker, ffmpeg: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    def take(*_: object) -> None:
        raise ZeroDivisionError

    monkeypatch.setattr(Watch, "take", take)
    place = long_clip(make)
    with pytest.raises(ZeroDivisionError):
        full(ffmpeg, place)
    assert not decoders()


def test_who_does_not_want_to_hear_more_ends_the_decode(make: Maker, ffmpeg: str) -> None:
    """As where the program that asked for it has gone."""
    place = long_clip(make)
    told = list[float]()

    def tell(second: float) -> None:
        told.append(second)
        raise BrokenPipeError

    with pytest.raises(BrokenPipeError):
        measure(Path(ffmpeg), place, facts_of(place), 0, 60, on_seconds=tell)
    assert len(told) == 1
    assert told[0] < 60
    assert not decoders()


LONG = "-f lavfi -i testsrc2=size=320x180:rate=25:duration=24 -f lavfi -i sine=440:duration=24"


@pytest.mark.parametrize("newer", [False, True], ids=["ffmpeg on PATH", "ffmpeg of the wheel"])
def test_damage_is_told_with_its_second(make: Maker, ffmpeg: str, newer: bool) -> None:
    """Three quarters through a clip of constant bit rate. The loudness is found in spite of it."""
    place = make("long.mp4", f"{LONG} -c:v mpeg4 -b:v 400k -g 25 -c:a aac")
    hurt = _overwritten(place, 0.74, 0.76)
    seen = full(wheel_ffmpeg() if newer else ffmpeg, hurt, 4).measurements
    assert seen.decode_error_count >= len(seen.decode_errors) > 0
    seconds = [error.second for error in seen.decode_errors if error.second is not None]
    assert len(seconds) == len(seen.decode_errors)
    assert all(16.5 < second < 19 for second in seconds), seconds
    assert seen.sound is not None
    assert seen.sound.loudness_lufs == near(-21.8, abs=0.5)
    untouched = full(ffmpeg, place).measurements
    assert (untouched.decode_error_count, untouched.frames) == (0, 600)


def test_where_no_picture_can_be_decoded_nothing_is_measured(make: Maker, ffmpeg: str) -> None:
    dead = _overwritten(make("fine.mp4", f"{SOURCE} {TONE} {H264} -c:a aac"), 0.0, 1.0)
    found = full(ffmpeg, dead, 4)
    seen = found.measurements
    assert seen.decode_error_count > 0
    assert seen == Measurements(
        0,
        0.0,
        decode_errors=seen.decode_errors,
        decode_error_count=seen.decode_error_count,
        sound_errors=seen.sound_errors,
        sound_error_count=seen.sound_error_count,
    )
    assert found.pictures == ()


@pytest.mark.parametrize("newer", [False, True], ids=["ffmpeg on PATH", "ffmpeg of the wheel"])
@pytest.mark.parametrize("codec", ["aac", "ac3"])
def test_damage_to_the_sound_is_not_the_pictures(make: Maker, ffmpeg: str, codec: str, newer: bool) -> None:
    """In MPEG-TS, where packets of both are mixed."""
    whole = make("whole.ts", f"{SOURCE} -f lavfi -i anoisesrc=a=0.2:d={{seconds}} {H264} -c:a {codec}")
    hoarse = make("hoarse.ts", f"-i {whole} -c copy -bsf:a noise=amount=200")
    seen = full(wheel_ffmpeg() if newer else ffmpeg, hoarse).measurements
    assert (seen.frames, seen.decode_errors, seen.decode_error_count) == (50, (), 0)
    assert seen.sound_error_count >= len(seen.sound_errors) > 0


def _all_sound_as(place: Path, byte: int) -> Path:
    """The same clip with every byte of its sound replaced by this one."""
    data = bytearray(place.read_bytes())
    with av.open(str(place)) as container:
        for packet in container.demux(audio=0):
            if packet.pos is not None:
                data[packet.pos : packet.pos + packet.size] = bytes((byte,)) * packet.size
    hurt = place.with_stem("mute")
    hurt.write_bytes(data)
    return hurt


@pytest.mark.parametrize("newer", [False, True], ids=["ffmpeg on PATH", "ffmpeg of the wheel"])
def test_sound_of_which_nothing_decodes_does_not_hide_the_picture(
    make: Maker, ffmpeg: str, newer: bool
) -> None:
    program = wheel_ffmpeg() if newer else ffmpeg
    whole = make("whole.mp4", f"{SOURCE} {TONE} {H264} -c:a aac")
    seen = full(program, _all_sound_as(whole, 0x8F)).measurements
    assert (seen.frames, seen.decode_error_count, seen.sound) == (50, 0, None)
    assert seen.sound_error_count > 0
    data = whole.read_bytes().replace(b"mp4a", b"ac-4").replace(b"esds", b"free")
    unknown = whole.with_stem("unknown")
    unknown.write_bytes(data)
    seen = full(program, unknown, 4).measurements
    assert (seen.frames, seen.decode_error_count, seen.sound, seen.sound_error_count) == (50, 0, None, 0)


@pytest.mark.parametrize("newer", [False, True], ids=["ffmpeg on PATH", "ffmpeg of the wheel"])
def test_sound_that_begins_late_is_heard(make: Maker, ffmpeg: str, newer: bool) -> None:
    """As late as the queue of ffmpeg's muxer would not wait for it by itself."""
    late = make("late.ts", f"{SOURCE} -itsoffset 60 {TONE} {H264} -c:a aac -t 62", size="64x36", seconds=62)
    seen = full(wheel_ffmpeg() if newer else ffmpeg, late).measurements
    assert (seen.frames, seen.decode_error_count) == (1550, 0)
    assert seen.sound is not None
    assert (seen.sound.seconds, seen.sound.silent_start_s) == near((2.0, 60.0), abs=0.1)


@pytest.mark.parametrize("newer", [False, True], ids=["ffmpeg on PATH", "ffmpeg of the wheel"])
def test_a_size_that_changes_on_the_way_is_told(make: Maker, ffmpeg: str, newer: bool) -> None:
    first = make("first.ts", f"{SOURCE} {H264}")
    second = make("second.ts", f"{SOURCE} {H264} -output_ts_offset 2", size="640x360")
    both = first.with_stem("both")
    both.write_bytes(first.read_bytes() + second.read_bytes())
    seen = full(wheel_ffmpeg() if newer else ffmpeg, both).measurements
    assert (seen.frames, seen.width, seen.height) == (100, 640, 360)
    assert seen.seconds == near(4.0, abs=1.1 * FRAME_S)


ALIKE = {
    "sound.mp4": f"{SOURCE} {TONE} {H264} -c:a aac",
    "bars.mkv": "-f lavfi -i smptebars=size=320x180:rate=25:duration=2 -c:v mpeg2video",
    "bars.mp4": f"{SOURCE} -vf scale=240:180,pad=320:180:40:0 {H264}",
}


@pytest.mark.parametrize("name", ALIKE)
def test_old_and_new_ffmpeg_measure_the_same(make: Maker, ffmpeg: str, name: str) -> None:
    place = make(name, ALIKE[name])
    old, new = (full(program, place, 3) for program in (ffmpeg, wheel_ffmpeg()))
    a, b = old.measurements, new.measurements
    assert (a.frames, a.seconds, a.width, a.height) == (b.frames, b.seconds, b.width, b.height)
    assert (a.black, a.frozen, a.bars, a.leader, a.flash, a.combed, a.bit_rate_peak) == (
        b.black, b.frozen, b.bars, b.leader, b.flash, b.combed, b.bit_rate_peak,
    )  # fmt: skip
    assert a.seam is not None
    assert b.seam is not None
    assert a.seam.picture_change == near(b.seam.picture_change, abs=0.5)
    assert [one.second for one in old.pictures] == [one.second for one in new.pictures]
    assert (a.sound is None) == (b.sound is None)
    if a.sound is not None and b.sound is not None:
        # The newer one leaves out what AAC's encoder added at the end.
        assert a.sound.seconds == near(b.sound.seconds, abs=1024 / 48000)
        assert a.sound.loudness_lufs == near(b.sound.loudness_lufs, abs=0.1)
        assert a.sound.true_peak_dbtp == near(b.sound.true_peak_dbtp, abs=0.1)


@pytest.mark.skipif(sys.platform == "win32", reason="a shell script stands in for ffmpeg")
def test_sound_that_stops_the_decoder_is_left_out_and_the_picture_is_seen_whole(
    make: Maker, ffmpeg: str, tmp_path: Path
) -> None:
    """As when damaged sound seems to change its channels, and the program gives up with code 234."""
    place = make("whole.mp4", f"{SOURCE} {TONE} {H264} -c:a aac")
    gives_up = tmp_path / "gives-up"
    gives_up.write_text(
        f'#!/bin/sh\n"{ffmpeg}" "$@"\n'
        'case "$*" in *ebur128*) echo "[aac @ 0x1] [error] Number of bands exceeds limit." >&2\n'
        "exit 234;; esac\n"
    )
    gives_up.chmod(0o755)
    seen = full(gives_up, place).measurements
    assert (seen.frames, seen.decode_errors, seen.decode_error_count) == (50, (), 0)
    assert (seen.sound, seen.sound_error_count) == (None, 1)
