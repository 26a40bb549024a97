"""The kinds of value that a profile is made of: rates, levels, patterns, sizes, paths.

It must not know any section of a profile: which key takes which value is for `profile`.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from fractions import Fraction
from types import MappingProxyType
from typing import Annotated, Any, TypeVar, get_args, get_origin

from pydantic import (
    AfterValidator,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    PlainSerializer,
    SerializerFunctionWrapHandler,
    WithJsonSchema,
    WrapSerializer,
    model_validator,
)
from pydantic_core import PydanticCustomError

from mediacheck.said_of_keys import SaidOfKeys

K = TypeVar("K")
V = TypeVar("V")

NTSC_RATES = {
    Fraction(2398, 100): Fraction(24000, 1001),
    Fraction(23976, 1000): Fraction(24000, 1001),
    Fraction(2997, 100): Fraction(30000, 1001),
    Fraction(5994, 100): Fraction(60000, 1001),
    Fraction(11988, 100): Fraction(120000, 1001),
}
"""Rounded spellings and the exact rates they stand for (SMPTE practice; from memory)."""

A_RATE = "a frame rate above 0 and up to 1000, such as 25, 29.97 or 30000/1001"
A_LEVEL = "a level as the standard writes it, such as 4.1"


class Part(SaidOfKeys):
    """A section of a file that people write: immutable, and every key in it is known."""

    model_config = ConfigDict(frozen=True, extra="forbid", strict=True, allow_inf_nan=False)

    @model_validator(mode="before")
    @classmethod
    def _one_is_a_list_of_one(cls, given: Any) -> Any:
        """`chroma: 4:2:0` means the same as `chroma: [4:2:0]`, since both read alike."""
        if not isinstance(given, Mapping):
            return given
        return {key: _as_tuple(value) if _is_list(cls, key) else value for key, value in given.items()}


def _as_tuple(value: object) -> object:
    if isinstance(value, list):
        return tuple(value)
    return (value,) if isinstance(value, str | int | float) else value


def _is_list(part: type[BaseModel], key: object) -> bool:
    """Whether a key of this section takes a list of plain values."""
    field = part.model_fields.get(key) if isinstance(key, str) else None
    return field is not None and _holds_tuple(field.annotation)


def _holds_tuple(kind: Any) -> bool:
    return get_origin(kind) is tuple or any(map(_holds_tuple, get_args(kind)[:2] if get_args(kind) else ()))


def impossible(key: str, expected: str, found: str) -> PydanticCustomError:
    """The error for values that cannot stand together; `key` is the one of this section to look at."""
    return PydanticCustomError(
        "impossible",
        "{key}: expected {expected}, found {found}",
        {"key": key, "expected": expected, "found": found},
    )


def parse_rate(value: object) -> Fraction:
    """A frame rate as an exact fraction: 25, 29.97 and "30000/1001" are all accepted."""
    text = str(value).strip()
    if not re.fullmatch(r"[0-9]{1,9}(\.[0-9]{1,9}|/0*[1-9][0-9]{0,8})?", text):
        raise ValueError(A_RATE)
    rate = Fraction(text)
    if not 0 < rate <= 1000:
        raise ValueError(A_RATE)
    return NTSC_RATES.get(rate, rate)


def parse_level(value: object) -> str:
    """A level as the standard writes it: 4.1 and "4.1" are the same, 4.0 is "4"."""
    text = str(value).strip().removesuffix(".0")
    if isinstance(value, bool) or not re.fullmatch(r"[1-9](\.\d)?|1b|Low|Main|High-1440|High", text):
        raise ValueError(A_LEVEL)
    return text


def parse_whole(value: object) -> object:
    """A whole number, however it is written: 20000000, 20e6 and 2.0e7 are the same."""
    if isinstance(value, str) and re.fullmatch(r"[0-9]+(\.[0-9]+)?[eE]\+?[0-9]{1,2}", value):
        value = float(value)
    return int(value) if isinstance(value, float) and value.is_integer() else value


def _compiles(pattern: str) -> str:
    try:
        re.compile(pattern)
    except (re.error, OverflowError) as error:
        raise ValueError(f"a regular expression without faults ({error})") from None
    return pattern


def _plain_name(name: str) -> str:
    if not re.fullmatch(r"[A-Za-z0-9][A-Za-z0-9._-]*", name):
        raise ValueError("letters, digits, dots, hyphens and underscores")
    return name


def _path_on_card(path: str) -> str:
    parts = path.strip("/").split("/")
    if "\\" in path or any(part in (".", "..") for part in parts) or ("" in parts and path.strip("/")):
        raise ValueError("a path on the card with forward slashes, such as /media/loop")
    return path


def _frozen(value: Mapping[K, V]) -> Mapping[K, V]:
    return MappingProxyType(dict(value))


def _thawed(value: Mapping[Any, Any], write: SerializerFunctionWrapHandler) -> Any:
    return write(dict(value))


FROZEN_MAP = (AfterValidator(_frozen), WrapSerializer(_thawed))
"""Makes a mapping read-only once it is checked; pydantic writes it as a plain one."""

Rate = Annotated[
    Fraction,
    BeforeValidator(parse_rate),
    PlainSerializer(str),
    WithJsonSchema(
        {
            "anyOf": [
                {"type": "number", "exclusiveMinimum": 0, "maximum": 1000},
                {"type": "string", "pattern": r"^[0-9]+(\.[0-9]+|/[0-9]+)?$"},
            ]
        }
    ),
]
Level = Annotated[
    str,
    BeforeValidator(parse_level),
    WithJsonSchema(
        {
            "anyOf": [
                {"type": "number"},
                {"type": "string", "pattern": r"^([1-9](\.[0-9])?|1b|Low|Main|High-1440|High)$"},
            ]
        }
    ),
]
Name = Annotated[
    str, AfterValidator(_plain_name), Field(json_schema_extra={"pattern": "^[A-Za-z0-9][A-Za-z0-9._-]*$"})
]
Pattern = Annotated[str, AfterValidator(_compiles), Field(json_schema_extra={"format": "regex"})]
CardPath = Annotated[str, AfterValidator(_path_on_card)]
Pixels = Annotated[int, Field(ge=1, le=65_536)]
Count = Annotated[int, Field(ge=0)]
Positive = Annotated[float, Field(gt=0)]
NotNegative = Annotated[float, Field(ge=0)]
BitRate = Annotated[int, BeforeValidator(parse_whole), Field(ge=1)]
Some = Field(min_length=1)
"""For lists in which nothing at all would mean that no file can pass."""
