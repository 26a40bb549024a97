"""Which words of ffmpeg are about the file, and when they were said. Lines are real, of ffmpeg 5.1 and 9."""

from __future__ import annotations

import pytest

from mediacheck.measure.log import KEPT_ERRORS, Listener, is_complaint, plain
from mediacheck.measure.model import DecodeError

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
    "[info] Stream mapping:",
    "    Peak:      -16.1 dBFS",
    "",
)
SHOWN = (
    "[Parsed_showinfo_8 @ 0x7fe5640348c0] [info] n: {n:3} pts:{pts:7} pts_time:{second:<7} duration:    512 "
    "duration_time:0.04    fmt:gray cl:unspecified sar:20/1 s:32x360 i:P iskey:1 type:I "
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
    assert listener.kept == [DecodeError("no frame!", second) for second in seconds]


@pytest.mark.parametrize("words", ["-0.08", "1e-05", "-1.5e-05"])
def test_times_are_read_however_they_are_written(words: str) -> None:
    listener = heard(SHOWN.format(n=0, pts=0, second=words), SHOWN.format(n=1, pts=0, second="2"), HURT)
    (kept,) = listener.kept
    assert kept.second == pytest.approx(2 - float(words))


def test_all_complaints_are_counted_and_the_first_hundred_kept() -> None:
    listener = heard(*(f"[h264 @ 0x1] [error] number {number}" for number in range(150)))
    assert listener.count == 150
    assert listener.kept == [DecodeError(f"number {number}") for number in range(KEPT_ERRORS)]


def test_the_loudness_summary_outlasts_a_flood_of_other_lines() -> None:
    """ffmpeg 9 gives the summary first and the muxer's warnings after it."""
    summary = ["    I:         -21.8 LUFS", "    Peak:      -16.1 dBFS"]
    flood = ["[nut @ 0x560c448a6180] [warning] Multiple keyframes with same PTS", HURT] * 200
    shown = [SHOWN.format(n=n, pts=n, second=n) for n in range(200)]
    assert list(heard(*summary, *flood, *shown).last_lines) == summary
