"""What the sound of the videos has taught.

It must not judge it: which videos may teach was decided before.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import get_args

from mediacheck.learn.evidence import Found, Sighting, as_it_is, choice, greatest, joined, shares, unsaid
from mediacheck.learn.model import Value
from mediacheck.learn.steps import sound_bit_rate
from mediacheck.media.facts import AudioFacts
from mediacheck.names import AudioCodec, AudioUse
from mediacheck.report.words import counted
from mediacheck.rules.streams import bit_rate

HZ_MIN, HZ_MAX = 8000, 192_000
CHANNELS_MAX = 64
NO_CODEC_LIMIT = "what the codecs are is no limit"

Track = tuple[Sighting, AudioFacts]


def sound_values(videos: Sequence[Sighting], cards: int) -> Iterator[Value]:
    """Whether videos have sound, and how it is packed. Every track of a file counts, as for the rules."""
    read = [(each, each.file.media) for each in videos if each.file.media is not None]
    tracks = [(each, track) for each, media in read for track in media.audio]
    yield from (found.at(("audio",), cards) for found in _use([each for each, _ in read]))
    for codecs in choice("codecs", [(each, track.codec) for each, track in tracks], get_args(AudioCodec)):
        codecs = _files_once(codecs)
        yield codecs.at(("audio",), cards)
        for codec in codecs.value if isinstance(codecs.value, tuple) else ():
            of_it = [(each, track) for each, track in tracks if track.codec == codec]
            for found in map(_files_once, _limits(of_it)):
                limit = found if codecs.is_limit else replace(found, open_because=NO_CODEC_LIMIT)
                yield limit.at(("audio", "codecs", str(codec)), cards)


def _files_once(found: Found) -> Found:
    """A file with several tracks is one file."""
    return replace(found, of=tuple(dict.fromkeys(found.of)))


def _use(videos: Sequence[Sighting]) -> Iterator[Found]:
    with_sound = sum(bool(each.file.media and each.file.media.audio) for each in videos)
    use: AudioUse = "required" if with_sound == len(videos) else "allowed" if with_sound else "none"
    if videos:
        remark = f"{counted(with_sound, 'file has', 'files have')} sound" if use == "allowed" else ""
        yield Found(
            "use", use, tuple(videos), remark or {"none": "none has sound"}.get(use, "all have sound")
        )


def _limits(tracks: Sequence[Track]) -> Iterator[Found]:
    yield from _sample_rates([(each, track.sample_rate) for each, track in tracks])
    channels = [(each, track.channels) for each, track in tracks]
    for found in greatest("channels_max", channels, as_it_is, str):
        possible = isinstance(found.value, int) and 1 <= found.value <= CHANNELS_MAX
        yield found if possible else replace(found, open_because="it is no number of channels")
    yield from greatest(
        "bit_rate_max", [(each, track.bit_rate) for each, track in tracks], sound_bit_rate, bit_rate
    )


def _sample_rates(pairs: Sequence[tuple[Sighting, int | None]]) -> Iterator[Found]:
    counts = Counter(rate for _, rate in pairs if rate is not None)
    rates = tuple(sorted(counts))
    if rates:
        yield Found(
            "sample_rates",
            rates,
            tuple(each for each, rate in pairs if rate is not None),
            shares([(f"{rate:,} Hz", counts[rate]) for rate in rates]),
            joined(
                unsaid(pairs),
                ""
                if HZ_MIN <= rates[0] <= rates[-1] <= HZ_MAX
                else "a rate was seen that no profile can name",
            ),
        )
