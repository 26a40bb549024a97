"""What sound, stills, the loop, file names and the card have to be, in the words of those who make them.

It must not judge or draw.
"""

from __future__ import annotations

from collections.abc import Iterator

from mediacheck.card.limits import GREATEST_FILE_BYTES
from mediacheck.encoding.naming import example_name
from mediacheck.explain.model import Row
from mediacheck.explain.picture import FREE
from mediacheck.names import AudioCodec
from mediacheck.profile import Audio, Layout, Loop, Profile, SoundLimits, Stills
from mediacheck.profile_text import value_text

USE = {
    "none": "None. This display is silent: deliver files without a sound track.",
    "allowed": "Allowed, not needed.",
    "required": "Every video has a sound track.",
}
BASELINE = " (baseline, not progressive)"
FEW_GIB = 2**40


def sound_rows(audio: Audio) -> Iterator[Row]:
    """Sound of videos."""
    yield Row("Sound", USE[audio.use])
    if audio.use == "none":
        return
    if audio.codecs is None:
        yield Row("Codec", FREE)
    for codec, limits in (audio.codecs or {}).items():
        yield Row(codec, _sound(codec, limits))
    if audio.loudness_lufs is not None:
        tolerance = value_text("_lu", audio.loudness_tolerance_lu)
        yield Row(
            "Loudness", f"{value_text('_lufs', audio.loudness_lufs)}, give or take {tolerance} (EBU R 128)"
        )
    if audio.true_peak_dbtp_max is not None:
        yield Row("True peak", f"at most {value_text('dbtp_max', audio.true_peak_dbtp_max)}")
    yield Row("Length", "as long as the picture, to within half a second")


def _sound(codec: AudioCodec, limits: SoundLimits) -> str:
    told = []
    if limits.sample_rates:
        told.append(" or ".join(f"{rate:,}" for rate in limits.sample_rates) + " Hz")
    if limits.channels_max is not None:
        told.append(f"up to {limits.channels_max} {'channel' if limits.channels_max == 1 else 'channels'}")
    if limits.bit_rate_max is not None:
        told.append(f"up to {value_text('bit_rate_max', limits.bit_rate_max)}")
    return ", ".join(told) or FREE


def still_rows(stills: Stills) -> Iterator[Row]:
    """Still pictures."""
    if stills.formats == ():
        yield Row("Stills", "None: this player shows no still pictures. Deliver a video of the picture.")
        return
    named = [f"{name}{BASELINE if name == 'JPEG' else ''}" for name in stills.formats or ()]
    yield Row("Format", " or ".join(named) or f"{FREE}; JPEG only as baseline, not progressive")
    sides = [
        f"{value_text(f'{side}_max', most)} {word}"
        for side, word in (("width", "wide"), ("height", "high"))
        if (most := getattr(stills, f"{side}_max")) is not None
    ]
    yield Row("Size", f"at most {' and '.join(sides)}" if sides else FREE)
    yield Row("Colour", "RGB (sRGB), 8 bits for each colour; no CMYK")
    yield Row("Upright", "in its pixels, not by a turning mark (EXIF orientation)")
    shown = FREE if stills.seconds is None else f"{value_text('seconds', stills.seconds)}, set in the player"
    yield Row("Shown for", shown)


def loop_rows(loop: Loop) -> Iterator[Row]:
    """The whole that goes round."""
    yield Row("Items in the loop", _between(loop.items_min, loop.items_max, ""))
    yield Row("Length of one round", _between(loop.seconds_min, loop.seconds_max, " s"))
    yield Row(
        "End and beginning",
        "the end runs into the beginning without a jump" if loop.seamless else f"{FREE}: a cut is fine",
    )
    yield Row("Black picture", _at_most(loop.black_seconds_max))
    yield Row("Picture that stands still", _at_most(loop.frozen_seconds_max))


def _between(low: float | None, high: float | None, unit: str) -> str:
    least = f"at least {low:g}{unit}" if low else ""
    most = f"at most {high:g}{unit}" if high is not None else ""
    return " and ".join(filter(None, (least, most))) or FREE


def _at_most(seconds: float | None) -> str:
    return FREE if seconds is None else f"at most {value_text('seconds', seconds)} on end"


def name_rows(profile: Profile) -> Iterator[Row]:
    """What files may be called."""
    layout = profile.layout
    if layout.ascii_only:
        letters = "only the letters of plain English, digits, - and _; no accents, better no spaces"
    else:
        letters = f'{FREE}, but none of < > : " / \\ | ? *'
    yield Row("Characters", letters)
    longest = value_text("name_length_max", layout.name_length_max)
    yield Row("Length", FREE if layout.name_length_max is None else f"at most {longest}, with the ending")
    if layout.name_pattern is not None:
        yield Row("Pattern", f"the whole name matches the regular expression {layout.name_pattern}")
    yield Row("Example", _example(layout))
    if profile.player.order == "name":
        yield Row("Order", "The player goes by the names: number them (01-, 02-, ...) in the order wanted.")
    else:
        yield Row("Order", "Number the names (01-, 02-, ...) in the order wanted: the card is filled in it.")


def _example(layout: Layout) -> str:
    return example_name(layout, ".mp4") or "ask for one: the pattern leaves none of the usual names"


def card_rows(profile: Profile) -> Iterator[Row]:
    """The card itself, which is not the agency's work."""
    yield Row("You deliver", "Files. The card is filled by those who look after the display.")
    kinds = profile.card.file_systems
    if kinds:
        yield Row("File system", ", ".join(kinds))
    known = [most for kind in kinds or () if (most := GREATEST_FILE_BYTES.get(kind)) is not None]
    if known and max(known) < FEW_GIB:
        yield Row(
            "One file", f"less than 4 GiB (at most {max(known):,} bytes): the file system holds none larger"
        )
    if profile.card.capacity_max_gb is not None:
        capacity = value_text("_gb", profile.card.capacity_max_gb)
        yield Row("Whole card", f"at most {capacity}, for all items together")
