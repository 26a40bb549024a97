"""What the decode of a file showed, or the answer of every rule about it where there is nothing to judge.

It must not judge: these are the questions that several rules ask of the measurements.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from mediacheck.loop import File
from mediacheck.measure.fingerprint_format import telling
from mediacheck.measure.model import Leader, Measurements, NotMeasured, Sound, Span
from mediacheck.profile import Profile
from mediacheck.rules.model import NOT_APPLICABLE, Answer, NotApplicable, NotChecked
from mediacheck.rules.streams import UNREAD, UNREAD_SOUND
from mediacheck.rules.wording import number

QUICK = NotChecked("only the headers were read; the picture is looked at in a full check", expected=True)
QUICK_SOUND = NotChecked("only the headers were read; the sound is heard in a full check", expected=True)
NO_FRAME = NotChecked("no frame of it could be decoded, so there was nothing to look at", expected=False)
SOUND_ALONE = NotChecked("it holds no picture, so it was not decoded", expected=False)

EDGE_S = 0.25
"""So near to the first or the last picture, a stretch stands at the start or at the end (common practice, no
source)."""


def untold(what: str) -> NotChecked:
    """The answer where a decode did not bring what the rule needs: `untold("whether it is ever black")`."""
    return NotChecked(f"the file was decoded, but that did not tell {what}", expected=False)


def decoded(file: File) -> Measurements | NotApplicable | NotChecked:
    """What the pictures showed. A file without a picture, or of which none was decoded, showed nothing."""
    if file.media is None:
        return UNREAD
    if file.media.video is None:
        return NOT_APPLICABLE
    measured = _ended(file, QUICK)
    return NO_FRAME if isinstance(measured, Measurements) and measured.frames == 0 else measured


def heard(file: File, profile: Profile) -> Sound | NotApplicable | NotChecked:
    """What the first sound track showed. No sound, or sound that is not wanted, leaves nothing to judge."""
    if profile.audio.use == "none":
        return NOT_APPLICABLE
    if file.media is None:
        return UNREAD_SOUND
    if not file.media.audio:
        return NOT_APPLICABLE
    measured = _ended(file, QUICK_SOUND if file.media.video else SOUND_ALONE)
    if isinstance(measured, NotChecked):
        return measured
    sound = measured.sound
    if sound is None or not sound.channel_peaks_dbfs or not sound.seconds:
        return untold("anything about its sound")
    return sound


def _ended(file: File, otherwise: NotChecked) -> Measurements | NotChecked:
    measured = file.measurements
    if isinstance(measured, NotMeasured):
        return NotChecked(measured.reason, measured.expected)
    return otherwise if measured is None else measured


def together(answers: Iterable[Answer]) -> Answer:
    """One answer to several questions: a defect outweighs what was not checked, and that outweighs a pass."""
    given = tuple(answers)
    judged = [answer for answer in given if isinstance(answer, tuple)]
    defects = tuple(defect for answer in judged for defect in answer)
    unchecked = [answer for answer in given if isinstance(answer, NotChecked)]
    if defects or (judged and not unchecked):
        return defects
    return unchecked[0] if unchecked else NOT_APPLICABLE


def telling_print(file: File) -> bytes | None:
    """The fingerprint by which a video is known again; None where there is none that could tell it."""
    measured = file.measurements
    if file.kind != "video" or not isinstance(measured, Measurements) or not measured.fingerprint:
        return None
    found = bytes.fromhex(measured.fingerprint)
    return found if telling(found) else None


def length_s(span: Span | Leader) -> float:
    """How long a stretch is, in seconds, as exactly as it is shown."""
    return round(span.end_s - span.start_s, 2)


def at_start(span: Span | Leader) -> bool:
    """Whether a stretch begins with the clip."""
    return span.start_s <= EDGE_S


def at_end(span: Span | Leader, clip_s: float) -> bool:
    """Whether a stretch ends with the clip, which is `clip_s` seconds long."""
    return span.end_s >= clip_s - EDGE_S


def head_and_tail_s(spans: Sequence[Span], clip_s: float) -> tuple[float, float]:
    """How long the stretches at the start and at the end are, in seconds; 0 where there is none."""
    head = max((span.end_s for span in spans if at_start(span)), default=0.0)
    tail = max((clip_s - span.start_s for span in spans if at_end(span, clip_s)), default=0.0)
    return head, tail


def from_to(span: Span | Leader) -> str:
    """Where a stretch lies: "from 4.0 s to 7.5 s", "at 4.0 s"."""
    start, end = f"{span.start_s:.1f} s", f"{span.end_s:.1f} s"
    return f"at {start}" if start == end else f"from {start} to {end}"


def seconds(value: float) -> str:
    """A length: "2.5 s"."""
    return f"{number(value)} s"
