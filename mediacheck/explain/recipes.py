"""The ready lines, each with what comes out and what to mind.

It must not choose settings: that is for `encoding`.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from mediacheck.encoding.command import typed
from mediacheck.encoding.model import Frame, Part, Reason, Refused
from mediacheck.encoding.naming import example_name
from mediacheck.encoding.sound import Sound
from mediacheck.encoding.still import StillLine, still_formats, still_line
from mediacheck.encoding.video import MASTER, VideoLine, video_codecs, video_lines
from mediacheck.explain.model import NoRecipe, Recipe
from mediacheck.explain.picture import codec_heading
from mediacheck.profile import Profile, Screen
from mediacheck.profile_text import rate_text

NAMELESS = "OUTPUT"
FOR_MASTERS = {"any": "", "some": ", from a master with sound", "none": ", from a master without sound"}
BARS = (
    "A master of another shape gets black bars, which a check of the card will mention: better deliver one "
    "of the right shape."
)
MISSHAPEN = (
    "The size that the player asks for does not have the shape of the screen: there will be bars or "
    "stretching whatever is delivered, and a check of the card will mention it."
)
SHAPE_TOLERANCE = Fraction(1, 100)
"""As in rule video-shape."""
SOUND_LENGTH = (
    "The sound keeps its length: let it end with the picture in the master, or a check of the card will "
    "mention it."
)
LOUDNESS = (
    "The loudness is reached in one pass: measure items of less than five seconds afterwards, since they may "
    "miss it."
)


def recipes_for(profile: Profile) -> tuple[tuple[Recipe, ...], tuple[NoRecipe, ...]]:
    """One line for each kind of item, and the kinds for which there is none."""
    all_of_them = (*_videos(profile), *_stills(profile))
    return (
        tuple(one for one in all_of_them if isinstance(one, Recipe)),
        tuple(one for one in all_of_them if isinstance(one, NoRecipe)),
    )


def _videos(profile: Profile) -> Iterator[Recipe | NoRecipe]:
    for codec in video_codecs(profile):
        lines = video_lines(profile, codec)
        if isinstance(lines, Refused):
            yield NoRecipe(codec_heading(codec, None), lines.reason)
        else:
            yield from (_video(profile, line) for line in lines)


def _video(profile: Profile, line: VideoLine) -> Recipe:
    arguments = line.arguments(MASTER, _name(profile, line.suffix))
    return Recipe(
        codec_heading(line.codec, line.container) + FOR_MASTERS[line.master_sound],
        _makes(line),
        typed(arguments),
        tuple(_notes(profile, line)),
        _reasons(line.parts),
    )


def _makes(line: VideoLine) -> str:
    frame = line.target.frame
    size = f"{frame.width}x{frame.height} pixels" if frame.bars else "the size of the master"
    limit = "" if frame.bars else f", at most {frame.width}x{frame.height} pixels"
    return f"{size}{limit}, {rate_text(line.target.rate)} frames per second, {_sound(line.sound, line)}"


def _sound(sound: Sound | None, line: VideoLine) -> str:
    if sound is None:
        return "no sound"
    if line.master_sound == "none":
        return f"a silent track in {sound.codec}"
    return f"sound in {sound.codec}" + (" if the master has any" if line.master_sound == "any" else "")


def _notes(profile: Profile, line: VideoLine) -> Iterator[str]:
    if line.other_rates:
        rates = _choice([f"fps={rate}" for rate in line.other_rates])
        yield (
            f"If the master runs at another of the allowed rates, keep it: write {rates} "
            f"in place of fps={line.target.rate}. {_smoother(line)}".strip()
        )
    if line.target.frame.bars:
        yield BARS if _has_shape(line.target.frame, profile.screen) else MISSHAPEN
    if line.sound is None and profile.audio.use == "allowed":
        yield f"Without sound: none that this player unpacks goes into {line.container}."
    if line.sound is not None and line.master_sound != "none":
        yield SOUND_LENGTH
    if line.master_sound == "none":
        yield "A check of the card will mention that this item is silent; that is meant."
    if profile.audio.loudness_lufs is not None and line.sound is not None and line.master_sound != "none":
        yield LOUDNESS


def _has_shape(frame: Frame, screen: Screen) -> bool:
    if screen.width is None or screen.height is None:
        return True
    return abs(Fraction(frame.width * screen.height, frame.height * screen.width) - 1) <= SHAPE_TOLERANCE


def _smoother(line: VideoLine) -> str:
    if Fraction(25) in line.other_rates:
        return "A master of 50 frames per second moves most smoothly with fps=25."
    return ""


def _stills(profile: Profile) -> Iterator[Recipe | NoRecipe]:
    for still_format in still_formats(profile):
        line = still_line(profile, still_format)
        heading = f"Still: {still_format}"
        yield NoRecipe(heading, line.reason) if isinstance(line, Refused) else _still(profile, line, heading)


def _still(profile: Profile, line: StillLine, heading: str) -> Recipe:
    arguments = line.arguments(MASTER, _name(profile, line.suffix))
    size = f"{line.frame.width}x{line.frame.height} pixels"
    notes = (
        "Colours for printing (CMYK) are converted roughly: better save the picture as sRGB first.",
        *((BARS,) if line.frame.bars else ()),
    )
    makes = size if line.frame.bars else f"the size of the master, at most {size}"
    return Recipe(heading, makes, typed(arguments), notes, _reasons(line.parts))


def _name(profile: Profile, suffix: str) -> str:
    return example_name(profile.layout, suffix) or NAMELESS + suffix


def _reasons(parts: tuple[Part, ...]) -> tuple[Reason, ...]:
    return tuple(reason for part in parts for reason in part.reasons)


def _choice(names: list[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} or {names[-1]}"
