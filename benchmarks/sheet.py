"""A contact sheet of a card against the decode of its keyframes alone.

Ten items of three minutes each: (a) `ffmpeg -skip_frame nokey -i ITEM -f null -` over all of them, one after
the other; (b) `mediacheck sheet` of the card as PDF, and as PNG. Seconds of whole programs with their start.

`python benchmarks/sheet.py [--small] [--rounds=N]`: the small form has half a minute an item.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
from functools import partial
from pathlib import Path

from measure import all_seconds, option
from side_by_side import Goal, finish, in_turn, seconds_of, small

ITEMS = 10
MASTER_S, REPEATS = 20, 9
"""One piece of each scene is encoded and repeated without decoding: each repeat is as much work to decode."""
SMALL_S, SMALL_REPEATS = 10, 3
SCENES = ("testsrc2=s=1920x1080:r=30", "smptehdbars=s=1920x1080:r=30,rotate=t/9")
ENCODER = ("-c:v", "libx264", "-preset", "veryfast", "-b:v", "8M", "-g", "60", "-pix_fmt", "yuv420p")
"""A keyframe every two seconds, and 8 Mbit/s: usual for these players (common practice, no source)."""


def make_card(card: Path, scratch: Path) -> list[Path]:
    """Ten items, of one scene and the other in turn."""
    card.mkdir()
    seconds, repeats = (SMALL_S, SMALL_REPEATS) if small() else (MASTER_S, REPEATS)
    masters = []
    for number, scene in enumerate(SCENES):
        masters.append(scratch / f"{number}.mp4")
        source = f"{scene},noise=alls=8:allf=t"
        encode = ["ffmpeg", "-v", "error", "-y", "-f", "lavfi", "-i", source, "-t", str(seconds), *ENCODER]
        subprocess.run([*encode, str(masters[-1])], check=True)
    items = [card / f"{number:02}.mp4" for number in range(ITEMS)]
    for number, item in enumerate(items):
        repeat = ["-stream_loop", str(repeats - 1), "-i", str(masters[number % len(masters)]), "-c", "copy"]
        subprocess.run(["ffmpeg", "-v", "error", "-y", *repeat, str(item)], check=True)
    return items


def main() -> None:
    """Both, in turn."""
    with tempfile.TemporaryDirectory() as name:
        scratch = Path(name)
        card = scratch / "card"
        items = make_card(card, scratch)
        bare = [
            ["ffmpeg", "-nostdin", "-v", "error", "-skip_frame", "nokey", "-i", str(item), "-f", "null", "-"]
            for item in items
        ]
        ours = [sys.executable, "-m", "mediacheck", "sheet", str(card), "--profile", "basic-1080p", "--out"]
        found = in_turn(
            {
                "keyframes_s": partial(all_seconds, bare),
                "ours_pdf_s": partial(seconds_of, [*ours, str(scratch / "sheet.pdf")]),
                "ours_png_s": partial(seconds_of, [*ours, str(scratch / "sheet.png")]),
            },
            rounds=int(option("rounds") or (1 if small() else 3)),
        )
    finish("sheet", found, [Goal(ours, "keyframes_s", 1.5) for ours in ("ours_pdf_s", "ours_png_s")])


if __name__ == "__main__":
    main()
