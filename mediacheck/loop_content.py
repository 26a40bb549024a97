"""By what a loop is known: the bytes of its videos and stills, whatever they are called."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable

SHOWN = ("video", "still")
"""Kinds of files that a viewer sees."""


def content_key(digests: Iterable[str]) -> str | None:
    """One SHA-256 for all that is shown; None where nothing is.

    The order does not count: which file plays first is what `check` looks at, and a name may differ.
    """
    found = sorted(digests)
    return hashlib.sha256("\n".join(found).encode("ascii")).hexdigest() if found else None
