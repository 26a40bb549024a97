"""Lines of ffmpeg that recipes become: every argument in its place, in one pass or two, for one or more."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mediacheck.repair import commands
from mediacheck.repair.commands import SECOND, Job, Places
from mediacheck.repair.model import LUT, PictureRecipe, Recipe, SoundRecipe
from tests.repair.masters import COPIED, ENCODED, FILTERS, PICTURE, SOUND, WRAPPED, WRAPPING, X264, run

SILENCE = SoundRecipe(
    "1:a:0", False, input=("-f", "lavfi", "-i", "anullsrc=r=48000:cl=stereo"), encoder=("-c:a", "aac")
)
STILL = Recipe("still", ".jpg", ("-noautorotate",), still="JPEG", still_arguments=("-vf", "hflip"))
QUEUE = ("-max_muxing_queue_size", "10000")


def test_a_picture_and_its_sound_are_encoded() -> None:
    assert commands.making(Job(ENCODED, "volume=2dB")) == (
        *("-colorspace", "bt709", "-i", "MASTER"),
        *("-map", "0:V:0", "-vf", FILTERS, *X264),
        *("-map", "0:a:0", "-af", f"{SOUND.mixing},volume=2dB,{SOUND.ending}", *SOUND.encoder),
        *WRAPPING,
        *QUEUE,
        "NEW",
    )


def test_packets_are_copied() -> None:
    marks = ("-bsf:v", "h264_metadata=level=4.1")
    recipe = replace(WRAPPED, picture=replace(COPIED, also=marks))
    assert commands.making(Job(recipe)) == (
        *("-i", "MASTER", "-map", "0:V:0", "-c:v", "copy", *marks),
        *("-map", "0:a:0", "-c:a", "copy", *WRAPPING, *QUEUE, "NEW"),
    )


def test_without_sound() -> None:
    line = commands.making(Job(replace(WRAPPED, sound=None)))
    assert line[:8] == ("-i", "MASTER", "-map", "0:V:0", "-c:v", "copy", "-an", "-sn")


def test_a_still_has_its_own_arguments() -> None:
    assert commands.making(Job(STILL)) == ("-noautorotate", "-i", "MASTER", "-vf", "hflip", "NEW")


def test_a_recipe_for_nothing_is_refused() -> None:
    with pytest.raises(ValueError, match="without a picture"):
        commands.making(Job(Recipe("sound", ".mp4", sound=SOUND)))


def test_several_files_share_the_master_and_equal_inputs() -> None:
    other = replace(SILENCE, input=("-f", "lavfi", "-i", "anullsrc=r=44100:cl=mono"))
    sounds = (SILENCE, SOUND, other, SILENCE)
    jobs = [Job(replace(ENCODED, sound=s), places=Places(new=f"NEW{n}")) for n, s in enumerate(sounds)]
    line = commands.making(*jobs)
    assert line[: line.index("-map")] == (
        *("-colorspace", "bt709", "-i", "MASTER"),
        *SILENCE.input,
        *other.input,
    )
    tracks = [line[at + 1] for at, word in enumerate(line) if word == "-map" and ":a:" in line[at + 1]]
    assert tracks == ["1:a:0", "0:a:0", "2:a:0", "1:a:0"]
    assert [word for word in line if word.startswith("NEW")] == ["NEW0", "NEW1", "NEW2", "NEW3"]


def test_two_passes() -> None:
    job = Job(ENCODED)
    words = ("-passlogfile:v", "PASSES")
    assert commands.first_pass(job) == (
        *("-colorspace", "bt709", "-i", "MASTER", "-map", "0:V:0", "-vf", FILTERS, *X264, "-pass:v", "1"),
        *(*words, "-an", "-f", "null", "-"),
    )
    second = commands.making(job, pass_number=SECOND)
    at = second.index("-pass:v")
    assert second[at : at + 4] == ("-pass:v", "2", *words)
    assert (*second[:at], *second[at + 4 :]) == commands.making(job)


@pytest.mark.parametrize(
    ("also", "wanted"),
    [
        (("-c:v", "libx265"), "pass=1:stats=C\\:/a\\'b"),
        (("-c:v", "libx265", "-x265-params", "open-gop=0", "-g", "9"), "open-gop=0:pass=1:stats=C\\:/a\\'b"),
    ],
)
def test_libx265_hears_of_passes_in_its_own_words(also: tuple[str, ...], wanted: str) -> None:
    recipe = replace(ENCODED, picture=replace(PICTURE, also=also))
    line = commands.first_pass(Job(recipe, places=Places(passes="C:/a'b")))
    assert line[line.index("-x265-params") + 1] == wanted
    assert "-pass:v" not in line


@pytest.mark.parametrize("name", ["plain", "it's, [odd]; 100 %", "a:b=c", "back\\slash"])
def test_a_table_of_colours_is_found_whatever_its_folder_is_called(tmp_path: Path, name: str) -> None:
    folder = tmp_path / name
    folder.mkdir()
    corners = "\n".join(f"{1 - r} {1 - g} {1 - b}" for b in (0, 1) for g in (0, 1) for r in (0, 1))
    table = folder / "negative.cube"
    table.write_text(f"LUT_3D_SIZE 2\n{corners}\n")
    filters = commands.with_lut(f"format=gbrp,lut3d=file={LUT}:interp=trilinear", table.as_posix())
    source = ("-f", "lavfi", "-i", "color=0x204060:size=16x16")
    out = ("-frames:v", "1", "-f", "rawvideo", "-pix_fmt", "rgb24", "pipe:1")
    assert tuple(run(*source, "-vf", filters, *out)[:3]) == pytest.approx((0xDF, 0xBF, 0x9F), abs=3)


@pytest.mark.parametrize(
    ("rate", "bit_s"), [("1500k", 1_500_000), ("2.5M", 2_500_000), ("900000", 900_000), ("fast", None)]
)
def test_the_rate_that_an_encoder_is_told(rate: str, bit_s: int | None) -> None:
    picture = replace(PICTURE, also=("-c:v", "libx264", "-b:v", rate))
    assert commands.rate_bit_s(picture) == bit_s


def test_no_rate_where_quality_is_aimed_at_or_packets_are_copied() -> None:
    assert commands.rate_bit_s(PICTURE) is None
    assert commands.rate_bit_s(PictureRecipe(True, ("-b:v", "1k"))) is None
    with pytest.raises(ValueError, match="not told a rate"):
        commands.at_rate(ENCODED, 1000)


@given(st.integers(1000, 10**9))
def test_another_rate_changes_nothing_else(bit_s: int) -> None:
    also = ("-c:v", "libx264", "-b:v", "1500k", "-g", "50")
    recipe = replace(ENCODED, picture=replace(PICTURE, also=also))
    slower = commands.at_rate(recipe, bit_s)
    assert slower.picture is not None
    assert commands.rate_bit_s(slower.picture) == bit_s // 1000 * 1000
    assert replace(slower, picture=replace(slower.picture, also=also)) == recipe
