"""Makes one clip: draws its parts, has ffmpeg move them over each other, and encodes them.

It must not know which card the clip is for.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any, Literal

import ffmpeg as graph

from mediacheck import programs, which_ffmpeg
from mediacheck.demo.artwork import Artwork, Canvas, Layer, Part, artwork
from mediacheck.demo.scenes import Scene
from mediacheck.demo.tune import tune_wav
from mediacheck.errors import ProgramError

FRAME_RATE = 25
TRAVEL_PX_S = 100
"""How fast the ground rolls down; the clip's length times this is one period, so that the loop is closed."""
SLIDE_IN_S, SLIDE_OUT_S = 0.6, 0.4
ENCODE_LIMIT_S = 300.0
ENCODERS = ("libx264", "libx265", "aac")
KEPT_SHARE = 0.6
"""Of a file whose copying was broken off."""
Flaw = Literal["H.265", "uneven rhythm", "MOV inside", "index last", "cut off"]
Node = Any
"""A stream of ffmpeg-python, which has no types."""


@dataclass(frozen=True, slots=True)
class Clip:
    """What to make. `upright` clips are drawn in portrait and turned before encoding."""

    scene: Scene
    seconds: int
    width_px: int = 1920
    height_px: int = 1080
    """Of the file, not of the picture that a viewer sees."""
    upright: bool = False
    flaw: Flaw | None = None
    root_hz: float = 220.0

    @property
    def canvas(self) -> Canvas:
        """The picture as a viewer sees it."""
        sides = (self.height_px, self.width_px) if self.upright else (self.width_px, self.height_px)
        return Canvas(*sides)


@dataclass(frozen=True, slots=True)
class Sources:
    """The parts of a clip as files."""

    pictures: Mapping[str, Path]
    tune: Path


def find_encoder() -> Path:
    """An ffmpeg that can make the clips: the usual one, or that of the wheel where it lacks an encoder.

    ProgramError if neither can: some systems ship an ffmpeg without H.264.
    """
    usual = which_ffmpeg.find_ffmpeg()
    if _lacks(usual.path) == ():
        return usual.path
    wheel = which_ffmpeg.find_ffmpeg(path_lookup=lambda _: None)
    lacking = _lacks(wheel.path)
    if lacking:
        raise ProgramError(f"no ffmpeg was found that can encode with {', '.join(lacking)}")
    return wheel.path


def _lacks(ffmpeg: Path) -> tuple[str, ...]:
    finished = programs.run([ffmpeg, "-hide_banner", "-encoders"], time_limit_s=which_ffmpeg.VERSION_LIMIT_S)
    words = finished.checked().stdout.decode("utf-8", "replace").split()
    return tuple(name for name in ENCODERS if name not in words)


def make_clip(clip: Clip, target: Path, ffmpeg: Path, workshop: Path) -> None:
    """Write the clip to `target`, which nobody may look at before this is done; parts go to `workshop`.

    Raises ProgramError where ffmpeg fails, OSError where the disk does.
    """
    with TemporaryDirectory(dir=workshop) as folder:
        parts = artwork(clip.scene, clip.canvas, _travel_px(clip))
        call = command(ffmpeg, clip, parts, _saved(parts, clip, Path(folder)), target)
        programs.run(call, time_limit_s=ENCODE_LIMIT_S).checked()
    if clip.flaw == "cut off":
        with target.open("r+b") as file:
            file.truncate(int(target.stat().st_size * KEPT_SHARE))


def _travel_px(clip: Clip) -> int:
    return 2 * round(TRAVEL_PX_S * clip.seconds * clip.canvas.unit / 2)


def _saved(parts: Artwork, clip: Clip, folder: Path) -> Sources:
    named: list[tuple[str, Part]] = [("ground", parts.ground), *parts.layers.items()]
    for name, part in named:
        part.image.save(folder / f"{name}.png", compress_level=1)
    tune = folder / "tune.wav"
    tune.write_bytes(tune_wav(clip.seconds, clip.root_hz))
    return Sources({name: folder / f"{name}.png" for name, _ in named}, tune)


def command(ffmpeg: Path, clip: Clip, parts: Artwork, sources: Sources, target: Path) -> tuple[str, ...]:
    """The ffmpeg command for one clip."""
    picture = _encodable(_composed(clip, parts, sources), clip)
    sound = graph.input(f"file:{sources.tune}").audio
    output = graph.output(picture, sound, f"file:{target}", **_options(clip))
    start = ("-hide_banner", "-nostdin", "-nostats", "-loglevel", "error", "-y")
    return (str(ffmpeg), *start, *graph.get_args(output))


def _composed(clip: Clip, parts: Artwork, sources: Sources) -> Node:
    canvas, travel_px = clip.canvas, parts.ground.image.height - clip.canvas.height_px
    rolled = f"{travel_px}*(1-mod(t/{clip.seconds},1))"
    ground = _held(sources.pictures["ground"], "yuv420p")
    picture = ground.filter("crop", canvas.width_px, canvas.height_px, 0, rolled)
    for name, part in parts.layers.items():
        x, y = _motion(name, part, clip)
        picture = graph.overlay(picture, _held(sources.pictures[name], "yuva420p"), x=x, y=y)
    return picture


def _held(path: Path, pixel_format: str) -> Node:
    """One picture for ever. It is read and converted once: `loop` repeats it from memory."""
    return (
        graph.input(f"file:{path}", f="png_pipe", framerate=FRAME_RATE)
        .filter("scale", out_color_matrix="bt709", out_range="tv")
        .filter("format", pixel_format)
        .filter("loop", loop=-1, size=1)
    )


def _motion(name: Layer, part: Part, clip: Clip) -> tuple[str, str]:
    """Where a part is at second t: the left and the top edge in pixels."""
    half_s = clip.seconds / 2
    if name == "motif":
        return str(part.x), f"{part.y}+{22 * clip.canvas.unit:.1f}*sin(4*PI*t/{clip.seconds})"
    if name == "title":
        return _slide(part, 0, half_s - SLIDE_OUT_S), str(part.y)
    if name == "line":
        return _slide(part, half_s, clip.seconds - SLIDE_OUT_S), str(part.y)
    if name == "visitor":
        return _flight(part, clip) if clip.scene.product.visitor == "bee" else _fall(part, clip)
    return str(part.x), str(part.y)


def _slide(part: Part, enters_s: float, leaves_s: float) -> str:
    """In from the left edge, quickly and then slower; out to it, slowly and then quicker."""
    away = part.x + part.image.width
    comes = f"pow(clip(1-(t-{enters_s})/{SLIDE_IN_S},0,1),3)"
    goes = f"pow(clip((t-{leaves_s})/{SLIDE_OUT_S},0,1),2)"
    return f"{part.x}-{away}*({comes}+{goes})"


def _flight(part: Part, clip: Clip) -> tuple[str, str]:
    """From left to right in wavy lines, and round again."""
    unit, across = clip.canvas.unit, clip.canvas.width_px + part.image.width
    wave = f"{640 * unit:.1f}+{50 * unit:.1f}*sin(6*PI*t/{clip.seconds})"
    return f"{across}*mod(0.3+t/{clip.seconds},1)-{part.image.width}", wave


def _fall(part: Part, clip: Clip) -> tuple[str, str]:
    """From top to bottom, twice."""
    down = clip.canvas.height_px + part.image.height
    x = f"{1730 * clip.canvas.unit:.0f}"
    return x, f"{down}*mod(2*t/{clip.seconds},1)-{part.image.height}"


def _encodable(picture: Node, clip: Clip) -> Node:
    if clip.upright:
        # The panel is mounted turned clockwise, so the picture in the file lies turned the other way.
        picture = picture.filter("transpose", "cclock")
    if clip.flaw == "uneven rhythm":
        picture = picture.filter("select", "gt(mod(n,7),0)*gt(mod(n,4),0)+eq(n,0)")
    return picture.filter("setsar", 1).filter(
        "setparams", range="tv", colorspace="bt709", color_primaries="bt709", color_trc="bt709"
    )


def _options(clip: Clip) -> dict[str, object]:
    return {
        **(_h265() if clip.flaw == "H.265" else _h264()),
        "pix_fmt": "yuv420p",
        "g": 2 * FRAME_RATE,
        "maxrate": "8M",
        "bufsize": "8M",
        "fps_mode": "vfr" if clip.flaw == "uneven rhythm" else "cfr",
        "t": clip.seconds,
        "c:a": "aac",
        "b:a": "128k",
        "f": "mov" if clip.flaw == "MOV inside" else "mp4",
        **({} if clip.flaw == "index last" else {"movflags": "+faststart"}),
    }


def _h264() -> dict[str, object]:
    """High profile at level 4, which holds 1920x1080 at 30 frames/s (ITU-T H.264 Table A-1).

    Flat drawings gain little by a slow search, and the demo has to be quick; the three tools that are
    switched on again are those that make it High profile and keep edges clean.
    """
    return {
        "c:v": "libx264",
        "preset": "ultrafast",
        "crf": 20,
        "profile:v": "high",
        "level:v": "4.0",
        "x264-params": "cabac=1:8x8dct=1:deblock=0,0",
    }


def _h265() -> dict[str, object]:
    """As a phone or a current export setting writes it."""
    return {
        "c:v": "libx265",
        "preset": "ultrafast",
        "crf": 24,
        "tag:v": "hvc1",
        "x265-params": "log-level=error",
    }
