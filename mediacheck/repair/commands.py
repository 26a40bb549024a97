"""From a recipe to the line of ffmpeg that carries it out: one pass or two, one new file or several.

It must not run anything, and knows no codec but for what two passes need.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace

from mediacheck.encoding.video import MASTER
from mediacheck.repair.model import LUT, PictureRecipe, Recipe, SoundRecipe

Line = tuple[str, ...]
NEW = "NEW"
"""Stands in a line for the file to be made."""
PICTURE = ("-map", "0:V:0")
"""The first picture of the master, no cover image."""
QUEUE = ("-max_muxing_queue_size", "10000")
"""Where the sound of a master begins late, its pictures wait for it."""
FIRST, SECOND = 1, 2
RATE = re.compile(r"(?P<number>\d+(?:\.\d+)?)(?P<unit>[kM]?)")
UNITS = {"": 1, "k": 1_000, "M": 1_000_000}
SECOND_INPUT = re.compile(r"1(?=:)")


@dataclass(frozen=True, slots=True)
class Places:
    """Where things are in one run; as it stands, the words that stand for them in a record."""

    master: str = MASTER
    new: str = NEW
    lut: str = "LUT.cube"
    """Table of colours."""
    passes: str = "PASSES"
    """Where the first pass leaves word for the second."""


@dataclass(frozen=True, slots=True)
class Job:
    """One new file: its recipe, the filters that bring its sound to level, and where things are."""

    recipe: Recipe
    level: str = ""
    places: Places = Places()


def making(*jobs: Job, pass_number: int = 0) -> Line:
    """All arguments that make the files from one master: it is decoded once. `pass_number`: FIRST, SECOND, or
    0 for the only one.

    The jobs have the same master and the same `before`.
    """
    inputs = second_inputs(jobs)
    line = list(opening(jobs[0]))
    for second in inputs:
        line += second
    for job in jobs:
        sound = job.recipe.sound
        number = inputs.index(sound.input) + 1 if sound and sound.input else 0
        line += _one(job, number, pass_number)
    return tuple(line)


def opening(job: Job) -> Line:
    """The master, and what of it is read."""
    return (*job.recipe.before, "-i", job.places.master)


def second_inputs(jobs: Sequence[Job]) -> tuple[Line, ...]:
    """Inputs behind the master, each once."""
    wanted = (job.recipe.sound.input for job in jobs if job.recipe.sound and job.recipe.sound.input)
    return tuple(dict.fromkeys(wanted))


def first_pass(job: Job) -> Line:
    """Looks at the whole picture and makes nothing."""
    picture = _picture(job, FIRST)
    return (*opening(job), *PICTURE, *picture, "-an", "-f", "null", "-")


def _one(job: Job, second_input: int, pass_number: int) -> Line:
    recipe = job.recipe
    if recipe.still is not None:
        return (*recipe.still_arguments, job.places.new)
    if recipe.picture is None:
        raise ValueError("a recipe without a picture makes nothing that plays")
    return (
        *PICTURE,
        *_picture(job, pass_number),
        *_sound(recipe.sound, job.level, second_input),
        *recipe.wrapping,
        *QUEUE,
        job.places.new,
    )


def _picture(job: Job, pass_number: int) -> Line:
    picture = job.recipe.picture
    if picture is None:
        return ()
    if picture.copied:
        return ("-c:v", "copy", *picture.also)
    also = _passed(picture.also, pass_number, job.places.passes) if pass_number else picture.also
    filters = with_lut(picture.filters, job.places.lut)
    return (*(("-vf", filters) if filters else ()), *also)


def with_lut(filters: str, lut: str) -> str:
    """The filters with the path of their table of colours."""
    return filters.replace(LUT, in_filter(lut))


def _sound(sound: SoundRecipe | None, level: str, second_input: int) -> Line:
    if sound is None:
        return ("-an",)
    track = SECOND_INPUT.sub(str(second_input), sound.track, count=1) if sound.input else sound.track
    if sound.copied:
        return ("-map", track, "-c:a", "copy")
    filters = sound_filters(sound, level)
    return ("-map", track, *(("-af", filters) if filters else ()), *sound.encoder)


def sound_filters(sound: SoundRecipe, level: str) -> str:
    """All filters of the sound in their order."""
    return ",".join(filter(None, (sound.mixing, level, sound.ending)))


def _passed(also: Line, pass_number: int, passes: str) -> Line:
    """libx265 is told of passes in its own words: the ffmpeg of its time passes nothing on (5.1)."""
    if "libx265" not in also:
        return (*also, "-pass:v", str(pass_number), "-passlogfile:v", passes)
    words = f"pass={pass_number}:stats={_in_parameters(passes)}"
    if "-x265-params" not in also:
        return (*also, "-x265-params", words)
    place = also.index("-x265-params") + 1
    return (*also[:place], f"{also[place]}:{words}", *also[place + 1 :])


def _in_parameters(path: str) -> str:
    """A path as a value in a list of parameters (libavutil's av_dict_parse_string)."""
    return _escaped(path, {"\\", "'", ":"})


def in_filter(path: str) -> str:
    """A path as a value in a graph of filters: escaped for the filter, and once more for the graph ("Notes on
    filtergraph escaping" in the documentation of ffmpeg)."""
    return _escaped(_escaped(path, {"\\", "'", ":"}), {"\\", "'", "[", "]", ",", ";"})


def _escaped(text: str, special: set[str]) -> str:
    return "".join(f"\\{letter}" if letter in special else letter for letter in text)


def rate_bit_s(picture: PictureRecipe) -> int | None:
    """The rate that the encoder of the picture aims at; None where it aims at a quality."""
    if picture.copied or "-b:v" not in picture.also[:-1]:
        return None
    found = RATE.fullmatch(picture.also[picture.also.index("-b:v") + 1])
    return round(float(found["number"]) * UNITS[found["unit"]]) if found else None


def at_rate(recipe: Recipe, bit_s: int) -> Recipe:
    """The same recipe, aiming at another rate of the picture. ValueError where it aims at none."""
    picture = recipe.picture
    if picture is None or rate_bit_s(picture) is None:
        raise ValueError("the encoder is not told a rate")
    place = picture.also.index("-b:v") + 1
    also = (*picture.also[:place], f"{bit_s // 1000}k", *picture.also[place + 1 :])
    return replace(recipe, picture=replace(picture, also=also))
