"""What the picture has to be, in the words of those who make it.

It must not judge or draw.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from mediacheck.encoding.rate import rates_for
from mediacheck.encoding.video import video_codecs
from mediacheck.explain.model import Row, Section
from mediacheck.names import VideoCodec
from mediacheck.profile import CodecLimits, Profile, Screen
from mediacheck.profile_text import rate_text, value_text

FREE = "free"
TURNED = {
    90: "turned a quarter turn clockwise",
    180: "upside down",
    270: "turned a quarter turn counter-clockwise",
}
TURN_BACK = {90: "a quarter turn counter-clockwise", 180: "upside down", 270: "a quarter turn clockwise"}


def screen_rows(screen: Screen) -> Iterator[Row]:
    """How the picture will be seen."""
    yield Row("The screen", _seen(screen))
    if screen.turned_degrees:
        yield Row(
            "Turn the picture",
            "Design it upright, as people see it; the file holds it turned "
            f"{TURN_BACK[screen.turned_degrees]}, as real pixels. A rotation mark in the file is not enough: "
            "simple players ignore it. The line below turns an upright master.",
        )
    if screen.overscan_percent:
        yield Row(
            "Safe area",
            f"The screen hides {value_text('overscan_percent', screen.overscan_percent)} of the picture at "
            "each edge: keep words, prices and logos further inside.",
        )


def _seen(screen: Screen) -> str:
    if screen.width is None or screen.height is None:
        return "Its size is not stated: ask, so that the picture has its shape."
    if screen.turned_degrees not in TURNED:
        return f"{screen.width} pixels across and {screen.height} down."
    across, down = screen.width, screen.height
    if screen.turned_degrees != 180:
        across, down = down, across
    return (
        f"It hangs {TURNED[screen.turned_degrees]}: people see {across} pixels across and {down} down. "
        f"The file is {screen.width}x{screen.height}."
    )


def video_sections(profile: Profile) -> Iterator[Section]:
    """Everything asked of a moving picture: what holds for all codecs once, the rest under each codec."""
    if profile.video.containers == () or profile.video.codecs == {}:
        yield Section("Videos", (Row("Videos", "None: this player shows no videos."),))
        return
    kind = Row("Kind of file", _choice(profile.video.containers or (FREE,)))
    if profile.video.codecs is None:
        yield Section("Videos", (kind, Row("Codec", FREE), *_limits(profile.video.limits_for(""), profile)))
        return
    codecs = video_codecs(profile)
    rows = {codec: tuple(_limits(profile.video.limits_for(codec), profile)) for codec in codecs}
    shared = tuple(row for row in rows[codecs[0]] if all(row in others for others in rows.values()))
    yield Section("Videos", (kind, Row("Codec", _choice(codecs)), *shared))
    for codec in codecs:
        own = tuple(row for row in rows[codec] if row not in shared)
        if own:
            yield Section(f"Videos in {codec}", own)


def _profile_and_level(limits: CodecLimits) -> Iterator[Row]:
    if limits.profiles:
        yield Row("Codec profile", _choice(limits.profiles))
    if limits.level_max:
        yield Row("Level", f"up to {limits.level_max} (how fast a player must be)")


def _limits(limits: CodecLimits, profile: Profile) -> Iterator[Row]:
    yield from _profile_and_level(limits)
    yield Row("Picture size", _size(limits))
    yield Row("Pixels", "square (1:1)")
    yield Row("Frame rate", _rates(limits, profile))
    yield Row("Scan", _scan(limits))
    yield Row("Bit rate", _bit_rate(limits, profile))
    yield Row("Keyframes", _keyframes(limits))
    yield Row("Bits for each colour", _or_free(value_text("bit_depths", limits.bit_depths)))
    yield Row("Chroma subsampling", _or_free(value_text("chroma", limits.chroma)))
    yield Row("Colour", "standard (BT.709), no HDR and no wide colour")


def _size(limits: CodecLimits) -> str:
    sides = []
    for side, word in (("width", "wide"), ("height", "high")):
        exact, most = getattr(limits, side), getattr(limits, f"{side}_max")
        if exact is not None:
            sides.append(f"exactly {value_text(side, exact)} {word}")
        elif most is not None:
            sides.append(f"at most {value_text(side, most)} {word}")
    return " and ".join(sides) or FREE


def _rates(limits: CodecLimits, profile: Profile) -> str:
    best = rate_text(rates_for(limits, profile.screen, None)[0])
    if limits.frame_rates is None:
        return f"{FREE}, but constant; {best} suits this screen"
    if len(limits.frame_rates) == 1:
        return f"{best} frames per second, constant"
    rates = [rate_text(rate) for rate in sorted(limits.frame_rates)]
    return f"{_choice(tuple(rates))} frames per second, constant; {best} if you have the choice"


def _scan(limits: CodecLimits) -> str:
    if limits.scan == "interlaced":
        return "interlaced (half pictures in turn)"
    return "progressive (whole pictures)" if limits.scan else FREE


def _bit_rate(limits: CodecLimits, profile: Profile) -> str:
    told = []
    if limits.bit_rate_max is not None:
        told.append(f"at most {value_text('bit_rate_max', limits.bit_rate_max)} on average")
    seconds = value_text("buffer_seconds", profile.player.buffer_seconds)
    if limits.bit_rate_peak_max is not None:
        peak = value_text("bit_rate_peak_max", limits.bit_rate_peak_max)
        told.append(f"at most {peak} at the busiest place (over {seconds})")
    if profile.player.read_mbit_s is not None:
        read = value_text("read_mbit_s", profile.player.read_mbit_s)
        told.append(f"the player reads {read}, which no busy place may exceed (over {seconds})")
    return "; ".join(told) or FREE


def _keyframes(limits: CodecLimits) -> str:
    first = "the first picture is one"
    if limits.gop_seconds_max is None:
        return f"{first}; their distance is {FREE}"
    return f"{first}, and another at least every {value_text('gop_seconds_max', limits.gop_seconds_max)}"


def codec_heading(codec: VideoCodec, container: str | None) -> str:
    """What a line is for: "Video: H.264 in MP4"."""
    return f"Video: {codec} in {container}" if container else f"Video: {codec}"


def _or_free(text: str) -> str:
    return FREE if text == value_text("", None) else text


def _choice(names: Sequence[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} or {names[-1]}"
