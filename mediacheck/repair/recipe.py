"""The recipe of one new file: the least change that works, from a master to what the profile asks for.

It must not run anything, and not decide which change is necessary: that is for `plan`.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from mediacheck.encoding.codec import CODERS
from mediacheck.encoding.level import within
from mediacheck.encoding.model import Refused, arguments_of
from mediacheck.encoding.still import still_formats
from mediacheck.encoding.wrapping import wrapping
from mediacheck.loop import File
from mediacheck.measure.model import Measurements
from mediacheck.media.extensions import extensions_for
from mediacheck.media.facts import VideoFacts
from mediacheck.names import AudioCodec, Container, RuleName, VideoCodec
from mediacheck.profile import Profile
from mediacheck.repair import ends
from mediacheck.repair.aim import aim_for
from mediacheck.repair.model import Change, PictureRecipe, Recipe, SoundRecipe, Span, Wishes
from mediacheck.repair.picture import before, begins_s, picture_recipe
from mediacheck.repair.sound import sound_recipe
from mediacheck.repair.still import still_recipe

LEVEL_MARKS: dict[str, str] = {"H.264": "h264_metadata", "H.265": "hevc_metadata"}
"""ffmpeg's filters of packets that change what the headers say."""
CONTAINER_SHARE = 0.98
"""What of a file's size its streams may take: the rest is for the container (common practice, no source)."""
WAITS_MIN_S = 0.1
"""Containers place a picture so much later than its sound without meaning anything by it; the first one is
shown earlier then (common practice, no source)."""
TO_A_SIZE: frozenset[VideoCodec] = frozenset(("H.264", "H.265", "MPEG-4", "MPEG-2", "MPEG-1"))
"""Those whose encoders look at the whole picture first and then reach a rate (two passes)."""


@dataclass(frozen=True, slots=True)
class _Job:
    """What all steps need to know."""

    file: File
    video: VideoFacts
    profile: Profile
    wishes: Wishes
    rules: frozenset[RuleName]
    span: Span

    @property
    def early_s(self) -> float:
        """How much sound before the picture is cut off from a clip that keeps its head otherwise."""
        waits_s = begins_s(self.video)
        return waits_s if waits_s >= WAITS_MIN_S and not self.span.start_s else 0.0

    @property
    def seconds(self) -> float | None:
        """How long the picture plays."""
        found = self.file.measurements
        whole = found.seconds if isinstance(found, Measurements) and found.frames else None
        if whole is None and self.video.duration is not None:
            whole = float(self.video.duration)
        if whole is None:
            return None
        return (whole if self.span.end_s is None else self.span.end_s) - self.span.start_s


def recipe_for(
    file: File,
    profile: Profile,
    wishes: Wishes,
    change: Change,
    rules: frozenset[RuleName],
    size_max_bytes: int | None = None,
) -> Recipe | Refused:
    """The recipe for one file, of this change or, where that cannot work, of the next greater one.

    `rules` are those that the file broke. With `size_max_bytes` the picture is encoded to that size.
    Refused: no file that this player takes can be made of it.
    """
    media = file.media
    if media is not None and media.still is not None:
        return _still(file, profile, wishes)
    if media is None or media.video is None:
        return Refused("it holds no picture")
    span = _span(file, wishes, rules)
    job = _Job(file, media.video, profile, wishes, rules, span)
    if change in ("container", "sound") and span == Span():
        kept = _picture_kept(job)
        if kept is not None:
            return kept
    return _picture_again(job, size_max_bytes)


def _span(file: File, wishes: Wishes, rules: frozenset[RuleName]) -> Span:
    measured = file.measurements
    if not wishes.trim_ends or not isinstance(measured, Measurements):
        return Span()
    if not rules & {"picture-leader", "picture-black"}:
        return Span()
    return ends.kept(measured) or Span()


def _picture_kept(job: _Job) -> Recipe | None:
    """The picture's packets as they are; None where that does not work."""
    codec, allowed = job.video.codec, job.profile.video.containers
    coder = next((coder for name, coder in CODERS.items() if name == codec), None)
    marks = _level_mark(job)
    if coder is None or marks is None:
        return None
    carriers = [name for name in coder.containers if allowed is None or name in allowed]
    for container in sorted(carriers, key=lambda name: name != _own(job)):
        sound = _sound(job, container, coder.never)
        if not isinstance(sound, Refused):
            return _wrapped(job, container, sound, marks)
    return None


def _own(job: _Job) -> str | None:
    media = job.file.media
    return media.container.name if media and media.container else None


def _level_mark(job: _Job) -> tuple[str, ...] | None:
    """Arguments that mark the level which the stream needs; None: no mark makes it conform."""
    if "video-level-understated" not in job.rules:
        return ()
    codec, need = job.video.codec, job.video.level_needed
    most = job.profile.video.limits_for(codec).level_max
    if codec == "H.264" and need is not None and within("H.264", need, most):
        return "-bsf:v", f"h264_metadata=level={need}"
    if codec == "H.265" and need is not None and within("H.265", need, most):
        return "-bsf:v", f"hevc_metadata=level={need}"
    return None


def _wrapped(job: _Job, container: Container, sound: SoundRecipe | None, marks: tuple[str, ...]) -> Recipe:
    hvc1 = job.video.codec == "H.265" and container in ("MP4", "MOV")
    return Recipe(
        change="container" if sound is None or sound.copied else "sound",
        suffix=extensions_for(container)[0],
        picture=PictureRecipe(copied=True, also=(*marks, *(("-tag:v", "hvc1") if hvc1 else ()))),
        sound=sound,
        wrapping=_wrapping(job.video.codec, container),
        seconds=job.seconds,
    )


def _wrapping(codec: str, container: Container) -> tuple[str, ...]:
    known = next(name for name in CODERS if name == codec)
    return arguments_of(tuple(wrapping(known, container)))


def _sound(
    job: _Job, container: Container, never: tuple[AudioCodec, ...], early_s: float = 0.0
) -> SoundRecipe | Refused | None:
    cut = early_s if early_s or job.span != Span() else None
    return sound_recipe(job.file, job.profile.audio, container, never, job.rules, job.seconds, cut)


def _picture_again(job: _Job, size_max_bytes: int | None) -> Recipe | Refused:
    aim = aim_for(job.video, job.profile)
    if isinstance(aim, Refused):
        return aim
    sound = _sound(job, aim.container, CODERS[aim.codec].never, job.early_s)
    if isinstance(sound, Refused):
        return sound
    picture = picture_recipe(job.file, job.video, job.profile, aim, job.wishes, job.rules, job.early_s)
    recipe = Recipe(
        change="picture",
        suffix=extensions_for(aim.container)[0],
        before=before(job.video, job.span),
        picture=picture,
        sound=sound,
        wrapping=_wrapping(aim.codec, aim.container),
        span=job.span,
        seconds=job.seconds,
    )
    return recipe if size_max_bytes is None else _to_size(recipe, aim.codec, size_max_bytes)


def _to_size(recipe: Recipe, codec: VideoCodec, size_max_bytes: int) -> Recipe | Refused:
    """The same with a rate that fits, in two passes."""
    if codec not in TO_A_SIZE or recipe.picture is None or not recipe.seconds:
        return Refused(f"the encoder for {codec} cannot be held to a size")
    sound_bit_s = _sound_bit_s(recipe.sound)
    rate = int(size_max_bytes * 8 * CONTAINER_SHARE / recipe.seconds - sound_bit_s) // 1000
    if rate < 1:
        return Refused("its sound alone is larger than the room that there is")
    also = _with_rate(recipe.picture.also, rate)
    picture = replace(recipe.picture, also=also, two_passes=True)
    return replace(recipe, picture=picture, size_max_bytes=size_max_bytes)


def _with_rate(also: tuple[str, ...], rate_kbit_s: int) -> tuple[str, ...]:
    """An average to aim at in place of a constant quality, under the limits that are there."""
    most = next((int(also[at + 1][:-1]) for at, word in enumerate(also) if word == "-maxrate:v"), rate_kbit_s)
    taken = [at for at, word in enumerate(also) if word in ("-crf", "-b:v")]
    kept = [word for at, word in enumerate(also) if not {at, at - 1} & set(taken)]
    return (*kept, "-b:v", f"{min(rate_kbit_s, most)}k")


def _sound_bit_s(sound: SoundRecipe | None) -> float:
    """What its packets take: as encoded, or as much as the largest usual sound where it is copied."""
    if sound is None:
        return 0.0
    words = dict(zip(sound.encoder, sound.encoder[1:], strict=False))
    return float(words.get("-b:a", "320k")[:-1]) * 1000


def _still(file: File, profile: Profile, wishes: Wishes) -> Recipe | Refused:
    facts = file.media.still if file.media else None
    formats = still_formats(profile)
    if facts is None or not formats:
        return Refused("the player shows no stills")
    kind = next((name for name in formats if name == facts.format), formats[0])
    made = still_recipe(facts, kind, profile, wishes)
    if isinstance(made, Refused):
        return made
    picture, line = made
    suffix = extensions_for(kind)[0]
    return Recipe("still", suffix, ("-noautorotate",), picture, still=kind, still_arguments=line)
