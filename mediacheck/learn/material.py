"""What the pictures and the sound of the cards were like, for a person to know: none of it limits a player.

It must not set a limit: black, standstill and loudness are matters of the material.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import ceil

from mediacheck.learn.evidence import Sighting, joined, seen_in
from mediacheck.learn.model import Key, Plain, Value
from mediacheck.learn.steps import tenth_seconds
from mediacheck.measure.model import Measurements, Sound, Span
from mediacheck.rules.measured import length_s

OF_THE_MATERIAL = "a matter of the material and not of the player, so too little for a limit"
ALIKE_LU = 1.0
"""Items whose loudness is this near to each other were brought to one loudness (EBU R 128 allows as much)."""
PEAK_MIN, PEAK_MAX = -40.0, 3.0
"""What a profile can state, in dBTP."""


def sound_remarks(videos: Sequence[Sighting], cards: int) -> Iterator[Value]:
    """How loud the items are, where they are alike, and their greatest peak."""
    heard = [(each, found.sound) for each, found in _measured(videos) if found.sound is not None]
    yield from _loudness([(each, sound) for each, sound in heard if sound.loudness_lufs is not None], cards)
    peaks = [(each, sound.true_peak_dbtp) for each, sound in heard if sound.true_peak_dbtp is not None]
    if peaks:
        most = ceil(max(peak for _, peak in peaks) * 10) / 10
        if PEAK_MIN <= most <= PEAK_MAX:
            yield _remark(
                ("audio", "true_peak_dbtp_max"), most, [each for each, _ in peaks], cards, "the greatest"
            )


def _loudness(heard: Sequence[tuple[Sighting, Sound]], cards: int) -> Iterator[Value]:
    levels = sorted(sound.loudness_lufs for _, sound in heard if sound.loudness_lufs is not None)
    if levels and levels[-1] - levels[0] <= 2 * ALIKE_LU and -70 <= levels[0] <= levels[-1] <= 0:
        middle = round((levels[0] + levels[-1]) / 2, 1)
        yield _remark(("audio", "loudness_lufs"), middle, [each for each, _ in heard], cards, "all alike")


def loop_remarks(videos: Sequence[Sighting], cards: int) -> Iterator[Value]:
    """The longest black and the longest standstill."""
    measured = list(_measured(videos))
    black = [(each, found.black) for each, found in measured if found.black is not None]
    frozen = [(each, found.frozen) for each, found in measured if found.frozen is not None]
    for key, spans in (("black_seconds_max", black), ("frozen_seconds_max", frozen)):
        if spans:
            of = [each for each, _ in spans]
            yield _remark(("loop", key), _longest([span for _, found in spans for span in found]), of, cards)


def _longest(spans: Sequence[Span]) -> float:
    return tenth_seconds(max(map(length_s, spans), default=0.0))


def _measured(videos: Sequence[Sighting]) -> Iterator[tuple[Sighting, Measurements]]:
    for each in videos:
        if isinstance(each.file.measurements, Measurements):
            yield each, each.file.measurements


def _remark(key: Key, value: Plain, of: Sequence[Sighting], cards: int, how: str = "the longest") -> Value:
    return Value(key, value, joined(seen_in(of, cards), how, OF_THE_MATERIAL), is_limit=False)
