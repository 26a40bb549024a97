"""How like a new file is to its master: equal hashes where streams were copied, VMAF or SSIM where not.

It must not compare what does not belong together: pictures are paired by their number, and both sides choose
the same numbers before anything costly is done to them.
"""

from __future__ import annotations

import functools
import json
import math
import os
import re
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from mediacheck import programs
from mediacheck.measure.graph import TIME_BASE, Alongside
from mediacheck.repair.commands import PICTURE, Line, in_filter
from mediacheck.repair.encode import GUARD, START, CannotMake, begun, make
from mediacheck.repair.model import Likeness, Same
from mediacheck.repair.pace import OnShare

Measure = Literal["VMAF", "SSIM"]
FILTERS_LIMIT_S = 10.0
EVERY = {"VMAF": 23, "SSIM": 7}
"""One picture of so many, so that the proof costs little beside the encoder. Primes: keyframes and repeated
pictures come at other steps."""
FRAMES_MIN = 24
"""A short clip is looked at more closely."""
REFERENCE_MAX_BYTES = 400_000_000
"""Room that pictures of the master may take while the new file is made (uncompressed; about half in fact)."""
PLAIN = "scale=out_range=tv,format=yuv420p|yuv420p10le"
"""Both sides in the same terms; what counts is luminance. Codecs differ in which ranges they take."""
MARKS = "range=tv:colorspace=bt709:color_primaries=bt709:color_trc=bt709"
"""The same on both sides: what is kept loses its marks, and new ffmpegs convert where marks differ."""
PAIRED = f"{PLAIN},setparams={MARKS},settb=AVTB,setpts=N*40000"
"""Times do not say which pictures belong together: containers move them. Their numbers do."""
PICTURE_S = 0.04
IN_TIME = frozenset(
    ("bwdif", "decimate", "detelecine", "fieldmatch", "fps", "framerate", "minterpolate", "pullup", "setpts")
) | {"settb", "tpad", "trim", "w3fdif", "yadif"}
"""Filters that need the pictures before and after, or choose among them: they have to see each of them."""
SSIM_LINE = re.compile(r"^n:(?P<number>\d+) Y:(?P<luma>\S+) ", re.MULTILINE)
HASHED = re.compile(rb"^\d+,[va],SHA256=([0-9a-fA-F]{64})\s*$", re.MULTILINE)
ASK_FLOOR = (
    "Ask for a better master, allow more bits in the profile, or look at it and lower --quality-floor."
)
ASK_SIZE = (
    "Use a larger card, drop or shorten an item of the loop, or lower --quality-floor after a look at it."
)
ASK_REPORT = "Please report this, with the file if you may; or convert it by hand."


@dataclass(frozen=True, slots=True)
class Sampling:
    """Which pictures are compared: the first of `every`. `pairs`: the one behind it comes along, since VMAF
    judges by what moves from one to the next (it takes the lesser change of both sides)."""

    every: int = 1
    pairs: bool = False

    @property
    def chosen(self) -> str:
        """The filter that lets them through."""
        if self.every == 1:
            return "null"
        return f"select=lt(mod(n\\,{self.every})\\,{2 if self.pairs else 1})"

    @property
    def step(self) -> int:
        """Of the pictures let through, one of so many counts."""
        return 2 if self.pairs else 1


@functools.cache
def has_vmaf(ffmpeg: Path) -> bool:
    """Whether this ffmpeg can measure VMAF. Raises ProgramError."""
    listed = programs.run([ffmpeg, "-hide_banner", "-filters"], time_limit_s=FILTERS_LIMIT_S).checked()
    return re.search(rb"^ *\S+ +libvmaf +VV->V", listed.stdout, re.MULTILINE) is not None


def sampling_for(measure: Measure, frames: int, width: int, height: int, free_bytes: int) -> Sampling:
    """One in so many that the proof is cheap, and the pictures of the master do not fill the disk."""
    every = min(EVERY[measure], max(1, frames // FRAMES_MIN))
    at_once = 2 if measure == "VMAF" else 1
    room_bytes = min(REFERENCE_MAX_BYTES, free_bytes)
    room = max(FRAMES_MIN * at_once, room_bytes // max(1, width * height * 3 // 2))
    every = max(every, math.ceil(frames * at_once / room))
    return Sampling(every, measure == "VMAF") if every > 2 else Sampling()


def reference(filters: str, sampling: Sampling, out: str) -> Line:
    """Arguments behind those of the new file, which keep the chosen pictures of the master without loss: they
    go through the very same filters, in the same run, and the master is decoded once."""
    steps = split(filters)
    place = max((number + 1 for number, step in enumerate(steps) if _name(step) in IN_TIME), default=0)
    chosen = ",".join((*steps[:place], sampling.chosen, *steps[place:], PLAIN))
    kept = ("-c:v", "ffvhuff", "-fps_mode", "passthrough", "-enc_time_base:v", TIME_BASE)
    return (*PICTURE, "-vf", chosen, *kept, "-an", "-f", "nut", out)


def still_reference(arguments: Line, out: str) -> Line:
    """The same for a still, whose arguments these are."""
    filters = arguments[arguments.index("-vf") + 1] if "-vf" in arguments[:-1] else "null"
    return (
        *("-map", "0:v:0", "-frames:v", "1"),
        "-vf",
        f"{filters},{PLAIN}",
        *("-c:v", "ffvhuff", "-f", "nut"),
        out,
    )


def split(filters: str) -> tuple[str, ...]:
    """The filters of one chain, divided at its commas; those behind a backslash or in quotes are no such."""
    found, quoted, begin, place = [], False, 0, 0
    while place < len(filters):
        letter = filters[place]
        if letter == "\\" and not quoted:
            place += 1
        elif letter == "'":
            quoted = not quoted
        elif letter == "," and not quoted:
            found.append(filters[begin:place])
            begin = place + 1
        place += 1
    return tuple(filter(None, (*found, filters[begin:])))


def _name(step: str) -> str:
    return re.split(r"[=@ \[]", step.strip(), maxsplit=1)[0]


def floor_of(measure: Measure, vmaf_points: float) -> float:
    """The same floor in the measure's own terms; 90 points are an SSIM of 0.95 (ours, no source)."""
    return vmaf_points if measure == "VMAF" else 1 - (100 - vmaf_points) / 200


@dataclass(frozen=True, slots=True)
class Pair:
    """The new file, and the pictures of its master that `reference` kept."""

    ffmpeg: Path
    kept: Path
    new: str
    """For `-i`."""
    sampling: Sampling
    limit_s: float


def beside(pair: Pair, measure: Measure) -> Alongside:
    """The comparison, for a process that decodes the new file in any case."""
    chosen = f"[1:V:0]{PAIRED}[of_master];[0:V:0]{pair.sampling.chosen},{PAIRED}[of_new]"
    graph = f"{chosen};[of_new][of_master]{_measuring(pair, measure)}:shortest=1[beside]"
    return Alongside(f"file:{pair.kept}", graph)


def scores(pair: Pair, measure: Measure) -> tuple[float, ...]:
    """Of each picture that was compared, in the order of the clip; none where there is no answer."""
    with suppress(OSError, ValueError, KeyError):
        return _vmaf_scores(pair) if measure == "VMAF" else _ssim_scores(pair)
    return ()


def likeness(
    pair: Pair,
    measure: Measure,
    vmaf_points: float,
    frames: int,
    on_share: OnShare,
    known: tuple[float, ...] = (),
) -> Likeness:
    """Mean and worst of the chosen pictures; SSIM where VMAF gives no answer, as for very small pictures.

    `frames` are those of the whole new file, `known` the scores if they were taken already (`beside`). Raises
    CannotMake where too few could be compared.
    """
    wanted = math.ceil(frames / pair.sampling.every)
    found = known
    if not found and measure == "VMAF":
        with suppress(CannotMake):
            found = _compared(pair, measure, wanted, on_share)
    if not found:
        measure, found = "SSIM", _compared(pair, "SSIM", wanted, on_share)
    if not found or abs(len(found) - wanted) > 1:
        problem = f"Of {wanted} pictures that were to be compared with the master, {len(found)} could be."
        raise CannotMake(problem, ASK_REPORT)
    mean = math.fsum(found) / len(found)
    return Likeness(
        measure, mean, min(found), floor_of(measure, vmaf_points), len(found), pair.sampling.every
    )


def _log(pair: Pair, measure: Measure) -> Path:
    return pair.kept.with_suffix(".json" if measure == "VMAF" else ".txt")


def _measuring(pair: Pair, measure: Measure) -> str:
    """The filter that compares, and writes what it finds."""
    log = in_filter(_log(pair, measure).as_posix())
    if measure == "SSIM":
        return f"ssim=stats_file={log}"
    threads = f"n_threads={os.cpu_count() or 1}:n_subsample={pair.sampling.step}"
    return f"libvmaf=log_fmt=json:log_path={log}:{threads}"


def _vmaf_scores(pair: Pair) -> tuple[float, ...]:
    frames = json.loads(_log(pair, "VMAF").read_bytes())["frames"]
    return tuple(
        float(frame["metrics"]["vmaf"]) for frame in frames if frame["frameNum"] % pair.sampling.step == 0
    )


def _ssim_scores(pair: Pair) -> tuple[float, ...]:
    lines = SSIM_LINE.finditer(_log(pair, "SSIM").read_text("ascii"))
    found = (float(line["luma"]) for line in lines if (int(line["number"]) - 1) % pair.sampling.step == 0)
    return tuple(score for score in found if math.isfinite(score))


def _compared(pair: Pair, measure: Measure, wanted: int, on_share: OnShare) -> tuple[float, ...]:
    """The scores of a run of its own. Raises CannotMake where it fails."""
    side = beside(pair, measure)
    timed = ("-fps_mode", "passthrough", "-enc_time_base:v", TIME_BASE)  # not that of either file
    given = ("-i", pair.new, *GUARD, "-i", side.address, "-filter_complex", side.graph)
    whole_s = max(1, wanted * pair.sampling.step) * PICTURE_S
    tell = lambda second: on_share(min(1.0, second / whole_s))  # noqa: E731
    line = (*given, "-map", "[beside]", *timed, "-f", "null", "-")
    make(pair.ffmpeg, line, pair.kept, pair.limit_s, tell, reading="The new file")
    return scores(pair, measure)


@dataclass(frozen=True, slots=True)
class Source:
    """One side of a comparison of streams: arguments up to and with its `-i`, and the tracks."""

    inputs: Line
    picture: str | None
    sound: str | None


def same(ffmpeg: Path, master: Source, new: Source, limit_s: float) -> tuple[Same, ...]:
    """The streams that came through unchanged: all that both sides name. Raises CannotMake where one did not.

    Packets are compared first: that costs a read. Where a container packs them differently, it is what they
    decode to.
    """
    kinds: list[Literal["picture", "sound"]] = []
    kinds += ["picture"] if master.picture else []
    kinds += ["sound"] if master.sound else []
    hashes = _hashes(ffmpeg, (new, master), ("-c", "copy"), limit_s)
    ours, theirs = hashes[: len(kinds)], hashes[len(kinds) :]
    found = []
    for number, kind in enumerate(kinds):
        if len(ours) == len(theirs) == len(kinds) and ours[number] == theirs[number]:
            found.append(Same(kind, "packets", ours[number]))
        else:
            found.append(_decoded_same(ffmpeg, master, new, kind, limit_s))
    return tuple(found)


def _decoded_same(
    ffmpeg: Path, master: Source, new: Source, kind: Literal["picture", "sound"], limit_s: float
) -> Same:
    one, other = (
        _hashes(ffmpeg, (_only(side, kind),), ("-fps_mode", "passthrough"), limit_s) for side in (master, new)
    )
    if len(one) != 1 or one != other:
        problem = f"Its {kind} did not come through unchanged when it was wrapped anew."
        raise CannotMake(problem, ASK_REPORT)
    return Same(kind, "decoded", one[0])


def _only(side: Source, kind: Literal["picture", "sound"]) -> Source:
    """One stream, as it is stored: a turning mark may be what was changed, and not every container can say
    what a decoder of sound should skip."""
    inputs = ("-noautorotate", "-flags2", "+skip_manual", *side.inputs)
    return Source(inputs, side.picture, None) if kind == "picture" else Source(inputs, None, side.sound)


def _hashes(ffmpeg: Path, sides: Sequence[Source], how: Sequence[str], limit_s: float) -> tuple[str, ...]:
    """Of the tracks of one side after the other, each picture before its sound."""
    inputs, outputs = list[str](), list[str]()
    for number, side in enumerate(sides):
        inputs += (*GUARD, *side.inputs)
        for track in filter(None, (side.picture, side.sound)):
            outputs += ("-map", f"{number}:{track.removeprefix('0:')}")
        outputs += (*how, "-f", "streamhash", "-hash", "sha256", "-")
    with begun((str(ffmpeg), *START, *inputs, *outputs), limit_s) as running:
        told = running.stdout.read()
        running.wait()
    return tuple(digest.decode("ascii").lower() for digest in HASHED.findall(told))
