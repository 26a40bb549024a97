"""Rules about what the picture really shows, judged from the measurements of one whole decode.

It must not open files: everything it reads was found out before.
"""

from __future__ import annotations

from mediacheck.measure.model import Measurements, NotMeasured
from mediacheck.media.facts import VideoFacts
from mediacheck.rules.model import COMMON_PRACTICE, PASSED, Answer, NotChecked, One, rule, seen
from mediacheck.rules.streams import picture
from mediacheck.rules.wording import listed

QUICK = NotChecked("only the headers were read; the picture is looked at in a full check", expected=True)

FRAMES_SHORT = 0.01
"""Share of the frames that may stay away without a word: the ends of a cut (common practice, no source)."""
FRAMES_SHORT_MIN = 2


@rule("picture-damaged", severity="fail", scope="video", depth="full", source=COMMON_PRACTICE)
def picture_damaged(one: One) -> Answer:
    """Parts of the picture cannot be decoded: blocks, smears or a black or frozen screen appear there.

    Frames that stay away without any complaint of the decoder are no proof of damage, since an edit list
    may hide them, and no proof of health either: beyond two frames and one in a hundred the answer is
    "not checked".
    """
    video, measured = picture(one), one.file.measurements
    if not isinstance(video, VideoFacts):
        return video
    if measured is None:
        return QUICK
    if isinstance(measured, NotMeasured):
        return NotChecked(measured.reason, measured.expected)
    if measured.frames == 0:
        return _nothing()
    if measured.decode_error_count > 0:
        return _errors(measured)
    return _silent_gap(video, measured.frames)


def _nothing() -> Answer:
    return seen(
        "no frame could be decoded",
        "every frame decodes",
        "Not one frame of the picture can be decoded: the screen stays black, or the player skips the file.",
        "Ask for the file again, or encode it again from its master.",
    )


def _errors(measured: Measurements) -> Answer:
    count = measured.decode_error_count
    seconds = sorted({round(e.second, 1) for e in measured.decode_errors if e.second is not None})
    places = f" at {listed([f'{second:.1f} s' for second in seconds])}" if seconds else ""
    times = "1 decoding error" if count == 1 else f"{count:,} decoding errors"
    return seen(
        f"{times}{places}",
        "every frame decodes",
        f"The picture is damaged ({times}{places}): the screen shows blocks, smears or a frozen picture.",
        "Copy the file again from its source; if that does not help, encode it again from its master.",
    )


def _silent_gap(video: VideoFacts, frames: int) -> Answer:
    """Two packets may make one frame where the picture is coded in fields, or might be."""
    if video.packets is None:
        return PASSED
    count = video.packets.count if video.scan == "progressive" else video.packets.count // 2
    if count - frames <= max(FRAMES_SHORT_MIN, FRAMES_SHORT * count):
        return PASSED
    return NotChecked(
        f"the file lists {count:,} frames and {frames:,} came out of the decoder, which did not say why",
        expected=False,
    )
