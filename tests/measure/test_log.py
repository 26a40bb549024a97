"""Which words of ffmpeg are about the file, and when they were said. Lines are real, of ffmpeg 5.1 and 9."""

from __future__ import annotations

import pytest

from mediacheck.measure.log import KEPT_ERRORS, SIZES_MAX, Listener, is_complaint, plain
from mediacheck.measure.model import DecodeError
from mediacheck.measure.sound import parse_ebur128_summary

COMPLAINTS = {
    "[h264 @ 0x559858866240] [error] Invalid NAL unit size (-283552104 > 1473).": (
        "Invalid NAL unit size (-283552104 > 1473)."
    ),
    "[error] Error while decoding stream #0:0: Invalid data found when processing input": (
        "Error while decoding stream #0:0: Invalid data found when processing input"
    ),
    "[vist#0:0/h264 @ 0x55a6b415c800] [dec:h264 @ 0x55a6b4183140] [error] Error submitting packet to "
    "decoder: Invalid data found when processing input": (
        "Error submitting packet to decoder: Invalid data found when processing input"
    ),
    "[NULL @ 0x559858846400] [error] missing picture in access unit with size 1477": (
        "missing picture in access unit with size 1477"
    ),
    "[h264 @ 0x5598] [info] concealing 920 DC, 920 AC, 920 MV errors in B frame": (
        "concealing 920 DC, 920 AC, 920 MV errors in B frame"
    ),
    "[warning] file:/media/card/clip.mp4: corrupt decoded frame in stream 0": (
        "file:/media/card/clip.mp4: corrupt decoded frame in stream 0"
    ),
    "[vist#0:0/h264 @ 0x55983f0] [dec:h264 @ 0x557f52ca2700] [warning] corrupt decoded frame": (
        "corrupt decoded frame"
    ),
    "[mpegts @ 0x5612] [warning] Packet corrupt (stream = 0, dts = 212400).": (
        "Packet corrupt (stream = 0, dts = 212400)."
    ),
    "[aac @ 0x55985888fd40] [error] channel element 3.13 is not allocated": (
        "channel element 3.13 is not allocated"
    ),
}
NO_COMPLAINTS = (
    "[nut @ 0x560c448a6180] [warning] Multiple keyframes with same PTS",
    "[out#0/nut @ 0x55a6b41b0580] [info] video:4222KiB audio:558KiB subtitle:0KiB other streams:0KiB",
    "[fc#0 @ 0x55983f5] [vo3->#0:3 @ 0x55983f54e980] [warning] No filtered frames for output stream, "
    "trying to initialize anyway.",
    "[vost#0:1/rawvideo @ 0x55a1] [error] Error submitting a packet to the muxer: Broken pipe",
    "[swscaler @ 0x55a1] [warning] deprecated pixel format used, make sure you did set range correctly",
    "[Parsed_ebur128_17 @ 0x559858ca59c0] [info] Summary:",
    "[aac @ 0x55985888fd40] [warning] Multiple frames in a packet.",
    "[h264 @ 0x5598] [warning] Cannot use next picture in error concealment",
    "[error] Decoder (codec none) not found for input stream #0:1",
    "[error] Cannot determine format of input stream 0:1 after EOF",
    "[error] Error marking filters as finished",
    "[aist#0:1/ac4 @ 0x55bc814a53c0] [error] Decoding requested, but no decoder found for: ac4",
    "[info] Stream mapping:",
    "[h264 @ 0x564f67496f80] [verbose] Reinit context to 1280x720, pix_fmt: yuv420p",
    "[in#0/mov,mp4,m4a,3gp,3g2,mj2 @ 0x55d857e0fd00] [verbose] EOF while reading input",
    "    Peak:      -16.1 dBFS",
    "",
)
SHOWN = "[Parsed_metadata_9 @ 0x7fac4c002dc0] [info] frame:{n:<4} pts:{pts:<7} pts_time:{second}"
SIZED = (
    "[graph 0 input from stream 0:0 @ 0x7fac4c012500] [verbose] w:{0} h:{1} pixfmt:yuv420p tb:1/12800 "
    "fr:25/1 sar:0/1 csp:bt709 range:tv alpha:unspecified"
)
HURT = "[h264 @ 0x5598] [error] no frame!"


@pytest.mark.parametrize(("line", "message"), COMPLAINTS.items())
def test_damage_in_the_file_is_a_complaint_without_the_programs_own_tags(line: str, message: str) -> None:
    assert is_complaint(line)
    assert plain(line) == message


@pytest.mark.parametrize("line", NO_COMPLAINTS)
def test_what_is_not_about_the_file_is_no_complaint(line: str) -> None:
    assert not is_complaint(line)


def heard(*lines: str) -> Listener:
    listener = Listener()
    for line in lines:
        listener.hear(line)
    return listener


def test_a_complaint_bears_the_second_of_the_last_picture_shown_from_the_first_on() -> None:
    listener = heard(
        HURT,
        SHOWN.format(n=0, pts=1024, second=0.5),
        HURT,
        SHOWN.format(n=1, pts=1536, second=10.25),
        HURT,
    )
    seconds = (None, 0.0, 9.75)
    assert listener.picture.kept == [DecodeError("no frame!", second) for second in seconds]


def test_a_decoder_that_is_ahead_complains_of_a_later_picture_than_it_hands_over() -> None:
    listener = Listener(ahead_s=0.4)
    handed_over = "[vist#0:0/h264 @ 0x5598] [warning] corrupt decoded frame"
    for line in (HURT, SHOWN.format(n=0, pts=1024, second=0.5), HURT, handed_over):
        listener.hear(line)
    assert [one.second for one in listener.picture.kept] == [0.2, 0.4, 0.0]


@pytest.mark.parametrize("who", ["h264", "hevc", "mpeg4", "prores", "NULL"])
def test_who_complains_before_the_first_picture_means_one_of_those_under_way(who: str) -> None:
    """Whoever splits the stream has no name yet, where nobody decoded a picture to find out."""
    listener = Listener(ahead_s=0.4)
    listener.hear(f"[{who} @ 0x5598] [error] Invalid NAL unit size (-283552104 > 1473).")
    assert [error.second for error in listener.picture.kept] == [0.2]


def test_what_is_said_of_the_container_before_the_first_picture_has_no_place() -> None:
    listener = Listener(ahead_s=0.4)
    listener.hear("[mov,mp4,m4a,3gp,3g2,mj2 @ 0x5598] [error] error reading header")
    assert [one.second for one in listener.picture.kept] == [None]


@pytest.mark.parametrize("words", ["-0.08", "1e-05", "-1.5e-05"])
def test_times_are_read_however_they_are_written(words: str) -> None:
    listener = heard(SHOWN.format(n=0, pts=0, second=words), SHOWN.format(n=1, pts=0, second="2"), HURT)
    (kept,) = listener.picture.kept
    assert kept.second == pytest.approx(2 - float(words))


def test_all_complaints_are_counted_and_the_first_hundred_kept() -> None:
    listener = heard(*(f"[h264 @ 0x1] [error] number {number}" for number in range(150)))
    assert listener.picture.count == 150
    assert listener.picture.kept == [DecodeError(f"number {number}") for number in range(KEPT_ERRORS)]


LISTED = (
    "[info] Input #0, mpegts, from 'file:/media/card/clip.ts':",
    "[info]     title           : Stream #0:2: Audio: none of this",
    "[info]   Stream #0:0[0x100]: Video: h264 (High) ([27][0][0][0] / 0x001B), yuv420p(progressive)",
    "[info]   Stream #0:1[0x101](eng): Audio: mp2 ([3][0][0][0] / 0x0003), 48000 Hz, mono, s16p, 384 kb/s",
    "[info] Stream mapping:",
    "[info] Output #0, nut, to 'pipe:1':",
    "[info]   Stream #0:0: Audio: pcm_f32le (PSD[16] / 0x10445350), 48000 Hz, mono, flt, 1536 kb/s",
)
OF_SOUND = (
    "[aac @ 0x55985888fd40] [error] channel element 3.13 is not allocated",
    "[mp3float @ 0x5598] [error] Header missing",
    "[pcm_s24le @ 0x5598] [error] Invalid PCM packet, data has size 1 but at least a size of 3 was expected",
    "[aist#0:1/aac @ 0x5647] [dec:aac @ 0x5647] [error] Error submitting packet to decoder: Invalid data",
    "[error] Error while decoding stream #0:1: Invalid data found when processing input",
    "[warning] file:/media/card/clip.ts: corrupt decoded frame in stream 1",
    "[mpegts @ 0x5612] [warning] Packet corrupt (stream = 1, dts = 212400).",
)
OF_THE_PICTURE = (
    "[h264 @ 0x559858866240] [error] Invalid NAL unit size (-283552104 > 1473).",
    "[vist#0:0/h264 @ 0x55a6] [dec:h264 @ 0x55a6] [error] Error submitting packet to decoder: Invalid data",
    "[error] Error while decoding stream #0:0: Invalid data found when processing input",
    "[mpegts @ 0x5612] [warning] Packet corrupt (stream = 0, dts = 212400).",
    "[NULL @ 0x559858846400] [error] missing picture in access unit with size 1477",
    "[mov,mp4,m4a,3gp,3g2,mj2 @ 0x55] [error] error reading header",
)


def test_complaints_about_the_sound_are_told_from_those_about_the_picture() -> None:
    listener = heard(*LISTED, *OF_SOUND, *OF_THE_PICTURE)
    assert [one.message for one in listener.sound.kept] == [plain(line) for line in OF_SOUND]
    assert [one.message for one in listener.picture.kept] == [plain(line) for line in OF_THE_PICTURE]
    assert (listener.sound.count, listener.picture.count) == (len(OF_SOUND), len(OF_THE_PICTURE))


def test_a_flood_about_the_sound_leaves_room_for_the_picture() -> None:
    listener = heard(*OF_SOUND[:1] * 500, HURT)
    assert (len(listener.sound.kept), listener.sound.count) == (KEPT_ERRORS, 500)
    assert listener.picture.kept == [DecodeError("no frame!")]


def test_each_size_of_the_picture_is_known_once_and_not_without_end() -> None:
    sizes = [(1280, 720), (1280, 720), (640, 360), (1280, 720)]
    assert heard(*(SIZED.format(*size_px) for size_px in sizes)).sizes_px == ((1280, 720), (640, 360))
    assert len(heard(*(SIZED.format(side, 64) for side in range(100))).sizes_px) == SIZES_MAX


def test_a_complaint_that_fell_between_two_parts_of_the_loudness_summary_is_not_lost() -> None:
    whole = (
        "  Loudness range:",
        "    LRA:        20.0 LU",
        "    LRA low:   -40.8 LUFSEncoder thread received EOF",
        "    Peak:       -inf dBFS",
    )
    assert heard(*whole).picture.count == 0
    (kept,) = heard(*whole[:2], "    LRA high:  -20.8 LUFSCould not find ref with POC 50").picture.kept
    assert kept.message == "Could not find ref with POC 50"


def test_the_loudness_summary_is_read_whatever_was_said_between_its_parts() -> None:
    """ffmpeg 9, whose threads say that they end while the summary is written."""
    summary = ("    I:         -21.8 LUFS", "    Threshold: -31.8 LUFS", "    LRA high:  -20.8 LUFS")
    told = heard(
        *summary[:2],
        f"{summary[2]}Encoder thread received EOF",
        "[Parsed_ebur128_0 @ 0x7fac44001c00] [info] ",
        "",
        "  True peak:",
        "    Peak:      -16.1 dBFSTerminating thread with return code 0 (success)",
    )
    assert [*told.last_lines] == [*summary, "", "  True peak:", "    Peak:      -16.1 dBFS"]
    assert parse_ebur128_summary([*told.last_lines]) == (-21.8, -16.1)
    assert told.picture.count == 0


def test_the_loudness_summary_outlasts_a_flood_of_other_lines() -> None:
    """ffmpeg 9 gives the summary first and the muxer's warnings after it."""
    summary = ["    I:         -21.8 LUFS", "    Peak:      -16.1 dBFS"]
    flood = ["[nut @ 0x560c448a6180] [warning] Multiple keyframes with same PTS", HURT] * 200
    shown = [SHOWN.format(n=n, pts=n, second=n) for n in range(200)]
    assert list(heard(*summary, *flood, *shown).last_lines) == summary
