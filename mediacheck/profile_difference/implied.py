"""What a codec's profile settles without a word of the profile file: bits, chroma, whole or half pictures.

It must not know any file: these are the constraints that the codecs' standards set. All of them are written
from memory of the clause that is named; the tables of levels are read elsewhere.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from types import MappingProxyType
from typing import NamedTuple, TypeVar

from mediacheck.names import PROFILES, Chroma, Scan
from mediacheck.rules.video import PROFILE_FAMILY

T = TypeVar("T")


class Tools(NamedTuple):
    """What streams of one profile may use. An empty set: the standard does not narrow it here."""

    depths: frozenset[int] = frozenset()
    """Of 8, 10 and 12, which are all that a profile file can name: odd depths are not made (common
    practice)."""
    chroma: frozenset[Chroma] = frozenset()
    scans: frozenset[Scan] = frozenset()


ANY = Tools()
EIGHT, TO_TEN = frozenset({8}), frozenset({8, 10})
USUAL: frozenset[Chroma] = frozenset({"4:2:0"})
GREY_TOO: frozenset[Chroma] = frozenset({"4:0:0", "4:2:0"})
TO_422: frozenset[Chroma] = frozenset({"4:0:0", "4:2:0", "4:2:2"})
WHOLE: frozenset[Scan] = frozenset({"progressive"})

TOOLS: Mapping[str, Mapping[str, Tools]] = MappingProxyType(
    {
        # ITU-T H.264: the header of these has no chroma_format_idc, so it is 4:2:0 (7.4.2.1.1); Baseline has
        # frame_mbs_only_flag = 1 (A.2.1), High has chroma_format_idc 0 or 1 (A.2.4), its progressive kin
        # frame_mbs_only_flag = 1 (A.2.4.1, A.2.4.2), High 10 bit_depth up to 10 (A.2.5), 4:2:2 (A.2.6).
        "H.264": {
            "constrained baseline": Tools(EIGHT, USUAL, WHOLE),
            "baseline": Tools(EIGHT, USUAL, WHOLE),
            "extended": Tools(EIGHT, USUAL),
            "main": Tools(EIGHT, USUAL),
            "high": Tools(EIGHT, GREY_TOO),
            "progressive high": Tools(EIGHT, GREY_TOO, WHOLE),
            "constrained high": Tools(EIGHT, GREY_TOO, WHOLE),
            "high 10": Tools(TO_TEN, GREY_TOO),
            "high 10 intra": Tools(TO_TEN, GREY_TOO),
            "high 4:2:2": Tools(TO_TEN, TO_422),
            "high 4:2:2 intra": Tools(TO_TEN, TO_422),
        },
        # ITU-T H.265: chroma_format_idc = 1 and bit depths of A.3.2, A.3.3, A.3.4.
        "H.265": {
            "main": Tools(EIGHT, USUAL),
            "main 10": Tools(TO_TEN, USUAL),
            "main still picture": Tools(EIGHT, USUAL),
        },
        # ISO/IEC 14496-2 clause 9: 8 bits and 4:2:0; Simple has no tools for half pictures.
        "MPEG-4": {
            "simple": Tools(EIGHT, USUAL, WHOLE),
            "advanced simple": Tools(EIGHT, USUAL),
        },
    }
)
"""Codec, profile in small letters, and what it may use."""

OF_THE_CODEC: Mapping[str, Tools] = MappingProxyType(
    {
        "MPEG-1": Tools(EIGHT, USUAL, WHOLE),  # ISO/IEC 11172-2
        "VP9": Tools(scans=WHOLE),
        "AV1": Tools(scans=WHOLE),
    }
)
"""What holds whatever the profile is (AV1 specification; VP9 from memory)."""


def accepted_profiles(codec: str, listed: Iterable[str]) -> tuple[str, ...]:
    """Every profile of the codec that a player of the listed ones takes, in small letters."""
    given = [name.casefold() for name in listed]
    known = [name.casefold() for name in PROFILES.get(codec, ())]
    kin = [name for name in known if PROFILE_FAMILY.get(name) in given and name not in given]
    return (*given, *kin)


def tools(codec: str, listed: Iterable[str] | None) -> Tools:
    """What a stream of one of these profiles may use; the listed ones None: of any."""
    general, own = OF_THE_CODEC.get(codec, ANY), TOOLS.get(codec, {})
    if listed is None or not own:
        return general
    each = [own.get(name, ANY) for name in accepted_profiles(codec, listed)]
    return Tools(
        _all_of([one.depths for one in each]),
        _all_of([one.chroma for one in each]),
        _all_of([one.scans for one in each]),
    )


def _all_of(sets: list[frozenset[T]]) -> frozenset[T]:
    """Their union; empty, as nothing is narrowed, where one of them narrows nothing."""
    return frozenset().union(*sets) if all(sets) else frozenset()
