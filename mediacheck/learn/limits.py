"""The profile that the learned limits make, as the rules take it.

It must not write it: comments and text are for `document`.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from mediacheck.learn.model import Key, Value
from mediacheck.profile import Profile


def profile_of(values: Sequence[Value]) -> Profile:
    """A profile with exactly those values that are limits.

    The value at `codecs` is the names of the codecs: each gets a key, with the limits below it.
    """
    nested: dict[str, Any] = {}
    for value in values:
        if value.is_limit:
            _set(nested, value)
    return Profile.model_validate(nested)


def _set(nested: dict[str, Any], value: Value) -> None:
    above = _section(nested, value.key[:-1])
    if value.key[-1] == "codecs" and isinstance(value.value, tuple):
        for name in value.value:
            _section(nested, (*value.key, str(name)))
    else:
        above[value.key[-1]] = value.value


def _section(nested: dict[str, Any], place: Key) -> dict[str, Any]:
    for name in place:
        nested = nested.setdefault(name, {})
    return nested
