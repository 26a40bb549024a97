"""Every fact of files that a comparison looks at, in the order of the catalogue of rules.

It must not compare: each fact only says how it is read, worded and weighed.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from mediacheck.compare.fact import ENCODE_AGAIN, Fact, Value, plain
from mediacheck.compare.picture_facts import PICTURE_FACTS
from mediacheck.compare.sound_facts import SOUND_FACTS
from mediacheck.compare.still_facts import STILL_FACTS
from mediacheck.loop import File
from mediacheck.media.facts import ContainerFacts
from mediacheck.report.words import length_words

NOTABLE_LENGTH_S = 0.5
"""As far apart as sound and picture of an item may end by the rule loop-audio-length."""


def _box(read: Callable[[ContainerFacts], Any]) -> Callable[[File], Value]:
    return lambda file: read(file.media.container) if file.media and file.media.container else None


def _same_container(good: File, bad: File) -> bool:
    read = _box(lambda box: box.name)
    return read(good) is not None and read(good) == read(bad)


FACTS: tuple[Fact, ...] = (
    Fact(
        "the kind of file",
        "item",
        None,
        lambda file: file.kind,
        "it is of the kind {}",
        "the player may not show it, or show something else",
        "Make sure that this is the right file, and copy it again.",
        words=lambda kind: {"video": "video", "still": "still picture", "audio": "sound"}.get(kind, "other"),
    ),
    Fact(
        "the container",
        "container",
        "container-format",
        _box(lambda box: box.name),
        "its container (the wrapping of picture and sound) is {}",
        "a player that cannot open such a file skips it or shows black",
        ENCODE_AGAIN,
    ),
    Fact(
        "the place of the index",
        "container",
        "container-index",
        _box(lambda box: box.index),
        "its index (the list of where each picture is) is {}",
        "simple players start it late, or do not start it",
        "Write the file again with its index first.",
        words=lambda place: {"first": "at the start", "last": "at the end", "missing": "missing"}[place],
        gentler=plain("first"),
        comparable=_same_container,
    ),
    Fact(
        "fragments",
        "container",
        "container-fragmented",
        _box(lambda box: box.fragmented),
        "it is stored {}",
        "many simple players skip files made in pieces for streaming",
        "Write the file again as one whole.",
        words=lambda pieces: "in pieces (fragmented)" if pieces else "as one whole",
        gentler=plain(False),
        comparable=_same_container,
    ),
    *PICTURE_FACTS,
    *SOUND_FACTS,
    *STILL_FACTS,
    Fact(
        "the length",
        "loop",
        "loop-length",
        lambda file: file.media.duration if file.media else None,
        "it lasts {}",
        "the loop takes another time to come round, or ends too soon",
        "Make sure that this is the right version of the file.",
        words=length_words,
        differs=lambda good, bad: abs(good - bad) > NOTABLE_LENGTH_S,
    ),
)
