"""Masters as agencies send them at their worst: small, short, and wrong in every respect but their shape.

What a line makes of them is what the tests look at. It must not know profiles.
"""

from __future__ import annotations

import subprocess
from pathlib import Path

from PIL import Image

LOUD = "aevalsrc=0.99*sgn(sin(2*PI*300*t))|0.99*sin(2*PI*11999*t+0.8):s=48000:d={seconds}"
"""A full-scale square wave, and a tone whose true peaks lie between its samples."""
USUAL_SECONDS = 1.1
"""Averages are promised for items of one second and longer."""
NAMES = ("prores.mov", "tape.ts", "screen.mkv", "noise.mkv")
SILENT = ("screen.mkv",)


def _moving(width: int, height: int, rate: str) -> str:
    """Always in motion, no flashes, no bars of a test card."""
    return f"mandelbrot=size={width}x{height}:rate={rate}:maxiter=200:end_pts=60"


def recipe(name: str, width: int, height: int, seconds: float) -> tuple[str, ...]:
    """Arguments of ffmpeg. Width (a multiple of 4) and height as a viewer sees them."""
    if name == "soft.mov":  # takes few bits, for the largest pictures
        return (
            *("-f", "lavfi", "-i", f"{_moving(width, height, '50')},boxblur=12", "-f", "lavfi", "-i"),
            *(LOUD.format(seconds=seconds), "-t", str(seconds), "-c:v", "prores_ks", "-pix_fmt"),
            "yuv422p10le",
        )
    if name == "prores.mov":  # 10 bit, 4:2:2, 50 frames/s, a time code, a title, sound of 24 bits
        return (
            *("-f", "lavfi", "-i", _moving(width, height, "50"), "-f", "lavfi", "-i"),
            *(LOUD.format(seconds=seconds * 0.8), "-t", str(seconds), "-c:v", "prores_ks", "-pix_fmt"),
            *("yuv422p10le", "-timecode", "10:00:00:00", "-c:a", "pcm_s24le", "-metadata", "title=draft"),
        )
    if name == "tape.ts":  # interlaced, wide pixels, mono sound at 44.1 kHz that begins before the picture
        return (
            *("-f", "lavfi", "-i", _moving(width * 3 // 4, height, "50"), "-f", "lavfi", "-i", "sine=440"),
            *("-t", str(seconds), "-vf", "interlace,setsar=4/3,setpts=PTS+0.3/TB", "-ar", "44100"),
            *("-ac", "1", "-c:v", "mpeg2video", "-flags", "+ilme+ildct", "-b:v", "3M", "-c:a", "mp2"),
        )
    if name == "screen.mkv":  # no sound, 4:4:4, uneven times
        return (
            *("-f", "lavfi", "-i", _moving(width, height, "60"), "-t", str(seconds)),
            *("-vf", "select=gt(mod(n\\,7)\\,0)*gt(mod(n\\,4)\\,0)+eq(n\\,0)", "-fps_mode", "vfr"),
            *("-c:v", "libx264", "-preset", "ultrafast", "-pix_fmt", "yuv444p"),
        )
    # takes as many bits as it gets; full-scale surround sound, a little longer; seeded: one noise in some
    # hundreds comes out of the codec louder than the room that its line leaves
    assert name == "noise.mkv"
    moving = f"{_moving(width, height, '24')},noise=alls=40:allf=t,trim=duration={seconds}"
    sound = f"anoisesrc=a=1:seed=5:r=48000:d={seconds + 0.2},aformat=channel_layouts=5.1"
    return ("-f", "lavfi", "-i", moving, "-f", "lavfi", "-i", sound, "-c:v", "ffv1", "-c:a", "ac3")


def make(ffmpeg: str, name: str, size: tuple[int, int], folder: Path, seconds: float = USUAL_SECONDS) -> Path:
    """One of the moving masters."""
    target = folder / name
    start = (ffmpeg, "-hide_banner", "-loglevel", "error", "-nostdin", "-y")
    command = [*start, *recipe(name, *size, seconds), "-threads", "1", str(target)]
    subprocess.run(command, check=True, timeout=120)
    return target


def make_stills(folder: Path) -> tuple[Path, ...]:
    """Stills: transparent, 16 bit, in the colours of printing, lying on its side with a mark, progressive."""
    ramp = Image.linear_gradient("L").resize((640, 481))
    across = ramp.transpose(Image.Transpose.ROTATE_90).resize((640, 481))
    ink = ramp.point([value // 4 for value in range(256)])
    exif = Image.Exif()
    exif[0x0112] = 6
    paths = tuple(
        folder / f"{name}" for name in ("alpha.png", "deep.png", "print.jpg", "side.jpg", "large.jpg")
    )
    Image.merge("RGBA", (ramp, across, ramp, across)).save(paths[0])
    across.convert("I").point(lambda value: value * 257 + 0).convert("I;16").save(paths[1])
    Image.merge("CMYK", (ramp, across, ramp, ink)).save(paths[2])
    Image.merge("RGB", (across, ramp, ramp)).save(paths[3], exif=exif)
    Image.merge("RGB", (ramp, ramp, across)).resize((5001, 333)).save(paths[4], progressive=True)
    return paths
