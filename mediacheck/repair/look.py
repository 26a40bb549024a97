"""What a new file says of itself, against what it was meant to be.

It must not decode: the check of the whole copy does that.
"""

from __future__ import annotations

from pathlib import Path

from mediacheck.media.facts import MediaFacts
from mediacheck.media.read import read_facts
from mediacheck.repair import commands
from mediacheck.repair.compare import ASK_FLOOR, ASK_REPORT, ASK_SIZE
from mediacheck.repair.encode import ASK_MASTER, CannotMake
from mediacheck.repair.model import Likeness, Recipe
from mediacheck.repair.task import Task

LENGTH_OFF_FRAMES = 2
LENGTH_OFF_S = 0.1
"""A length that is off by more than both together is not what was meant (common practice, no source)."""
AIMED_SHARE = 0.95
"""Of the greatest size, what a second try aims at: encoders miss rates by that (common practice)."""


def is_encoded(recipe: Recipe) -> bool:
    """Whether its picture is made anew."""
    return recipe.still is not None or (recipe.picture is not None and not recipe.picture.copied)


def facts_of(place: Path, name: str) -> MediaFacts:
    """Raises CannotMake for what no reader makes sense of."""
    if not place.is_file():
        raise CannotMake("ffmpeg wrote no file.", ASK_REPORT)
    facts = read_facts(place, name)
    if not isinstance(facts, MediaFacts):
        why = facts.reason if facts else "it is of no known kind"
        raise CannotMake(f"The new file cannot be read: {why}.", ASK_REPORT)
    return facts


def demand_whole(task: Task, facts: MediaFacts) -> None:
    """Raises CannotMake unless there is a picture of the right length, and sound where there should be."""
    recipe, still, video = task.recipe, facts.still, facts.video
    if recipe.still is not None:
        if still is None or still.damaged:
            raise CannotMake("The new picture is damaged.", ASK_REPORT)
        return
    if video is None or not frames_in(task, facts):
        raise CannotMake("The new file holds no picture: nothing of it could be decoded.", ASK_MASTER)
    if recipe.sound is not None and not facts.audio:
        raise CannotMake("The new file holds no sound: nothing of it could be decoded.", ASK_MASTER)
    if is_encoded(recipe) and recipe.seconds is not None and video.duration is not None:
        off_s = abs(float(video.duration) - recipe.seconds)
        if off_s > LENGTH_OFF_FRAMES / task.frames_per_s + LENGTH_OFF_S:
            problem = f"The new file plays {float(video.duration):.2f} s and not {recipe.seconds:.2f} s."
            raise CannotMake(problem, ASK_MASTER)


def decodes_alike(master: MediaFacts, new: MediaFacts) -> bool:
    """Whether packets that were copied, which are the same, are also shown and heard at the same times.

    Whoever decodes both will see and hear the same; MP4 and MOV are opened in one way, others in another.
    """
    families = [facts.container and facts.container.name.replace("MOV", "MP4") for facts in (master, new)]
    return (
        families[0] == families[1]
        and (master.video, master.audio, master.duration) == (new.video, new.audio, new.duration)
        and master.extra_video_streams == new.extra_video_streams
    )


def frames_in(task: Task, facts: MediaFacts) -> int:
    """How many pictures the new file has."""
    if facts.video is None:
        return 1 if facts.still is not None else 0
    if facts.video.packets is not None:
        return facts.video.packets.count
    return round(float(facts.video.duration or 0) * task.frames_per_s)


def slimmer(recipe: Recipe, facts: MediaFacts, size_bytes: int) -> Recipe:
    """The recipe at the rate that brings its file of this size under the size that it may have. CannotMake
    where no rate does, or none can be set."""
    most_bytes = recipe.size_max_bytes or 0
    rate = commands.rate_bit_s(recipe.picture) if recipe.picture else None
    packets = facts.video.packets if facts.video else None
    shown_bytes = packets.total_bytes if packets else size_bytes
    left_bytes = shown_bytes - (size_bytes - int(AIMED_SHARE * most_bytes))
    if rate is None or left_bytes <= 0:
        raise too_large(size_bytes, most_bytes)
    return commands.at_rate(recipe, rate * left_bytes // shown_bytes)


def too_large(size_bytes: int, most_bytes: int) -> CannotMake:
    """What to say of a file that does not become smaller."""
    return CannotMake(
        f"The new file would have {size_bytes:,} bytes, and {most_bytes:,} is the most that it may have.",
        ASK_SIZE,
    )


def unlike(found: Likeness, recipe: Recipe) -> CannotMake:
    """What to say of a picture that lost too much."""
    shown = "{:.1f}" if found.measure == "VMAF" else "{:.3f}"
    value, floor = shown.format(found.value), shown.format(found.floor)
    ask = ASK_FLOOR if recipe.size_max_bytes is None else ASK_SIZE
    return CannotMake(
        f"The new picture is too unlike its master: {found.measure} {value}, and {floor} is the least.", ask
    )
