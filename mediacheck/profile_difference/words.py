"""How every key is put into a sentence: a table of words.

It must not build sentences: that is for `wording`.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import NamedTuple


class Words(NamedTuple):
    """How one key is put into a sentence; `{}` stands for a value with its unit."""

    thing: str
    """What has it, such as "video"."""
    has: str
    """What it has of A's value, or of those values that B does not take."""
    has_any: str
    """The same where A does not restrict it."""
    takes: str
    """What this player takes: "takes {} at most"; else who wants what: "this loop is to have {}"."""
    so: str
    """What then shows."""


KEYFRAMES = "keyframes (whole pictures to start from)"
NO_CARD = "it finds no files and the screen stays black"
MAYBE_NO_CARD = "it may find no files and the screen may stay black"
SKIPS = "it skips such a file"
SKIPS_NAME = "it may skip such a file"
WORDS: Mapping[str, Words] = MappingProxyType(
    {
        "card.file_systems": Words("card", "the file system {}", "any file system", "reads only {}", NO_CARD),
        "card.partition_tables": Words(
            "card", "the partition table {}", "any partition table", "reads only {}", NO_CARD
        ),
        "card.capacity_max_gb": Words("card", "{}", "any size", "takes {} at most", MAYBE_NO_CARD),
        "card.cluster_bytes_max": Words(
            "card",
            "clusters (the pieces in which space is given out) of {}",
            "clusters (the pieces in which space is given out) of any size",
            "takes {} at most",
            MAYBE_NO_CARD,
        ),
        "card.free_percent_min": Words(
            "card", "as little as {} free", "no space free", "needs {} free", "it may stop in the loop"
        ),
        "layout.name_length_max": Words(
            "file", "a name of {}", "a name of any length", "takes {} at most", SKIPS_NAME
        ),
        "video.containers": Words("video", "the container {}", "any container", "opens only {}", SKIPS),
        "video.codecs": Words(
            "video", "the codec {}", "any codec", "unpacks only {}", f"{SKIPS} or shows black"
        ),
        "video.profiles": Words(
            "video",
            "the coding profile {}",
            "any coding profile",
            "knows only {}",
            f"{SKIPS} or shows a torn picture",
        ),
        "video.level_max": Words(
            "video", "level {}", "any level", "takes level {} at most", "such a file may not play"
        ),
        "video.width": Words(
            "video",
            "a picture {} wide",
            "a picture of any width",
            "takes {}",
            f"{SKIPS} or shows it small, cut off or stretched",
        ),
        "video.height": Words(
            "video",
            "a picture {} high",
            "a picture of any height",
            "takes {}",
            f"{SKIPS} or shows it small, cut off or stretched",
        ),
        "video.frame_rates": Words(
            "video", "{}", "any frame rate", "takes only {}", f"{SKIPS} or movement judders"
        ),
        "video.bit_rate_max": Words(
            "video", "a bit rate of {}", "any bit rate", "takes {} at most", f"it stutters or {SKIPS[3:]}"
        ),
        "video.bit_rate_peak_max": Words(
            "video",
            "peaks of {}",
            "peaks of any height",
            "takes {} at most",
            "the picture stutters at busy places",
        ),
        "player.read_mbit_s": Words(
            "video", "peaks of {}", "peaks of any height", "reads {}", "the picture stutters at busy places"
        ),
        "player.buffer_seconds": Words(
            "video",
            "busy places that last {}",
            "busy places of any length",
            "reads ahead for {} only",
            "the picture may stutter there",
        ),
        "video.bit_depths": Words(
            "video",
            "{} for each colour",
            "any number of bits for each colour",
            "takes only {}",
            f"{SKIPS} or shows a torn picture",
        ),
        "video.chroma": Words(
            "video",
            "the chroma {} (how finely colour is stored)",
            "any chroma (how finely colour is stored)",
            "takes only {}",
            f"{SKIPS} or shows wrong colours",
        ),
        "video.scan": Words(
            "video",
            "a picture that is {}",
            "a picture that is progressive or interlaced",
            "takes only {}",
            f"{SKIPS} or edges that move look like combs",
        ),
        "video.gop_seconds_max": Words(
            "video",
            f"{KEYFRAMES} {{}} apart",
            f"{KEYFRAMES} any time apart",
            "wants one every {}",
            "a fault stays on the screen for longer",
        ),
        "audio.codecs": Words(
            "video with sound",
            "sound in {}",
            "sound in any codec",
            "unpacks only {}",
            f"{SKIPS} or is silent",
        ),
        "audio.sample_rates": Words(
            "video",
            "sound at {}",
            "sound at any sample rate",
            "takes only {}",
            "it plays silent, too fast or too slow",
        ),
        "audio.channels_max": Words(
            "video",
            "sound of {} channels",
            "sound of any number of channels",
            "takes {} at most",
            "it plays silent or parts of the sound are missing",
        ),
        "audio.bit_rate_max": Words(
            "video",
            "sound of {}",
            "sound of any bit rate",
            "takes {} at most",
            f"the sound drops out or {SKIPS}",
        ),
        "audio.loudness_lufs": Words(
            "video with sound",
            "a loudness of {}",
            "any loudness",
            "sound for this display is to have {}",
            "it is too loud or too quiet in the store",
        ),
        "audio.true_peak_dbtp_max": Words(
            "video with sound",
            "peaks of {}",
            "peaks of any height",
            "takes {} at most",
            "loud moments may crackle",
        ),
        "stills.formats": Words(
            "still", "the format {}", "any format", "shows only {}", "it skips such a still"
        ),
        "stills.width_max": Words(
            "still",
            "{} across",
            "any number of pixels across",
            "takes {} at most",
            "it appears late or the screen stays blank",
        ),
        "stills.height_max": Words(
            "still",
            "{} down",
            "any number of pixels down",
            "takes {} at most",
            "it appears late or the screen stays blank",
        ),
        "loop.items_min": Words(
            "loop", "{}", "one item", "this loop is to have {} at least", "a part is missing"
        ),
        "loop.items_max": Words(
            "loop", "{}", "any number of items", "takes {} at most", "it leaves out the rest or stops"
        ),
        "loop.seconds_min": Words(
            "loop",
            "a round of {}",
            "a round of any length",
            "this loop is to have {} at least",
            "it repeats itself too soon",
        ),
        "loop.seconds_max": Words(
            "loop",
            "a round of {}",
            "a round of any length",
            "this loop is to have {} at most",
            "people in front of the screen see each item too seldom",
        ),
        "loop.black_seconds_max": Words(
            "loop",
            "{} of black picture",
            "black picture of any length",
            "this loop is to have {} at most",
            "the screen looks switched off",
        ),
        "loop.frozen_seconds_max": Words(
            "video",
            "a picture that stands still for {}",
            "a picture that stands still for any time",
            "this display is to have {} at most",
            "it seems to hang",
        ),
    }
)
ALIKE = {
    "video.width_max": "video.width",
    "video.height_max": "video.height",
    "audio.loudness_tolerance_lu": "audio.loudness_lufs",
}
"""Keys of which the same is said as of another."""
