"""The command of the one decode, and the shapes of what it hands over."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mediacheck.measure.graph import Alongside, fitted, plan
from mediacheck.measure.pieces import kinds_of
from mediacheck.media.facts import AudioFacts, ContainerFacts, MediaFacts, VideoFacts

SIDES = st.integers(1, 8192)
FFMPEG = Path("/opt/tools/ffmpeg")
CARD = "file:/media/card/a clip, with 'odd' signs; and %.mp4"


def facts(container: str = "MP4", sound: bool = True, primaries: str | None = None) -> MediaFacts:
    video = VideoFacts(
        "h264", None, None, 1920, 1080, Fraction(1), 0, Fraction(25), None, 8, None, None, None, Fraction(10),
        colour_primaries=primaries,
    )  # fmt: skip
    audio = (AudioFacts("aac", None, 48000, 2, None, Fraction(10)),) if sound else ()
    return MediaFacts("video", ContainerFacts(container), video, audio)


@given(SIDES, SIDES, st.sampled_from([160, 360]))
def test_a_fitted_size_is_even_and_keeps_the_shape(width: int, height: int, long_side: int) -> None:
    across, down = fitted(width, height, long_side)
    assert max(across, down) == long_side
    assert (across % 2, down % 2) == (0, 0)
    longer, shorter = max(width, height), min(width, height)
    assert abs(min(across, down) - long_side * shorter / longer) <= max(1, 2 - long_side * shorter / longer)
    assert (across >= down) == (width >= height) or across == down


def test_a_header_without_a_size_costs_no_decode() -> None:
    assert fitted(0, 0, 160) == (160, 160)
    assert fitted(1920, 0, 160) == (160, 160)


@pytest.mark.parametrize(
    ("thumbnails", "sound", "kinds"),
    [
        (4, True, ("small", "columns", "rows", "thumbnail", "sound")),
        (0, True, ("small", "columns", "rows", "sound")),
        (4, False, ("small", "columns", "rows", "thumbnail")),
        (0, False, ("small", "columns", "rows")),
    ],
)
def test_each_stream_of_the_output_is_mapped_once(
    thumbnails: int, sound: bool, kinds: tuple[str, ...]
) -> None:
    work = plan(FFMPEG, CARD, facts(sound=sound), thumbnails)
    assert kinds_of(work) == kinds
    assert work.command.count("-map") == len(kinds)
    assert (work.small_px, work.command[0], work.command[-1]) == ((160, 90), str(FFMPEG), "pipe:1")


def test_the_pictures_do_not_wait_for_the_sound() -> None:
    """In one graph with it, ffmpeg keeps every picture whole in memory until the sound begins."""
    command = plan(FFMPEG, CARD, facts(), 4).command
    assert command.count("-filter_complex") == command.count("-filter:a") == 1
    assert ":a" not in command[command.index("-filter_complex") + 1]
    assert command[command.index("-filter:a") + 1] == "ebur128=peak=true"
    assert "-filter:a" not in plan(FFMPEG, CARD, facts(sound=False), 4).command


def test_the_file_is_one_argument_whatever_its_name_and_nothing_else_is_opened() -> None:
    command = plan(FFMPEG, CARD, facts(), 4).command
    assert command.count("-i") == 1
    assert command[command.index("-i") + 1] == CARD
    assert command[command.index("-protocol_whitelist") + 1] == "file,pipe,subfile"


@pytest.mark.parametrize(("container", "ignored"), [("MP4", True), ("MOV", True), ("MKV", False)])
def test_edit_lists_are_ignored_where_there_can_be_any(container: str, ignored: bool) -> None:
    """Other demuxers do not know the option, and ffmpeg would refuse to start."""
    assert ("-ignore_editlist" in plan(FFMPEG, CARD, facts(container), 0).command) is ignored


def test_the_usual_matrix_is_taken_only_where_the_file_does_not_say() -> None:
    silent, outspoken = (" ".join(plan(FFMPEG, CARD, facts(primaries=p), 0).command) for p in (None, "bt709"))
    assert "in_color_matrix=bt709" in silent
    assert "in_color_matrix" not in outspoken


def test_what_has_no_picture_is_refused() -> None:
    with pytest.raises(ValueError, match="with a picture"):
        plan(FFMPEG, CARD, MediaFacts("audio"), 0)


def test_what_is_done_alongside_opens_a_second_file_and_wants_pictures_whole() -> None:
    alone = plan(FFMPEG, CARD, facts(), 4)
    both = plan(FFMPEG, CARD, facts(), 4, Alongside("file:kept.nut", "[0:V:0][1:V:0]ssim[beside]"))
    command = both.command
    inputs = [command[place + 1] for place, word in enumerate(command) if word == "-i"]
    assert inputs == [CARD, "file:kept.nut"]
    second = command.index("file:kept.nut")
    assert command[second - 3 : second - 1] == ("-protocol_whitelist", "file,pipe,subfile")
    assert "-skip_loop_filter" in alone.command
    assert "-skip_loop_filter" not in command
    assert command[command.index("pipe:1") + 1 :] == (
        *("-filter_complex", "[0:V:0][1:V:0]ssim[beside]", "-map", "[beside]", "-fps_mode", "passthrough"),
        *("-enc_time_base:v", "1/90000", "-f", "null", "-"),
    )
    assert kinds_of(both) == kinds_of(alone)


@pytest.mark.parametrize(("cores", "threads"), [(1, 3), (2, 6), (64, 16), (None, 3)])
def test_the_decoder_has_more_threads_than_there_are_cores(
    cores: int | None, threads: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("os.cpu_count", lambda: cores)
    command = plan(FFMPEG, CARD, facts(), 0).command
    assert command[command.index("-threads") + 1] == str(threads)
    assert command.index("-threads") < command.index("-i")


@pytest.mark.parametrize(
    ("codec", "container", "fragmented", "opened_by_index"),
    [
        ("H.264", "MP4", False, True),
        ("H.265", "MOV", False, True),
        ("H.264", "MP4", True, False),
        ("H.264", "MKV", False, False),
        ("MPEG-4", "MP4", False, False),
    ],
)
def test_what_headers_and_index_tell_is_not_decoded_to_find_out(
    codec: str, container: str, fragmented: bool, opened_by_index: bool
) -> None:
    found = facts()
    assert found.video is not None
    assert found.container is not None
    found = replace(
        found,
        video=replace(found.video, codec=codec),
        container=replace(found.container, name=container, fragmented=fragmented),
    )
    command = plan(FFMPEG, CARD, found, 0).command
    assert ("-nofind_stream_info" in command[: command.index("-i")]) == opened_by_index
    assert "-nofind_stream_info" not in command[command.index("-i") :]


def test_small_pictures_are_not_handed_to_threads_that_have_nothing_to_encode() -> None:
    command = plan(FFMPEG, CARD, facts(), 4).command
    assert command[command.index("-threads", command.index("-i")) + 1] == "1"


@pytest.mark.parametrize(
    ("codec", "ahead_s"),
    [("H.264", 0.24), ("H.265", 0.24), ("MPEG-4", 0.24), ("ProRes", 0.24), ("MPEG-2", 0.0), ("VP9", 0.0)],
)
def test_the_decoder_is_ahead_by_a_picture_in_each_thread_where_it_works_that_way(
    codec: str, ahead_s: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("os.cpu_count", lambda: 2)
    found = facts()
    assert found.video is not None
    video = replace(found.video, codec=codec, frame_rate=Fraction(25))
    assert plan(FFMPEG, CARD, replace(found, video=video), 0).ahead_s == ahead_s
