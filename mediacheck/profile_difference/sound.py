"""Sound: what the tracks of a video that fits A may have beyond B's limits.

It must not compare sets itself (`containment`) nor word sentences that a table holds (`wording`).
"""

from __future__ import annotations

from collections.abc import Iterator

from mediacheck.profile import Audio, Profile, SoundLimits
from mediacheck.profile_difference.accepted import may_be_without_sound, may_have_sound
from mediacheck.profile_difference.containment import Span, above, beyond, exact, outside, span
from mediacheck.profile_difference.model import Lack, Share
from mediacheck.profile_difference.severity import lets_pass
from mediacheck.profile_difference.video import videos_shown
from mediacheck.profile_difference.wording import Values, lack, name_of, said
from mediacheck.profile_text import value_text


def sound_lacks(a: Profile, b: Profile) -> Iterator[Lack]:
    """What sound lacks; nothing where no video of A is shown on B at all."""
    if not videos_shown(a, b):
        return
    yield from _use(a, b)
    if may_have_sound(a) and (b.audio.use != "none" or lets_pass(b, "audio-unwanted")):
        yield from _codecs(a, b)
        yield from _loudness(a, b)
        if share := above(span(None, a.audio.true_peak_dbtp_max), span(None, b.audio.true_peak_dbtp_max)):
            yield _most(a, b.audio, "audio", "true_peak_dbtp_max", a.audio, share)


def _use(a: Profile, b: Profile) -> Iterator[Lack]:
    sounding, silent = may_have_sound(a), may_be_without_sound(a)
    if b.audio.use == "none" and sounding:
        every, has = not silent, "sound"
        so = "is meant to be silent, so the sound plays into the store or the player stops at the file"
    elif b.audio.use == "required" and silent:
        every, has = not sounding, "no sound"
        so = "is meant to have some, so it falls silent while such a file plays"
    else:
        return
    head = f"Every video for {name_of(a)} has" if every else f"A video for {name_of(a)} may have"
    message = f"{head} {has}; this display {so}."
    yield said("audio.use", "every" if every else "some", a.audio.use, b.audio.use, message)


def _codecs(a: Profile, b: Profile) -> Iterator[Lack]:
    taken, known = a.audio.codecs, b.audio.codecs
    if known is None:
        return
    names, theirs = None if taken is None else tuple(taken), tuple(known)
    if share := outside(names, theirs):
        extra = None if names is None else value_text("codecs", tuple(n for n in names if n not in theirs))
        values = Values(value_text("codecs", names), value_text("codecs", theirs), extra)
        yield lack(a, "audio.codecs", share, values, None if theirs else "unpacks no sound")
    for codec, limits in known.items():
        if taken is None or lets_pass(a, "audio-codec") or codec in taken:
            yield from _of_codec(a, codec, (taken or {}).get(codec, SoundLimits()), limits)


def _of_codec(a: Profile, codec: str, left: SoundLimits, right: SoundLimits) -> Iterator[Lack]:
    section, rates = f"audio.codecs.{codec}", (left.sample_rates, right.sample_rates)
    if share := outside(*rates):
        extra = None if rates[0] is None else tuple(rate for rate in rates[0] if rate not in (rates[1] or ()))
        texts = [value_text("sample_rates", value) for value in (*rates, extra)]
        values = Values(texts[0], texts[1], None if extra is None else texts[2], f" with {codec} sound")
        yield lack(a, f"{section}.sample_rates", share, values)
    for key in ("channels_max", "bit_rate_max"):
        if share := above(span(None, getattr(left, key)), span(None, getattr(right, key))):
            yield _most(a, right, section, key, left, share, f" with {codec} sound")


def _most(
    a: Profile,
    right: Audio | SoundLimits,
    section: str,
    key: str,
    left: Audio | SoundLimits,
    share: Share,
    kind: str = "",
) -> Lack:
    texts = [value_text(key, getattr(limits, key)) for limits in (left, right)]
    has = None if getattr(left, key) is None else texts[0]
    return lack(a, f"{section}.{key}", share, Values(texts[0], texts[1], has, kind))


def _loudness(a: Profile, b: Profile) -> Iterator[Lack]:
    if share := beyond(_window(a.audio), _window(b.audio)):
        same = a.audio.loudness_lufs == b.audio.loudness_lufs
        key = "audio.loudness_tolerance_lu" if same else "audio.loudness_lufs"
        texts = _window_text(a.audio), _window_text(b.audio)
        yield lack(a, key, share, Values(*texts, None if a.audio.loudness_lufs is None else texts[0]))


def _window(audio: Audio) -> Span:
    middle, off = exact(audio.loudness_lufs), exact(audio.loudness_tolerance_lu)
    return Span() if middle is None or off is None else Span(middle - off, middle + off)


def _window_text(audio: Audio) -> str:
    text = value_text("loudness_lufs", audio.loudness_lufs)
    if audio.loudness_lufs is None:
        return text
    return f"{text} (give or take {value_text('loudness_tolerance_lu', audio.loudness_tolerance_lu)})"
