"""The least limit that allows all that either of two limits allows, key by key.

It must not know where limits are written.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import takewhile
from typing import get_args

from mediacheck.learn.model import Key, Plain
from mediacheck.media.levels import level_order
from mediacheck.names import (
    PROFILES,
    Chroma,
    Container,
    FileSystem,
    PartitionTable,
    StillFormat,
)
from mediacheck.profile import LIGHTEST_FIRST
from mediacheck.profile_values import parse_level, parse_rate

LISTS = (
    "file_systems", "partition_tables", "other_files", "required_files", "containers", "codecs", "profiles",
    "frame_rates", "bit_depths", "chroma", "sample_rates", "formats",
)  # fmt: skip
ORDERS: dict[str, tuple[str, ...]] = {
    "file_systems": get_args(FileSystem),
    "partition_tables": get_args(PartitionTable),
    "containers": get_args(Container),
    "chroma": get_args(Chroma),
    "formats": get_args(StillFormat),
}
SIDES = ("width", "height")
ONLY_IF_BOTH = ("ascii_only", "seamless")
ANY_DIFFERENCE = ("scan", "name_pattern", "label_pattern", "loudness_lufs")
"""Limits for which no value covers two that differ."""


def is_limit(key: Key) -> bool:
    """Whether a key limits anything; else it describes the player or the profile itself."""
    return len(key) > 1 and key[0] not in ("screen", "player") and key != ("stills", "seconds")


def wider(key: Key, old: Plain, new: Plain, codec: str = "") -> Plain | None:
    """The least value of the key that allows what `old` and what `new` allow; None: no value does.

    `codec` is the one that a level or profile belongs to, where the key does not name it.
    """
    name = key[-1]
    if key[0] == "rules":
        return next(setting for setting in LIGHTEST_FIRST if setting in (old, new))
    if name in LISTS:
        return _either(key, as_list(old), as_list(new), codec or codec_of(key))
    if name == "level_max":
        return _higher_level(codec or codec_of(key), parse_level(old), parse_level(new))
    if name == "media_folder":
        return _above_both(old, new)
    if name in ANY_DIFFERENCE:
        return old if old == new else None
    return _other(name, old, new)


def _other(name: str, old: Plain, new: Plain) -> Plain | None:
    if name == "use":
        return old if old == new else "allowed"
    if isinstance(old, bool) and isinstance(new, bool):
        return (old and new) if name in ONLY_IF_BOTH else (old or new)
    if isinstance(old, int | float) and isinstance(new, int | float):
        least = name.endswith("_min")
        return new if (new < old if least else new > old) else old
    return old if old == new else None


def subject(key: Key) -> str:
    """What a limit is about: an exact size and a greatest one take each other's place."""
    side = key[-1].removesuffix("_max")
    return side if side in SIDES else key[-1]


def rivals(key: Key) -> tuple[Key, ...]:
    """The keys that can stand for this one at its place: a size may be limited exactly or at most."""
    side = subject(key)
    if side in SIDES and key[0] == "video":
        return (*key[:-1], side), (*key[:-1], f"{side}_max")
    return (key,)


def codec_of(key: Key) -> str:
    """The codec that a key stands under, or ""."""
    return key[2] if len(key) > 2 and key[1] == "codecs" else ""


def as_list(value: Plain) -> tuple[Plain, ...]:
    """A list; one value alone is a list of one, as in a profile."""
    return value if isinstance(value, tuple) else (value,)


def _either(key: Key, old: tuple[Plain, ...], new: tuple[Plain, ...], codec: str) -> tuple[Plain, ...]:
    if key[-1] == "required_files":  # the fewer are required, the more cards have them
        return tuple(one for one in old if one in new)
    added = [one for one in new if _same(key, one) not in {_same(key, other) for other in old}]
    return _in_order(key, (*old, *added), codec) if added else old


def _same(key: Key, entry: Plain) -> object:
    """Entries that mean the same are the same: 29.97 and 30000/1001, and names of profiles in any case."""
    if key[-1] == "frame_rates":
        return parse_rate(entry)
    return entry.casefold() if key[-1] == "profiles" and isinstance(entry, str) else entry


def _in_order(key: Key, entries: tuple[Plain, ...], codec: str) -> tuple[Plain, ...]:
    """Numbers rise, names stand as in the standard or in our lists; what is in no list stays behind."""
    name = key[-1]
    if name == "frame_rates":
        return tuple(sorted(entries, key=parse_rate))
    if all(isinstance(entry, int | float) for entry in entries):
        return tuple(sorted(entries))
    order: Sequence[Plain] = PROFILES.get(codec, ()) if name == "profiles" else ORDERS.get(name, ())
    return tuple(sorted(entries, key=lambda one: order.index(one) if one in order else len(order)))


def as_folder(value: Plain) -> tuple[str, ...]:
    """The folders that lead to this one, "/" none; case is ignored, as FAT and exFAT do."""
    return tuple(part.casefold() for part in str(value).split("/") if part)


def _above_both(old: Plain, new: Plain) -> Plain:
    """The deepest folder above both folders, which may be one of them."""
    both = zip(as_folder(old), as_folder(new), strict=False)
    shared = len(list(takewhile(lambda pair: pair[0] == pair[1], both)))
    if shared == len(as_folder(old)):
        return old
    return "/" + "/".join([part for part in str(old).split("/") if part][:shared])


def _higher_level(codec: str, old: str, new: str) -> str | None:
    if old == new:
        return old
    low, high = level_order(codec, old), level_order(codec, new)
    if low is None or high is None:
        return None
    return new if high > low else old
