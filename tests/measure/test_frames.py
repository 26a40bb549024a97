"""Frames for people: the right moment, the right colours, as stored, and never an exception."""

from __future__ import annotations

import subprocess
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from PIL import Image

from mediacheck.measure.frames import KEYFRAMES_MAX, _keyframes, pictures_of, spread, telling_pictures
from mediacheck.measure.model import Picture
from mediacheck.media.facts import MediaFacts, VideoFacts

VIDEO, STILL = MediaFacts("video"), MediaFacts("still")
GREY_PER_FRAME = 2
"""Frame number N of the ramp has luma 16 + 2 N, so a picture tells which frame it is."""
RATE = 25
RAMP = f"nullsrc=s=64x36:r={RATE}:d=4,format=yuv420p,geq=lum='16+{GREY_PER_FRAME}*N':cb=128:cr=128"


def make(path: Path, source: str, *options: str) -> Path:
    """A clip from a lavfi source."""
    command = ["ffmpeg", "-v", "error", "-y", "-f", "lavfi", "-i", source, *options, str(path)]
    subprocess.run(command, check=True, timeout=60)
    return path


def pixel(picture: Picture, x: int, y: int) -> tuple[int, int, int]:
    """Red, green and blue at a place."""
    start = 3 * (y * picture.width + x)
    red, green, blue = picture.rgb[start : start + 3]
    return red, green, blue


def frame_number(picture: Picture) -> float:
    """Which frame of the ramp this is: luma 16 to 235 became 0 to 255."""
    return pixel(picture, picture.width // 2, picture.height // 2)[1] * 219 / 255 / GREY_PER_FRAME


def lasting(seconds: int) -> MediaFacts:
    """Facts that know the length of the moving picture."""
    video = VideoFacts(
        codec="H.264",
        profile=None,
        level=None,
        width=64,
        height=36,
        pixel_aspect=Fraction(1),
        rotation=0,
        frame_rate=None,
        frame_rate_mode=None,
        bit_depth=8,
        chroma="4:2:0",
        scan=None,
        bit_rate=None,
        duration=Fraction(seconds),
    )
    return MediaFacts("video", video=video)


def near(colour: tuple[int, int, int], wanted: tuple[int, int, int], by: int = 8) -> bool:
    return all(abs(one - other) <= by for one, other in zip(colour, wanted, strict=True))


@given(st.fractions(Fraction(1, 1000), 100_000), st.integers(1, 50))
def test_spread_takes_the_middle_of_equal_shares(duration_s: Fraction, count: int) -> None:
    share = duration_s / count
    assert spread(duration_s, count) == tuple(share * place + share / 2 for place in range(count))


@pytest.mark.parametrize(
    ("name", "options"),
    [
        ("b-frames.mp4", ("-c:v", "libx264", "-bf", "3", "-g", "20")),
        ("one-gop.mp4", ("-c:v", "libx264", "-g", "999", "-sc_threshold", "0")),
        ("one-gop.mkv", ("-c:v", "libx264", "-g", "999", "-sc_threshold", "0")),
        ("keyframes.mkv", ("-c:v", "libx264", "-g", "10")),
        ("no-index.ts", ("-c:v", "libx264", "-g", "50", "-sc_threshold", "0")),
        ("mpeg2.mpg", ("-c:v", "mpeg2video", "-q:v", "2", "-bf", "2")),
        ("mpeg4.avi", ("-c:v", "mpeg4", "-q:v", "2", "-bf", "2")),
        ("motion-jpeg.mov", ("-c:v", "mjpeg", "-q:v", "2", "-pix_fmt", "yuvj420p")),
        ("vp9.webm", ("-c:v", "libvpx-vp9", "-deadline", "realtime", "-cpu-used", "8")),
    ],
)
def test_each_picture_is_the_frame_of_its_time(tmp_path: Path, name: str, options: tuple[str, ...]) -> None:
    pictures = pictures_of(make(tmp_path / name, RAMP, *options), lasting(4), 5)
    assert [picture.second for picture in pictures] == pytest.approx([0.4, 1.2, 2.0, 2.8, 3.6], abs=0.081)
    shown = [frame_number(picture) for picture in pictures]
    assert shown == pytest.approx([picture.second * RATE for picture in pictures], abs=1.5)


def test_long_clips_may_skip_frames_but_pictures_still_tell_their_own_time(tmp_path: Path) -> None:
    source = "nullsrc=s=64x36:r=5:d=20,format=yuv420p,geq=lum='16+2*N':cb=128:cr=128"
    clip = make(tmp_path / "long.mp4", source, "-c:v", "libx264", "-bf", "3", "-g", "40")
    pictures = pictures_of(clip, VIDEO, 4)
    assert [picture.second for picture in pictures] == pytest.approx([2.5, 7.5, 12.5, 17.5], abs=0.9)
    assert [frame_number(one) for one in pictures] == pytest.approx(
        [5 * one.second for one in pictures], abs=1
    )


def test_the_length_in_the_facts_is_what_is_spread_over(tmp_path: Path) -> None:
    clip = make(tmp_path / "ramp.mp4", RAMP, "-c:v", "libx264")
    facts = replace(lasting(2), duration=Fraction(4))
    assert [one.second for one in pictures_of(clip, facts, 2)] == pytest.approx([0.5, 1.5], abs=0.041)


def test_a_clip_with_fewer_frames_than_wanted_gives_each_once(tmp_path: Path) -> None:
    clip = make(tmp_path / "three.mp4", "testsrc=s=64x36:r=1:d=3", "-c:v", "libx264", "-pix_fmt", "yuv420p")
    seconds = [picture.second for picture in pictures_of(clip, VIDEO, 12)]
    assert seconds == [0.0, 1.0, 2.0]


@pytest.mark.parametrize(
    ("size", "matrix", "tags"),
    [
        ("1280x720", "bt709", ("-colorspace", "bt709")),
        ("1280x720", "bt709", ()),
        ("640x360", "bt601", ("-colorspace", "smpte170m")),
        ("640x360", "bt601", ()),
        ("640x360", "bt709", ("-colorspace", "bt709")),
        ("1280x720", "bt601", ("-colorspace", "bt470bg")),
    ],
)
def test_colours_come_out_as_they_went_in(
    tmp_path: Path, size: str, matrix: str, tags: tuple[str, ...]
) -> None:
    source = f"color=c=0xC83214:s={size}:r=5:d=1,scale=out_color_matrix={matrix}:out_range=tv,format=yuv420p"
    clip = make(tmp_path / "orange.mp4", source, "-c:v", "libx264", "-qp", "4", *tags)
    (picture,) = pictures_of(clip, VIDEO, 1)
    assert near(pixel(picture, 100, 100), (0xC8, 0x32, 0x14))


def test_rotation_flags_are_not_applied(tmp_path: Path) -> None:
    half = "color=c=red:s=64x32:r=5:d=1,drawbox=x=0:y=0:w=32:h=32:c=blue:t=fill,format=yuv420p"
    plain = make(tmp_path / "plain.mp4", half, "-c:v", "libx264", "-qp", "4")
    flagged = tmp_path / "flagged.mp4"
    command = ["ffmpeg", "-v", "error", "-i", str(plain), "-c", "copy", "-metadata:s:v:0", "rotate=90"]
    subprocess.run([*command, str(flagged)], check=True, timeout=60)
    assert flagged.read_bytes() != plain.read_bytes()
    (picture,) = pictures_of(flagged, VIDEO, 1)
    assert (picture.width, picture.height) == (64, 32)
    assert near(pixel(picture, 8, 16), (0, 0, 255), 20)
    assert near(pixel(picture, 56, 16), (255, 0, 0), 20)


def test_pixel_shape_is_not_applied(tmp_path: Path) -> None:
    clip = make(
        tmp_path / "anamorphic.mp4", "testsrc=s=80x60:r=5:d=1,setsar=2,format=yuv420p", "-c:v", "libx264"
    )
    (picture,) = pictures_of(clip, VIDEO, 1)
    assert (picture.width, picture.height) == (80, 60)


@pytest.mark.parametrize(("limit", "size"), [(640, (320, 180)), (160, (160, 90)), (1, (1, 1))])
def test_pictures_shrink_to_the_long_side_and_never_grow(
    tmp_path: Path, limit: int, size: tuple[int, int]
) -> None:
    clip = make(tmp_path / "clip.mp4", "testsrc=s=320x180:r=5:d=1", "-c:v", "libx264", "-pix_fmt", "yuv420p")
    still = tmp_path / "still.png"
    Image.new("RGB", (320, 180), "green").save(still)
    found = (
        *pictures_of(clip, VIDEO, 1, long_side_px=limit),
        *pictures_of(still, STILL, 1, long_side_px=limit),
    )
    assert [(one.width, one.height, len(one.rgb)) for one in found] == [(*size, 3 * size[0] * size[1])] * 2


def test_cover_art_is_not_a_moving_picture(tmp_path: Path) -> None:
    cover = tmp_path / "cover.png"
    Image.new("RGB", (32, 32), "red").save(cover)
    song = tmp_path / "song.mp3"
    command = [
        "ffmpeg",
        "-v",
        "error",
        "-f",
        "lavfi",
        "-i",
        "sine=d=1",
        "-i",
        str(cover),
        "-map",
        "0",
        "-map",
        "1",
    ]
    disposition = ("-disposition:v", "attached_pic")
    subprocess.run([*command, "-c:v", "copy", *disposition, str(song)], check=True, timeout=60)
    assert pictures_of(song, VIDEO, 3) == ()


def test_a_cut_off_clip_gives_what_is_left(tmp_path: Path) -> None:
    clip = make(tmp_path / "ramp.mkv", RAMP + ",noise=alls=40", "-c:v", "libx264", "-g", "10")
    cut = tmp_path / "cut.mkv"
    cut.write_bytes(clip.read_bytes()[: clip.stat().st_size // 2])
    pictures = pictures_of(cut, VIDEO, 4)
    assert 1 <= len(pictures) < 4
    assert pictures[0].second == pytest.approx(0.5, abs=0.09)
    assert all(picture.second < 2.5 for picture in pictures)


def test_damage_in_the_middle_costs_pictures_not_the_run(tmp_path: Path) -> None:
    clip = make(tmp_path / "ramp.mp4", RAMP + ",noise=alls=40", "-c:v", "libx264", "-g", "10")
    data = bytearray(clip.read_bytes())
    middle = len(data) // 2
    data[middle - 2000 : middle + 2000] = b"\xff" * 4000
    clip.write_bytes(data)
    pictures = pictures_of(clip, VIDEO, 4)
    assert pictures[0].second == pytest.approx(0.5, abs=0.041)
    assert [one.second for one in pictures] == sorted({one.second for one in pictures})


@pytest.mark.parametrize("facts", [VIDEO, STILL])
def test_what_is_no_media_gives_no_picture(tmp_path: Path, facts: MediaFacts) -> None:
    text = tmp_path / "note.mp4"
    text.write_text("water the seeds")
    assert pictures_of(text, facts, 3) == ()
    assert pictures_of(tmp_path / "absent.mp4", facts, 3) == ()
    assert pictures_of(tmp_path, facts, 3) == ()


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    st.sampled_from(
        [b"", b"\0\0\0\x18ftypmp42", b"RIFF\0\0\1\0AVI ", b"\x1aE\xdf\xa3", b"\x89PNG\r\n\x1a\n"]
    ),
    st.binary(max_size=400),
)
def test_any_bytes_end_in_pictures_or_none(tmp_path: Path, start: bytes, rest: bytes) -> None:
    path = tmp_path / "any.bin"
    path.write_bytes(start + rest)
    for facts in (VIDEO, STILL):
        assert all(len(one.rgb) == 3 * one.width * one.height for one in pictures_of(path, facts, 2))


def test_a_still_is_one_picture_at_second_zero_and_its_orientation_is_ignored(tmp_path: Path) -> None:
    still, exif = Image.new("RGB", (60, 40), "red"), Image.Exif()
    still.paste((0, 0, 255), (0, 0, 30, 40))
    exif[0x0112] = 6  # Exif 2.3 Orientation: turn 90 degrees clockwise to see it upright
    still.save(tmp_path / "turned.jpg", exif=exif, quality=95, subsampling=0)
    (picture,) = pictures_of(tmp_path / "turned.jpg", STILL, 4)
    assert (picture.second, picture.width, picture.height) == (0.0, 60, 40)
    assert near(pixel(picture, 5, 20), (0, 0, 255))
    assert near(pixel(picture, 55, 20), (255, 0, 0))


@pytest.mark.parametrize(
    ("name", "image", "wanted"),
    [
        ("clear.png", Image.new("RGBA", (8, 8), (255, 255, 255, 0)), (0, 0, 0)),
        ("half.png", Image.new("RGBA", (8, 8), (200, 100, 50, 128)), (100, 50, 25)),
        ("grey.bmp", Image.new("L", (8, 8), 77), (77, 77, 77)),
        ("deep.png", Image.new("I;16", (8, 8), 0x8000), (128, 128, 128)),
        ("palette.gif", Image.new("P", (8, 8), 1), None),
        ("print.jpg", Image.new("CMYK", (8, 8), (0, 255, 255, 0)), (255, 0, 0)),
    ],
)
def test_stills_of_every_colour_kind_are_shown(
    tmp_path: Path, name: str, image: Image.Image, wanted: tuple[int, int, int] | None
) -> None:
    image.save(tmp_path / name)
    (picture,) = pictures_of(tmp_path / name, STILL, 1)
    expected = wanted or image.convert("RGB").getpixel((4, 4))
    assert isinstance(expected, tuple)
    assert near(pixel(picture, 4, 4), (int(expected[0]), int(expected[1]), int(expected[2])), 4)


def test_a_cut_off_still_gives_no_picture(tmp_path: Path) -> None:
    path = tmp_path / "cut.jpg"
    Image.effect_noise((400, 300), 80).save(path)
    path.write_bytes(path.read_bytes()[:4000])
    assert pictures_of(path, STILL, 1) == ()


@pytest.mark.parametrize("count", [0, -1])
def test_nothing_wanted_is_nothing_read(tmp_path: Path, count: int) -> None:
    assert pictures_of(tmp_path / "absent.mp4", VIDEO, count) == ()


def scenes(path: Path, lengths_s: tuple[int, ...], keyframes: int) -> Path:
    """A clip of still scenes: bars of different colours, each so many seconds, with a black start."""
    parts = [
        f"color=c={colour}:s=320x180:r=10:d={length},drawbox=x={40 * place}:y=40:w=60:h=90:c=white:t=fill"
        for place, (colour, length) in enumerate(
            zip(("black@0", "red", "green", "blue", "orange"), lengths_s, strict=True)
        )
    ]
    first = parts[0].split(",")[0].replace("@0", "")
    joined = ";".join(f"{part}[p{n}]" for n, part in enumerate([first, *parts[1:]]))
    inputs = "".join(f"[p{n}]" for n in range(len(parts)))
    graph = f"{joined};{inputs}concat=n={len(parts)}:v=1:a=0,format=yuv420p[out]"
    command = ["ffmpeg", "-v", "error", "-y", "-filter_complex", graph, "-map", "[out]", "-c:v", "libx264"]
    options = ["-g", str(keyframes), "-sc_threshold", "0"]
    subprocess.run([*command, *options, str(path)], check=True, timeout=60)
    return path


@pytest.mark.parametrize("name", ["scenes.mp4", "scenes.mkv", "scenes.ts"])
@pytest.mark.parametrize("keyframes", [10, 999])
def test_telling_pictures_show_every_scene_and_no_black(name: str, keyframes: int, tmp_path: Path) -> None:
    """With a keyframe a second they come from these; with one in all, from pictures spread over the clip."""
    clip = scenes(tmp_path / name, (2, 12, 3, 3, 3), keyframes)
    found = telling_pictures(clip, VIDEO, 4, long_side_px=160)
    starts = [2, 14, 17, 20, 23]
    assert [sum(one.second >= start for start in starts) for one in found] == [1, 2, 3, 4]
    for one, colour in zip(found, ((255, 0, 0), (0, 128, 0), (0, 0, 255), (255, 165, 0)), strict=True):
        assert near(pixel(one, 4, 4), colour, 24)
    assert [(one.width, one.height) for one in found] == [(160, 90)] * 4


def test_telling_pictures_of_a_still_and_of_nothing(tmp_path: Path) -> None:
    Image.new("RGB", (400, 200), "green").save(tmp_path / "still.png")
    (one,) = telling_pictures(tmp_path / "still.png", STILL, 4, long_side_px=100)
    assert (one.width, one.height) == (100, 50)
    (tmp_path / "broken.mp4").write_bytes(b"not a film")
    assert telling_pictures(tmp_path / "broken.mp4", VIDEO, 4) == ()
    assert telling_pictures(tmp_path / "still.png", STILL, 0) == ()


def test_a_clip_of_keyframes_alone_is_looked_at_in_steps(tmp_path: Path) -> None:
    source = "testsrc=s=64x36:r=30:d=12"
    clip = make(tmp_path / "intra.mov", source, "-c:v", "mjpeg", "-q:v", "4", "-pix_fmt", "yuvj420p")
    found = list(_keyframes(clip, lasting(12), 64))
    assert KEYFRAMES_MAX * 0.7 <= len(found) <= KEYFRAMES_MAX + 1
    assert [one.second for one in found] == sorted({one.second for one in found})
