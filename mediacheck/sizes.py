"""Sizes as people type them, and as they are shown to be typed.

It must not judge whether a size is a good one.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from fractions import Fraction
from types import MappingProxyType

from mediacheck.errors import WrongUse
from mediacheck.report.words import size_words

UNITS: Mapping[str, int] = MappingProxyType(
    {
        "": 1,
        "b": 1,
        "byte": 1,
        "bytes": 1,
        "kb": 10**3,
        "mb": 10**6,
        "gb": 10**9,
        "tb": 10**12,
        "kib": 1 << 10,
        "mib": 1 << 20,
        "gib": 1 << 30,
        "tib": 1 << 40,
    }
)
"""Decimal as printed on cards, binary as in IEC 80000-13; in lower case: nobody means millibits here."""

_SIZE = re.compile(r"([0-9]{1,18}(?:\.[0-9]{1,12})?) ?([A-Za-z]*)")


def parse_size(text: str) -> int:
    """Bytes of "8GB", "31.9 GB", "512 MiB" or "31914983424". WrongUse for anything else."""
    found = _SIZE.fullmatch(text.strip())
    unit_bytes = UNITS.get(found[2].lower()) if found else None
    size_bytes = Fraction(found[1]) * unit_bytes if found and unit_bytes else Fraction(0)
    if size_bytes <= 0 or size_bytes.denominator != 1:
        raise WrongUse(f'"{text}" is not a size: give one such as 8GB, 512MiB or a number of whole bytes.')
    return int(size_bytes)


def shown_size(size_bytes: int) -> str:
    """A size as it is shown and may be typed: "31.9 GB"."""
    return size_words(size_bytes)
