"""A few pictures of an item, for people to look at: frames spread over a clip, or the still itself.

It must not judge, and it must not turn or stretch: pictures leave here as the file stores them.
"""

from __future__ import annotations

import warnings
from collections.abc import Iterator, Sequence
from fractions import Fraction
from typing import BinaryIO

import av
from av.container import InputContainer
from av.packet import Packet
from av.stream import Discard, Disposition
from av.video.frame import VideoFrame
from av.video.stream import VideoStream
from PIL import Image

from mediacheck.measure.choice import Gathering, chosen
from mediacheck.measure.model import Picture
from mediacheck.media.facts import MediaFacts
from mediacheck.media.opening import Location, open_container

PACKETS_MAX = 20_000
"""Upper bound of the packets read for one file: 11 minutes at 30 frames/s, for a clip with one keyframe."""
STEPS_BACK_S = (0, 2, 10, 60)
"""How far before the wanted time to look again, where a seek landed behind it (MPEG-TS has no index)."""
SKIP_FROM_S = 2
"""Where wanted times lie this far apart, frames that no other frame needs are not decoded on the way."""
KEYFRAMES_MAX = 150
"""Of one clip: where they stand closer together, as in clips that have nothing else, some are passed over."""
SPARE, SPARE_MAX = 2, 12
"""So many pictures are looked at for each that is wanted, but no more in all unless more are wanted, where
keyframes do not give enough of them."""
NO_LOOP_FILTER = {"skip_loop_filter": "all"}
"""It smooths the edges of blocks, takes a tenth of the decode, and does not show in small pictures."""
SD_WIDTH_MAX, SD_HEIGHT_MAX = 1024, 576
SWSCALE_NAMES = {1: "ITU709", 5: "ITU601", 6: "ITU601", 7: "SMPTE240M", 9: "BT2020", 10: "BT2020"}
"""MatrixCoefficients of ITU-T H.273 table 4, and the names that the scaler has for them."""
UNSPECIFIED = 2


def spread(duration_s: Fraction, count: int) -> tuple[Fraction, ...]:
    """`count` times in seconds, each in the middle of its equal share of the length."""
    return tuple(duration_s * (2 * place + 1) / (2 * count) for place in range(count))


def pictures_of(
    location: Location, facts: MediaFacts, count: int, *, long_side_px: int = 640
) -> tuple[Picture, ...]:
    """Up to `count` pictures of a file, scaled down so that the longer side has `long_side_px` at most.

    Rotation flags, EXIF orientation and pixel shape are not applied: simple players ignore them (common
    practice, no source). `Picture.second` is the time of the frame that was found, from the clip's start.
    What cannot be decoded is left out, so fewer pictures, or none, may come back; nothing is raised.
    """
    if count < 1 or long_side_px < 1:
        return ()
    if facts.kind == "still":
        return _still(location, long_side_px)
    try:
        with open_container(location) as container:
            length_s = _length_s(container, facts)
            wanted = spread(length_s, count) if length_s > 0 else (Fraction(0),)
            skips = length_s > count * SKIP_FROM_S
            return _from_clip(container, wanted, long_side_px, skips)
    except (av.FFmpegError, OSError, ValueError):
        return ()


def pictures_at(
    location: Location, facts: MediaFacts, seconds: Sequence[Fraction], *, long_side_px: int = 640
) -> tuple[Picture, ...]:
    """As `pictures_of`, of a clip at these rising times in seconds: what is on the screen then."""
    if long_side_px < 1:
        return ()
    try:
        with open_container(location) as container:
            return _from_clip(container, seconds, long_side_px)
    except (av.FFmpegError, OSError, ValueError):
        return ()


def telling_pictures(
    location: Location, facts: MediaFacts, count: int, *, long_side_px: int = 640
) -> tuple[Picture, ...]:
    """Up to `count` pictures of a file that differ, none of them black or blurred; else as `pictures_of`.

    They are chosen among the keyframes, which a few hundredths of a decode give; in a clip that has hardly
    any, among pictures spread over it as well.
    """
    if count < 1 or facts.kind == "still":
        return pictures_of(location, facts, count, long_side_px=long_side_px)
    gathering, seconds = Gathering(), list[float]()
    for picture in _keyframes(location, facts, long_side_px):
        gathering.add(picture)
        seconds.append(picture.second)
    found = gathering.chosen(count)
    if len(found) == count:
        return found
    spare = max(count, min(SPARE * count, SPARE_MAX))
    more = pictures_of(location, facts, spare, long_side_px=long_side_px)
    others = [picture for picture in more if picture.second not in seconds]
    return chosen(sorted((*found, *others), key=lambda picture: picture.second), count)


def _keyframes(location: Location, facts: MediaFacts, long_side_px: int) -> Iterator[Picture]:
    """Keyframes in the order of time, at most `KEYFRAMES_MAX` or so; those that can be decoded."""
    try:
        with open_container(location) as container:
            stream = _picture_stream(container)
            if stream is None:
                return
            stream.discard = Discard.nonkey
            stream.thread_type = "AUTO"
            stream.codec_context.skip_frame = "NONKEY"
            stream.codec_context.options = NO_LOOP_FILTER
            step_s = _length_s(container, facts) / KEYFRAMES_MAX
            yield from _rising(_scaled_keyframes(container, stream, step_s, long_side_px))
    except (av.FFmpegError, OSError, ValueError):
        return  # the file breaks off here; what came before it counts


def _scaled_keyframes(
    container: InputContainer, stream: VideoStream, step_s: Fraction, long_side_px: int
) -> Iterator[Picture]:
    clip, next_s = _Clip(container, stream), Fraction(0)
    for packet in container.demux(stream):
        second = clip.second_of(packet)
        if packet.size and not (packet.is_keyframe and (second is None or second >= next_s)):
            continue
        next_s = next_s if second is None else second + step_s
        for frame in _frames_in(packet):
            shown_s = clip.second_of(frame)
            if shown_s is not None:
                yield _scaled(frame, float(shown_s), long_side_px)


def _rising(pictures: Iterator[Picture]) -> Iterator[Picture]:
    """Without those whose times jump back, as in a file that was joined from two."""
    last_s = -1.0
    for picture in pictures:
        if picture.second > last_s:
            last_s = picture.second
            yield picture


def _from_clip(
    container: InputContainer, wanted: Sequence[Fraction], long_side_px: int, skips: bool = False
) -> tuple[Picture, ...]:
    """`skips`: frames that no other frame needs are passed over; then one from a little before may come."""
    stream = _picture_stream(container)
    if stream is None:
        return ()
    stream.thread_type = "AUTO"
    if skips:
        stream.codec_context.skip_frame = "NONREF"
    clip, found = _Clip(container, stream), list[Picture]()
    for wanted_s in wanted:
        picture = _picture_at(clip, wanted_s, long_side_px)
        if picture is not None and (not found or picture.second > found[-1].second):
            found.append(picture)
    return tuple(found)


def _picture_stream(container: InputContainer) -> VideoStream | None:
    """The first picture stream that is not cover art."""
    streams = container.streams.video
    return next((stream for stream in streams if not stream.disposition & Disposition.attached_pic), None)


def _length_s(container: InputContainer, facts: MediaFacts) -> Fraction:
    """Seconds of moving picture; 0 where nobody knows."""
    own = facts.video.duration if facts.video else None
    return own or facts.duration or Fraction(container.duration or 0, av.time_base)


def _picture_at(clip: _Clip, wanted_s: Fraction, long_side_px: int) -> Picture | None:
    try:
        found = clip.frame_at(wanted_s)
        return _scaled(found[1], float(found[0]), long_side_px) if found else None
    except (av.FFmpegError, OSError, ValueError):
        return None


class _Clip:
    """An open clip that is asked for frames at rising times."""

    def __init__(self, container: InputContainer, stream: VideoStream) -> None:
        self._container, self._stream = container, stream
        self._time_base = stream.time_base or Fraction(1, av.time_base)
        self._start = stream.start_time or 0
        self._packets_left = PACKETS_MAX
        self._frames: Iterator[VideoFrame] = iter(())
        self._last: VideoFrame | None = None

    def frame_at(self, wanted_s: Fraction) -> tuple[Fraction, VideoFrame] | None:
        """The frame on the screen at this time and the second at which it came up.

        Where the clip gives none so early, the next one after it. None where nothing could be decoded.
        """
        wanted = self._start + round(wanted_s / self._time_base)
        if self._can_go_on(wanted):
            return self._timed(self._forward(wanted), wanted_s)
        frame = None
        for back_s in STEPS_BACK_S:
            goal = wanted - round(back_s / self._time_base)
            self._seek(goal)
            frame = self._forward(wanted)
            if goal <= self._start or (frame is not None and (frame.pts is None or frame.pts <= wanted)):
                break
        return self._timed(frame, wanted_s)

    def second_of(self, shown: VideoFrame | Packet[VideoStream]) -> Fraction | None:
        """When it comes up, counted from the clip's start; None where the file does not say."""
        return None if shown.pts is None else max(Fraction(0), (shown.pts - self._start) * self._time_base)

    def _timed(self, frame: VideoFrame | None, wanted_s: Fraction) -> tuple[Fraction, VideoFrame] | None:
        if frame is None:
            return None
        second = self.second_of(frame)
        return (max(Fraction(0), wanted_s) if second is None else second), frame

    def _can_go_on(self, wanted: int) -> bool:
        """Whether decoding on is the shortest way: no keyframe stands between here and there."""
        if self._last is None or self._last.pts is None:
            return False
        index = self._stream.index_entries
        # Only a full index tells. MPEG-TS has none, and keeps what it met on the way in its place.
        if not 0 < self._stream.frames <= len(index):
            return False
        place = index.search_timestamp(wanted)
        return place >= 0 and index[place].timestamp <= self._last.pts <= wanted

    def _seek(self, goal: int) -> None:
        untouched = self._packets_left == PACKETS_MAX
        if goal > self._start:
            self._container.seek(goal, stream=self._stream)
        elif not untouched:
            self._rewind()
        self._last, self._frames = None, self._decoded()

    def _rewind(self) -> None:
        """Go before the start: pictures are decoded earlier than shown, and MPEG-TS goes by the former."""
        try:
            self._container.seek(self._start - round(1 / self._time_base), stream=self._stream)
        except av.FFmpegError:
            self._container.seek(self._start, stream=self._stream)

    def _decoded(self) -> Iterator[VideoFrame]:
        """Frames from the next keyframe on. What stands before it would be decoded for nothing."""
        running = False
        try:
            for packet in self._container.demux(self._stream):
                if self._packets_left <= 0:
                    return
                self._packets_left -= 1
                running = running or packet.is_keyframe
                if running:
                    yield from _frames_in(packet)
        except av.FFmpegError:
            return  # the file breaks off here; what came before it counts

    def _forward(self, wanted: int) -> VideoFrame | None:
        """Decode up to the wanted time stamp. `_last` is the last frame taken from the decoder."""
        best = self._last
        for frame in self._frames:
            before, self._last = best, frame
            if frame.pts is None or frame.pts > wanted:
                return frame if before is None else before
            best = frame
        return best


def _frames_in(packet: Packet[VideoStream]) -> list[VideoFrame]:
    try:
        return [frame for frame in packet.decode() if isinstance(frame, VideoFrame)]
    except av.FFmpegError:
        return []  # one damaged packet; the decoder finds its feet at a later one


def _scaled(frame: VideoFrame, second: float, long_side_px: int) -> Picture:
    width, height = _fitted(frame.width, frame.height, long_side_px)
    small = frame.reformat(
        width, height, format="rgb24", src_colorspace=_colorspace(frame), interpolation="AREA"
    )
    return Picture(second, width, height, small.to_ndarray().tobytes())


def _fitted(width: int, height: int, long_side_px: int) -> tuple[int, int]:
    """The size with the longer side cut down to `long_side_px`; nothing is enlarged."""
    scale = min(Fraction(1), Fraction(long_side_px, max(width, height)))
    return max(1, round(width * scale)), max(1, round(height * scale))


def _colorspace(frame: VideoFrame) -> str | None:
    """Where the file does not say: BT.709 for HD sizes, BT.601 below (common practice, no source)."""
    if frame.colorspace != UNSPECIFIED:
        return SWSCALE_NAMES.get(int(frame.colorspace))
    is_sd = frame.width <= SD_WIDTH_MAX and frame.height <= SD_HEIGHT_MAX
    return "ITU601" if is_sd else "ITU709"


def _still(location: Location, long_side_px: int) -> tuple[Picture, ...]:
    try:
        with warnings.catch_warnings(), location.open("rb") as file, _opened(file) as image:
            size = _fitted(image.width, image.height, long_side_px)
            image.draft("RGB", size)
            rgb = _as_rgb(image).resize(size, Image.Resampling.LANCZOS, reducing_gap=2.0)
    except Exception:  # Pillow's readers raise almost any class on damaged data, SyntaxError among them
        return ()
    return (Picture(0.0, rgb.width, rgb.height, rgb.tobytes()),)


def _opened(file: BinaryIO) -> Image.Image:
    """Open a still. Pillow warns of large ones and refuses huge ones; the warning is not for our readers."""
    warnings.simplefilter("ignore", Image.DecompressionBombWarning)
    return Image.open(file)


def _as_rgb(image: Image.Image) -> Image.Image:
    """Eight bits of red, green and blue; what is transparent shows black, as on an empty screen."""
    if image.mode.startswith("I;16") or image.mode == "I":
        return image.convert("I").point(lambda value: value / 256).convert("L").convert("RGB")
    if image.has_transparency_data:
        seen = image.convert("RGBA")
        ground = Image.new("RGBA", seen.size, (0, 0, 0, 255))
        return Image.alpha_composite(ground, seen).convert("RGB")
    return image.convert("RGB")
