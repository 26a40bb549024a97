"""One defect each in content that otherwise conforms: how it is made, what it breaks, the least change.

It must not mend anything.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from types import MappingProxyType
from typing import Any

from PIL import Image

from mediacheck.names import RuleName
from mediacheck.profile import Profile
from mediacheck.repair.model import Change, Wishes
from tests.repair.films import FIRST, MARKS, PLAIN, TONE, X264, Film, player, x264

USUAL = Wishes()


@dataclass(frozen=True, slots=True)
class Case:
    """A defect. `remains` are warnings that are true of the mended file as well."""

    name: str
    rule: RuleName
    change: Change
    make: Callable[[Path], None]
    """Fills the folder of the source."""
    path: str | None = None
    """Of the file in the copy that was mended; None: it was left out."""
    player: Mapping[str, Mapping[str, Any]] = field(default_factory=lambda: MappingProxyType({}))
    """Keys of the player's sections that are otherwise."""
    wishes: Wishes = USUAL
    remains: tuple[RuleName, ...] = ()

    @property
    def profile(self) -> Profile:
        """The player of this case."""
        return player(**self.player)


def _film(name: str, film: Film) -> Callable[[Path], None]:
    return lambda folder: film.make(folder / name)


def _of(
    name: str,
    rule: RuleName,
    change: Change,
    film: Film,
    file: str = "seeds.mp4",
    wishes: Wishes = USUAL,
    remains: tuple[RuleName, ...] = (),
    **player: Mapping[str, Any],
) -> Case:
    return Case(name, rule, change, _film(file, film), "seeds.mp4", player, wishes, remains)


HDR_PQ = ("-colorspace", "bt2020nc", "-color_primaries", "bt2020", "-color_trc", "smpte2084")
HDR_HLG = ("-colorspace", "bt2020nc", "-color_primaries", "bt2020", "-color_trc", "arib-std-b67")
TEN_BIT = x264("-profile:v", "high10", "-pix_fmt", "yuv420p10le", marks=HDR_PQ)
TEN_BIT_HLG = x264("-profile:v", "high10", "-pix_fmt", "yuv420p10le", marks=HDR_HLG)
LOUD = {"loudness_lufs": -23, "loudness_tolerance_lu": 1}

CONTAINERS = (
    _of("QuickTime", "container-format", "container", Film(), "seeds.mov"),
    _of("Matroska", "container-format", "container", Film(wrapping=()), "seeds.mkv"),
    _of("transport stream", "container-format", "container", Film(wrapping=()), "seeds.ts"),
    _of(
        "AVI",
        "container-format",
        "container",
        Film(video=(*X264, "-bf", "0", *PLAIN, *MARKS), wrapping=("-avoid_negative_ts", "disabled")),
        "seeds.avi",
    ),
    _of(
        "AVI with a gap",
        "container-format",
        "picture",
        Film(video=(*X264, "-bf", "0", *PLAIN, *MARKS), wrapping=()),
        "seeds.avi",
    ),
    _of("index last", "container-index", "container", Film(wrapping=())),
    _of(
        "fragments",
        "container-fragmented",
        "container",
        Film(wrapping=("-movflags", "+frag_keyframe+empty_moov+default_base_moof")),
    ),
    _of(
        "two pictures",
        "video-extra-stream",
        "container",
        Film(wrapping=("-map", "0:v", "-map", "0:v", "-map", "1:a", *FIRST)),
    ),
    _of(
        "level understated",
        "video-level-understated",
        "container",
        Film(again=("-bsf:v", "h264_metadata=level=1.1")),
    ),
    _of("another ending", "file-extension", "move", Film(wrapping=(*FIRST, "-f", "mp4")), "seeds.mkv"),
)
PICTURES = (
    _of(
        "H.265",
        "video-codec",
        "picture",
        Film(video=("-c:v", "libx265", "-x265-params", "log-level=error", "-tag:v", "hvc1", *PLAIN, *MARKS)),
    ),
    _of("MPEG-4", "video-codec", "picture", Film(video=("-c:v", "mpeg4", "-q:v", "3", "-g", "25"))),
    _of(
        "MPEG-2",
        "video-codec",
        "picture",
        Film(video=("-c:v", "mpeg2video", "-q:v", "3"), wrapping=()),
        "seeds.ts",
    ),
    _of(
        "MPEG-1 in a program stream",
        "video-codec",
        "picture",
        Film(video=("-c:v", "mpeg1video", "-q:v", "3"), sound=("-c:a", "mp2"), wrapping=()),
        "seeds.mpg",
    ),
    _of(
        "VP9",
        "video-codec",
        "picture",
        Film(
            video=("-c:v", "libvpx-vp9", "-b:v", "500k", "-deadline", "realtime", *PLAIN),
            sound=("-c:a", "libopus"),
            wrapping=(),
        ),
        "seeds.webm",
    ),
    _of(
        "AV1",
        "video-codec",
        "picture",
        Film(video=("-c:v", "libsvtav1", "-preset", "12", *PLAIN), wrapping=()),
        "seeds.mkv",
    ),
    _of(
        "MJPEG",
        "video-codec",
        "picture",
        Film(
            video=("-c:v", "mjpeg", "-q:v", "3", "-pix_fmt", "yuvj420p"),
            sound=("-c:a", "pcm_s16le"),
            wrapping=(),
        ),
        "seeds.avi",
    ),
    _of(
        "ProRes", "video-codec", "picture", Film(video=("-c:v", "prores_ks", "-profile:v", "0")), "seeds.mov"
    ),
    _of(
        "profile",
        "video-profile",
        "picture",
        Film(),
        video={"codecs": {"H.264": {"profiles": ["Baseline"], "level_max": "3"}}},
    ),
    _of("level", "video-level", "picture", Film(video=x264("-level:v", "4.1", *PLAIN))),
    _of(
        "10 bit",
        "video-bit-depth",
        "picture",
        Film(video=x264("-profile:v", "high10", "-pix_fmt", "yuv420p10le")),
    ),
    _of("4:2:2", "video-chroma", "picture", Film(video=x264("-profile:v", "high422", "-pix_fmt", "yuv422p"))),
    _of("4:4:4", "video-chroma", "picture", Film(video=x264("-profile:v", "high444", "-pix_fmt", "yuv444p"))),
    _of("too large", "video-resolution", "picture", Film(picture="testsrc2=s=640x360:r=25:d=2")),
    _of("too small", "video-resolution", "picture", Film(picture="testsrc2=s=160x90:r=25:d=2")),
    _of("odd size", "video-resolution", "picture", Film(picture="testsrc2=s=356x200:r=25:d=2")),
    _of(
        "pixels not square",
        "video-pixel-aspect",
        "picture",
        Film(picture="testsrc2=s=240x180:r=25:d=2", filters="setsar=4/3"),
    ),
    _of(
        "another shape, cut",
        "video-resolution",
        "picture",
        Film(picture="testsrc2=s=320x240:r=25:d=2"),
        wishes=Wishes(fit="cover"),
    ),
    _of(
        "another shape, stretched",
        "video-resolution",
        "picture",
        Film(picture="testsrc2=s=320x240:r=25:d=2"),
        wishes=Wishes(fit="stretch"),
    ),
    _of(
        "another shape where sizes are free",
        "video-shape",
        "picture",
        Film(picture="testsrc2=s=240x180:r=25:d=2"),
        wishes=Wishes(fit="cover"),
        video={"width": None, "height": None, "width_max": 320, "height_max": 180},
    ),
    _of(
        "interlaced",
        "video-interlaced",
        "picture",
        Film(
            picture="testsrc2=s=320x180:r=50:d=2",
            filters="tinterlace=interleave_top,setfield=tff",
            video=(*X264, "-flags", "+ilme+ildct", "-x264opts", "tff=1", *PLAIN, *MARKS),
        ),
    ),
    _of(
        "combed",
        "picture-combed",
        "picture",
        Film(
            picture="testsrc2=s=320x180:r=50:d=4",
            filters="tinterlace=interleave_top,setfield=prog",
            tone=TONE.replace("duration=2", "duration=4"),
        ),
    ),
    _of(
        "turned 90",
        "video-rotation",
        "picture",
        Film(picture="testsrc2=s=180x320:r=25:d=2", again=("-metadata:s:v:0", "rotate=90")),
    ),
    _of(
        "turned 270",
        "video-rotation",
        "picture",
        Film(picture="testsrc2=s=180x320:r=25:d=2", again=("-metadata:s:v:0", "rotate=270")),
    ),
    _of("turned 180", "video-rotation", "picture", Film(again=("-metadata:s:v:0", "rotate=180"))),
    _of(
        "upright for a turned panel",
        "video-resolution",
        "picture",
        Film(picture="testsrc2=s=180x320:r=25:d=2"),
        screen={"turned_degrees": 90},
    ),
    _of("50 frames", "video-frame-rate", "picture", Film(picture="testsrc2=s=320x180:r=50:d=2")),
    _of("60 frames", "video-frame-rate", "picture", Film(picture="testsrc2=s=320x180:r=60:d=2")),
    _of("15 frames", "video-frame-rate", "picture", Film(picture="testsrc2=s=320x180:r=15:d=2")),
    _of(
        "uneven frames",
        "video-frame-rate-variable",
        "picture",
        Film(
            filters="setpts=if(lt(N\\,20)\\,N\\,20+(N-20)*2)/25/TB",
            wrapping=("-fps_mode", "vfr", *FIRST),
            tone=None,
        ),
    ),
    _of(
        "bit rate",
        "video-bit-rate",
        "picture",
        Film(video=x264("-level:v", "3", "-crf", "1", *PLAIN)),
        video={"bit_rate_max": 500_000},
    ),
    _of(
        "peak",
        "video-bit-rate-peak",
        "picture",
        Film(video=x264("-level:v", "3", "-crf", "1", *PLAIN)),
        player={"buffer_seconds": 0.5},
        video={"bit_rate_max": None, "bit_rate_peak_max": 600_000},
    ),
    _of(
        "few keyframes",
        "video-gop",
        "picture",
        Film(
            video=(
                "-c:v",
                "libx264",
                "-profile:v",
                "high",
                "-level:v",
                "3",
                "-g",
                "250",
                "-sc_threshold",
                "0",
                *PLAIN,
                *MARKS,
            )
        ),
    ),
    _of("HDR (PQ)", "video-colour", "picture", Film(video=TEN_BIT)),
    _of("HDR (HLG)", "video-colour", "picture", Film(video=TEN_BIT_HLG)),
    _of(
        "bars",
        "picture-bars",
        "picture",
        Film(picture="testsrc2=s=320x140:r=25:d=2", filters="pad=320:180:0:20"),
        wishes=Wishes(fit="stretch", trim_bars=True),
    ),
    _of(
        "black ends",
        "picture-black",
        "picture",
        Film(
            picture="testsrc2=s=320x180:r=25:d=4",
            filters="drawbox=c=black:t=fill:enable=lt(t\\,1)+gt(t\\,3)",
            tone=TONE.replace("duration=2", "duration=4"),
        ),
        wishes=Wishes(trim_ends=True),
    ),
    _of(
        "colour bars first",
        "picture-leader",
        "picture",
        Film(
            picture="smptehdbars=s=320x180:r=25:d=3[b];testsrc2=s=320x180:r=25:d=3[t];[b][t]concat",
            tone=TONE.replace("duration=2", "duration=6"),
        ),
        wishes=Wishes(trim_ends=True),
    ),
)
SOUNDS = (
    _of("MP3", "audio-codec", "sound", Film(sound=("-c:a", "libmp3lame", "-ar", "48000"))),
    _of("AC-3", "audio-codec", "sound", Film(sound=("-c:a", "ac3", "-b:a", "192k"))),
    _of("Opus", "audio-codec", "sound", Film(sound=("-c:a", "libopus", "-strict", "-2"))),
    _of("PCM", "audio-codec", "sound", Film(sound=("-c:a", "pcm_s16le")), "seeds.mov"),
    _of("sample rate", "audio-sample-rate", "sound", Film(sound=("-c:a", "aac", "-ar", "22050"))),
    _of("5.1", "audio-channels", "sound", Film(sound=("-c:a", "aac", "-ac", "6"))),
    _of(
        "bit rate of the sound",
        "audio-bit-rate",
        "sound",
        Film(),
        audio={"codecs": {"AAC": {"sample_rates": [48_000], "channels_max": 2, "bit_rate_max": 60_000}}},
    ),
    _of(
        "no sound",
        "audio-missing",
        "sound",
        Film(tone=None),
        audio={"use": "required"},
        remains=("audio-silent",),
    ),
    _of("sound not wanted", "audio-unwanted", "container", Film(), audio={"use": "none"}),
    _of("too loud", "audio-loudness", "sound", Film(tone=TONE.replace("-6dB", "16dB")), audio=LOUD),
    _of("too quiet", "audio-loudness", "sound", Film(tone=TONE.replace("-6dB", "-25dB")), audio=LOUD),
    _of(
        "peaks",
        "audio-peak",
        "sound",
        Film(tone=TONE.replace("-6dB", "20dB")),
        audio={"true_peak_dbtp_max": -1},
    ),
    _of(
        "sound too short",
        "loop-audio-length",
        "sound",
        Film(tone=TONE.replace("duration=2", "duration=1")),
        remains=("loop-seam",),
    ),
    _of("sound too long", "loop-audio-length", "sound", Film(tone=TONE.replace("duration=2", "duration=4"))),
    _of("a dead channel", "audio-silent", "sound", Film(tone=f"{TONE},pan=stereo|c0=c0|c1=0*c0")),
)


def _still(
    name: str, size: tuple[int, int] = (320, 180), mode: str = "RGB", **save: Any
) -> Callable[[Path], None]:
    def make(folder: Path) -> None:
        ramp = Image.linear_gradient("L").resize(size)
        image = Image.merge("RGB", (ramp, ramp.transpose(Image.Transpose.FLIP_LEFT_RIGHT), ramp))
        image.convert(mode).save(folder / name, **save)

    return make


def _deep(folder: Path) -> None:
    Image.linear_gradient("L").resize((320, 180)).convert("I;16").save(folder / "seeds.png")


def _turned() -> Image.Exif:
    exif = Image.Exif()
    exif[0x0112] = 6
    return exif


STILLS = (
    Case("PNG", "still-format", "still", _still("seeds.png"), "seeds.jpg"),
    Case("BMP", "still-format", "still", _still("seeds.bmp"), "seeds.jpg"),
    Case("GIF", "still-format", "still", _still("seeds.gif", mode="P"), "seeds.jpg"),
    Case("WebP", "still-format", "still", _still("seeds.webp"), "seeds.jpg"),
    Case("progressive", "still-progressive", "still", _still("seeds.jpg", progressive=True), "seeds.jpg"),
    Case("for printing", "still-colour", "still", _still("seeds.jpg", mode="CMYK"), "seeds.jpg"),
    Case("16 bit", "still-colour", "still", _deep, "seeds.png", {"stills": {"formats": ["PNG"]}}),
    Case(
        "turned by EXIF",
        "still-orientation",
        "still",
        _still("seeds.jpg", (180, 320), exif=_turned()),
        "seeds.jpg",
        {"stills": {"width_max": 320, "height_max": 320}},
    ),
    Case("too many pixels", "still-resolution", "still", _still("seeds.jpg", (640, 360)), "seeds.jpg"),
)


def _with(*others: str, film: str = "seeds.mp4") -> Callable[[Path], None]:
    def make(folder: Path) -> None:
        (folder / film).parent.mkdir(exist_ok=True)
        Film().make(folder / film)
        for number, other in enumerate(others):
            (folder / other).write_bytes(bytes([number]) * 5000)

    return make


LAYOUT = (
    Case("letters", "file-name", "move", _with(film="frühlingsblüte.mp4"), "fruehlingsbluete.mp4"),
    Case("question mark", "file-name", "move", _with(film="seeds?.mp4"), "seeds.mp4"),
    Case("name of a device", "file-name", "move", _with(film="aux.mp4"), "aux-2.mp4"),
    Case(
        "form of names",
        "file-name",
        "move",
        _with(),
        "ITEM01.mp4",
        {"layout": {"name_pattern": r"ITEM\d\d\.mp4"}},
    ),
    Case(
        "long name",
        "file-name-length",
        "move",
        _with(film=f"{'seeds-' * 8}.mp4"),
        "seeds-seeds-seeds-seeds-seed.mp4",
    ),
    Case("in a folder", "file-misplaced", "move", _with(film="new/seeds.mp4"), "seeds.mp4"),
    Case(
        "no folder",
        "folder-missing",
        "move",
        _with(),
        "loop/seeds.mp4",
        {"layout": {"media_folder": "/loop"}},
    ),
    Case("left behind", "file-junk", "copy", _with("._seeds.mp4"), "seeds.mp4"),
    Case("of no use", "file-unexpected", "copy", _with("seeds.pdf"), "seeds.mp4"),
)
CASES = (*CONTAINERS, *PICTURES, *SOUNDS, *STILLS, *LAYOUT)
