"""What a viewer sees of a picture that a line has made: upright, in its colours, at its loudness."""

from __future__ import annotations

import subprocess
from pathlib import Path

import av
import numpy as np
import pytest
from PIL import Image

from mediacheck.encoding.command import typed
from mediacheck.encoding.model import Refused
from mediacheck.encoding.still import still_line
from mediacheck.encoding.video import MASTER, video_lines
from mediacheck.profile import Profile
from tests.encoding.running import checked, loaded, run_line, told

RED, BLUE = (200, 30, 30), (30, 30, 200)


def profile_of(**keys: object) -> Profile:
    return Profile.model_validate({"id": "small", "screen": {"width": 96, "height": 64}, **keys})


def made(ffmpeg: str, master: Path, profile: Profile) -> Path:
    lines = video_lines(profile, "H.264")
    assert not isinstance(lines, Refused)
    line = typed(lines[0].arguments(MASTER, "o.mp4"))
    return run_line(line, ffmpeg, master, master.with_name("made.x"))


def encode(ffmpeg: str, *arguments: str) -> None:
    subprocess.run([ffmpeg, "-nostdin", "-loglevel", "error", *arguments], check=True, timeout=60)


def first_picture(path: Path) -> np.ndarray[tuple[int, ...], np.dtype[np.uint8]]:
    """As RGB, read with the colours that the file says."""
    with av.open(str(path)) as container:
        frame = next(container.decode(video=0))
        return np.asarray(frame.reformat(format="rgb24", src_colorspace="ITU709").to_ndarray(), np.uint8)


@pytest.mark.parametrize(
    ("turned", "red_side"), [(90, (slice(None), slice(0, 20))), (270, (slice(None), slice(-20, None)))]
)
def test_an_upright_master_lies_on_the_side_that_a_turned_panel_turns_up(
    turned: int, red_side: tuple[slice, slice], ffmpeg: str, tmp_path: Path
) -> None:
    """The panel turned clockwise by 90 degrees shows the left edge of the file at its top."""
    picture = Image.new("RGB", (64, 96), BLUE)
    picture.paste(RED, (0, 0, 64, 30))
    picture.save(tmp_path / "master.png")
    profile = profile_of(screen={"width": 96, "height": 64, "turned_degrees": turned})
    shown = first_picture(made(ffmpeg, tmp_path / "master.png", profile))
    assert shown.shape == (64, 96, 3)
    assert np.abs(shown[red_side].mean(axis=(0, 1)) - RED).max() < 12
    assert np.abs(shown[:, 40:56].mean(axis=(0, 1)) - BLUE).max() < 12


def test_upside_down_is_turned_back(ffmpeg: str, tmp_path: Path) -> None:
    picture = Image.new("RGB", (96, 64), BLUE)
    picture.paste(RED, (0, 0, 96, 20))
    picture.save(tmp_path / "master.png")
    profile = profile_of(screen={"width": 96, "height": 64, "turned_degrees": 180})
    shown = first_picture(made(ffmpeg, tmp_path / "master.png", profile))
    assert np.abs(shown[-16:].mean(axis=(0, 1)) - RED).max() < 12


@pytest.mark.parametrize("matrix", ["unmarked", "bt709", "smpte170m", "full range"])
def test_colours_stay_as_they_are(matrix: str, ffmpeg: str, tmp_path: Path) -> None:
    """ITU-T H.273: BT.601 and BT.709 give other numbers for one colour; unmarked means BT.709."""
    master = tmp_path / "master.mp4"
    marks = {
        "unmarked": "scale=out_color_matrix=bt709,format=yuv420p",
        "bt709": "scale=out_color_matrix=bt709,format=yuv420p,setparams=colorspace=bt709",
        "smpte170m": "scale=out_color_matrix=bt601,format=yuv420p,setparams=colorspace=smpte170m",
        "full range": "scale=out_color_matrix=bt709:out_range=pc,format=yuvj420p,setparams=colorspace=bt709",
    }
    colour = "color=c=0x20B040:s=96x64:d=0.2"
    encode(ffmpeg, "-f", "lavfi", "-i", colour, "-vf", marks[matrix], "-qp", "1", str(master))
    shown = first_picture(made(ffmpeg, master, profile_of()))
    assert np.abs(shown.mean(axis=(0, 1)) - (0x20, 0xB0, 0x40)).max() < 8  # a wrong matrix is 16 off


def test_a_rotation_mark_is_followed_and_gone(ffmpeg: str, tmp_path: Path) -> None:
    """As phones film: the picture lies in the file and is marked to be turned."""
    lying, marked = tmp_path / "lying.mp4", tmp_path / "master.mp4"
    picture = Image.new("RGB", (64, 96), BLUE)
    picture.paste(RED, (0, 0, 20, 96))
    picture.save(tmp_path / "p.png")
    encode(ffmpeg, "-i", str(tmp_path / "p.png"), "-pix_fmt", "yuv420p", str(lying))
    encode(ffmpeg, "-i", str(lying), "-c", "copy", "-metadata:s:v:0", "rotate=90", str(marked))
    target = made(ffmpeg, marked, profile_of())
    shown = first_picture(target)
    assert shown.shape == (64, 96, 3)
    top, bottom = shown[:16].mean(axis=(0, 1)), shown[-16:].mean(axis=(0, 1))
    assert np.abs(top - BLUE).max() < 24
    assert np.abs(bottom - RED).max() < 24
    (tmp_path / "card").mkdir()
    target.rename(tmp_path / "card" / "made.mp4")
    assert ("video-rotation", "made.mp4") not in told(checked(tmp_path / "card", loaded(profile_of())))


def test_a_still_stands_upright_and_transparency_becomes_black(ffmpeg: str, tmp_path: Path) -> None:
    picture = Image.new("RGBA", (96, 64), (*RED, 255))
    picture.paste((255, 255, 255, 0), (0, 32, 96, 64))
    picture.save(tmp_path / "alpha.png")
    line = still_line(profile_of(stills={"formats": ["JPEG"]}), "JPEG")
    assert not isinstance(line, Refused)
    text = typed(line.arguments(MASTER, "o.jpg"))
    shown = np.asarray(Image.open(run_line(text, ffmpeg, tmp_path / "alpha.png", tmp_path / "out.x")))
    assert np.abs(shown[:24].mean(axis=(0, 1)) - RED).max() < 6
    assert shown[-24:].max() < 12


def test_a_still_marked_as_lying_is_turned_upright(ffmpeg: str, tmp_path: Path) -> None:
    """EXIF orientation 6: turned by a quarter clockwise for showing (CIPA DC-008)."""
    exif = Image.Exif()
    exif[0x0112] = 6
    picture = Image.new("RGB", (64, 96), BLUE)
    picture.paste(RED, (0, 0, 20, 96))
    picture.save(tmp_path / "side.jpg", exif=exif)
    line = still_line(profile_of(stills={"formats": ["PNG"]}), "PNG")
    assert not isinstance(line, Refused)
    text = typed(line.arguments(MASTER, "o.png"))
    shown = np.asarray(Image.open(run_line(text, ffmpeg, tmp_path / "side.jpg", tmp_path / "out.x")))
    assert np.abs(shown[:12].mean(axis=(0, 1)) - RED).max() < 12
    assert np.abs(shown[-30:].mean(axis=(0, 1)) - BLUE).max() < 12


SPEECH = (
    "aevalsrc=(0.2+0.8*gt(mod(t\\,0.7)\\,0.5))*(0.4*sin(2*PI*220*t)+0.3*sin(2*PI*331*t)"
    "+0.25*(random(0)-0.5)):s=44100:d=6"
)


@pytest.mark.parametrize("wanted", [-16, -23])
def test_the_loudness_is_reached_without_going_over_the_peak(
    wanted: int, ffmpeg: str, tmp_path: Path
) -> None:
    master = tmp_path / "master.mov"
    moving = "mandelbrot=size=96x64:rate=25:maxiter=100:end_pts=60"
    codecs = ("-c:v", "prores_ks", "-c:a", "pcm_s16le")
    encode(
        ffmpeg, *("-f", "lavfi", "-i", moving, "-f", "lavfi", "-i", SPEECH, "-t", "6"), *codecs, str(master)
    )
    profile = profile_of(audio={"loudness_lufs": wanted, "true_peak_dbtp_max": -1})
    (tmp_path / "card").mkdir()
    made(ffmpeg, master, profile).rename(tmp_path / "card" / "item.mp4")
    assert told(checked(tmp_path / "card", loaded(profile))) == set()
