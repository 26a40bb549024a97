"""The whole line for a moving picture: what to aim at within a profile, and the arguments that get there.

It must not run anything, and it knows no screens but the profile's. HDR masters are left aside: nothing
here converts them.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import get_args

from mediacheck.encoding import sound as sounds
from mediacheck.encoding.budget import budget_for, enough, flow_of
from mediacheck.encoding.codec import CODERS, Coder, tools_for
from mediacheck.encoding.level import LEVELLED, carries, marked_level, needed_level, within
from mediacheck.encoding.model import Budget, Frame, Part, Refused, Target, Tools, arguments_of
from mediacheck.encoding.mpeg2 import BUFFER_1_KBIT, LEVEL_LIMITS
from mediacheck.encoding.picture import UNMARKED_IS_BT709, filters
from mediacheck.encoding.rate import keyframe_frames, rates_for
from mediacheck.encoding.size import exact, frame_for, smaller
from mediacheck.encoding.sound import Sound, sound_for
from mediacheck.encoding.wrapping import MasterSound, chosen_streams, sounding, wrapping
from mediacheck.media.extensions import extensions_for
from mediacheck.names import AudioCodec, Container, VideoCodec
from mediacheck.profile import CodecLimits, Profile

MASTER = "MASTER"
"""Stands in a line for the file that there is."""


@dataclass(frozen=True, slots=True)
class VideoLine:
    """Everything that ffmpeg is told, and what comes out. `other_rates` fit in place of `target.rate`."""

    codec: VideoCodec
    container: Container
    master_sound: MasterSound
    target: Target
    other_rates: tuple[Fraction, ...]
    sound: Sound | None
    before: tuple[Part, ...]
    """Arguments before the master's `-i`."""
    after: tuple[Part, ...]

    @property
    def suffix(self) -> str:
        """The ending of the file's name, with its dot."""
        return extensions_for(self.container)[0]

    @property
    def parts(self) -> tuple[Part, ...]:
        """All parts in the order of the line."""
        return self.before + self.after

    def arguments(self, master: str, output: str) -> tuple[str, ...]:
        """All arguments of ffmpeg for one master."""
        return (*arguments_of(self.before), "-i", master, *arguments_of(self.after), output)


@dataclass(frozen=True, slots=True)
class _Size:
    """What was found to fit; `level` is the one that size and rate need, None without levels."""

    frame: Frame
    rate: Fraction
    level: str | None


def video_codecs(profile: Profile) -> tuple[VideoCodec, ...]:
    """The codecs to make lines for: those that the profile names, else the one that every player knows."""
    if profile.video.containers == ():
        return ()
    codecs = profile.video.codecs
    return ("H.264",) if codecs is None else tuple(name for name in get_args(VideoCodec) if name in codecs)


def video_lines(profile: Profile, codec: VideoCodec) -> tuple[VideoLine, ...] | Refused:
    """One line for any master, or two where the player wants sound and a master may have none."""
    target = target_for(profile, codec)
    if isinstance(target, Refused):
        return target
    container, found, other_rates = target
    sound = _sound(profile, container, CODERS[codec].never)
    if isinstance(sound, Refused):
        return sound
    kinds: tuple[MasterSound, ...] = ("some", "none") if profile.audio.use == "required" else ("any",)
    return tuple(_line(profile, codec, container, found, other_rates, sound, kind) for kind in kinds)


Found = tuple[Container, Target, tuple[Fraction, ...]]


def target_for(profile: Profile, codec: VideoCodec) -> Found | Refused:
    """What to aim at: the container, the target, and the other rates that fit it as well."""
    coder, limits = CODERS.get(codec), profile.video.limits_for(codec)
    if coder is None:
        return Refused(f"ffmpeg has no encoder for {codec}")
    refused = _beyond_words(codec, coder, limits, profile)
    if refused is not None:
        return refused
    container = _container(profile, coder)
    if isinstance(container, Refused):
        return container
    tools = tools_for(codec, limits)
    if isinstance(tools, Refused):
        return tools
    return _aimed(profile, codec, coder, limits, container, tools)


def _aimed(
    profile: Profile, codec: VideoCodec, coder: Coder, limits: CodecLimits, container: Container, tools: Tools
) -> Found | Refused:
    size = _size(profile, codec, coder, limits, tools)
    if isinstance(size, Refused):
        return size
    frame, rate = size.frame, size.rate
    wanted = coder.bits_per_pixel * frame.width * frame.height * float(rate)
    level, cap = _level(profile, codec, limits, tools, size, wanted)
    budget = budget_for(limits, profile.player, wanted, cap)
    too_little = enough(budget, frame, float(rate), coder.least_bits_per_pixel)
    if too_little is not None:
        return too_little
    others = _other_rates(codec, coder, limits, tools, size, level)
    gop = keyframe_frames(limits, min((rate, *others)))
    return container, Target(container, limits, frame, rate, gop, _fixed(codec, budget), tools, level), others


def _beyond_words(codec: VideoCodec, coder: Coder, limits: CodecLimits, profile: Profile) -> Refused | None:
    """Limits that no setting of this encoder is known to keep."""
    if limits.scan == "interlaced":
        return Refused("it asks for interlaced pictures, and this page makes whole ones (progressive) only")
    if limits.level_max is not None and codec not in (*LEVELLED, "MPEG-2"):
        return Refused(f"it limits the level, and no encoder is known to keep levels of {codec}")
    if codec == "MJPEG" and limits.profiles is not None:
        return Refused("it limits the profile, and MJPEG has none")
    limited = (limits.bit_rate_max, flow_of(limits, profile.player))
    if (limited[0] and not coder.holds_average) or (limited[1] and not coder.holds_peaks):
        return Refused(f"it limits the bit rate, and the encoder for {codec} cannot be held to that")
    return None


def _container(profile: Profile, coder: Coder) -> Container | Refused:
    allowed = profile.video.containers
    fitting = [name for name in coder.containers if allowed is None or name in allowed]
    if not fitting:
        return Refused(f"this codec does not usually go into {' or '.join(allowed or ())}")
    if profile.audio.use == "none":
        return fitting[0]
    heard = (name for name in fitting if isinstance(sound_for(profile.audio, name, coder.never), Sound))
    return next(heard, fitting[0])


def _size(
    profile: Profile, codec: VideoCodec, coder: Coder, limits: CodecLimits, tools: Tools
) -> _Size | Refused:
    first = frame_for(limits, profile.screen)
    if isinstance(first, Refused):
        return first
    rates = rates_for(limits, profile.screen, coder.rates)
    if not rates:
        return Refused(f"{codec} cannot express any of the frame rates that it allows")
    for frame in (first,) if exact(limits) else smaller(first):
        for rate in rates:
            fits, level = _holds(codec, limits, tools, frame, rate)
            if fits:
                return _Size(frame, rate, level)
    what = f"{first.width}x{first.height} pixels" if exact(limits) else "a picture"
    return Refused(f"no level that it allows holds {what} at a frame rate that it allows")


def _holds(
    codec: VideoCodec, limits: CodecLimits, tools: Tools, frame: Frame, rate: Fraction
) -> tuple[bool, str | None]:
    if codec in LEVELLED:
        level = needed_level(codec, tools, frame, rate)
        return within(codec, level, limits.level_max), level
    if codec == "MPEG-2":
        names = _mpeg2_levels(frame, rate)
        return bool(names) and within(codec, names[0], limits.level_max), names[0] if names else None
    return True, None


def _mpeg2_levels(frame: Frame, rate: Fraction) -> list[str]:
    """The level that the encoder marks, if it holds the rate as well."""
    for name, (width, height, samples, *_) in LEVEL_LIMITS.items():
        if frame.width <= width and frame.height <= height:
            return [name] if frame.width * frame.height * rate <= samples else []
    return []


def _level(
    profile: Profile, codec: VideoCodec, limits: CodecLimits, tools: Tools, size: _Size, wanted: float
) -> tuple[str | None, tuple[int, int] | None]:
    """The level to mark, and what it carries. A picture of no fixed size is marked by the encoder."""
    if size.level is None:
        return None, None
    if codec == "MPEG-2":
        return None, LEVEL_LIMITS[size.level][3:]
    asked = budget_for(limits, profile.player, wanted, None).rate_kbit_s * 1000
    level = marked_level(codec, tools, size.level, limits.level_max, asked)
    marked = level if size.frame.bars and codec == "H.264" else None  # libx265 marks what it needs
    return marked, carries(codec, level, tools)


def _other_rates(
    codec: VideoCodec, coder: Coder, limits: CodecLimits, tools: Tools, size: _Size, level: str | None
) -> tuple[Fraction, ...]:
    """Allowed rates that the line takes as well, lowest first: those that its level holds."""
    bound = limits if level is None else CodecLimits(level_max=level)
    return tuple(
        rate
        for rate in sorted(set(limits.frame_rates or ()))
        if rate != size.rate
        and (coder.rates is None or rate in coder.rates)
        and _holds(codec, bound, tools, size.frame, rate)[0]
    )


def _fixed(codec: VideoCodec, budget: Budget) -> Budget:
    """MPEG-1 decoders know one buffer."""
    if codec != "MPEG-1":
        return budget
    return Budget(budget.rate_kbit_s, min(budget.buffer_kbit, BUFFER_1_KBIT))


def _sound(profile: Profile, container: Container, never: tuple[AudioCodec, ...]) -> Sound | Refused | None:
    """None: the file has no sound, as wanted or because none is possible."""
    audio = profile.audio
    if audio.use == "none":
        return None
    sound = sounds.unreachable(audio) or sound_for(audio, container, never)
    return None if isinstance(sound, Refused) and audio.use == "allowed" else sound


def _line(
    profile: Profile,
    codec: VideoCodec,
    container: Container,
    target: Target,
    other_rates: tuple[Fraction, ...],
    sound: Sound | None,
    kind: MasterSound,
) -> VideoLine:
    coder = CODERS[codec]
    pixel_format = target.tools.pixel_format
    picture = filters(
        target.frame, target.rate, profile.screen.turned_degrees, pixel_format, coder.colour_range
    )
    after = (
        *chosen_streams(sound, kind),
        picture,
        *coder.settings(target),
        *sounding(sound, profile.audio, kind),
        *wrapping(codec, container),
    )
    return VideoLine(codec, container, kind, target, other_rates, sound, (UNMARKED_IS_BT709,), after)
