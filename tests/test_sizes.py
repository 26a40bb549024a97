"""Sizes as people type them, and as they are shown."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mediacheck.errors import WrongUse
from mediacheck.sizes import parse_size, shown_size

TYPED = {
    "8GB": 8_000_000_000,
    "8 GB": 8_000_000_000,
    " 31.9 gb\n": 31_900_000_000,
    "31914983424": 31_914_983_424,
    "31914983424 bytes": 31_914_983_424,
    "1 byte": 1,
    "512B": 512,
    "64kB": 64_000,
    "64KB": 64_000,
    "64KiB": 65_536,
    "1.5MiB": 1_572_864,
    "4MB": 4_000_000,
    "2GiB": 2_147_483_648,
    "1TB": 1_000_000_000_000,
    "1TiB": 1_099_511_627_776,
}
NO_SIZES = (
    "",
    "GB",
    "8G",
    "8 GBit",
    "-8GB",
    "+8GB",
    "8e9",
    "0",
    "0GB",
    "8.5",
    "1.0001kB",
    "8,5GB",
    "٣GB",
    "8  GB",
)


@pytest.mark.parametrize("text", TYPED)
def test_a_size_is_understood_with_and_without_a_unit(text: str) -> None:
    assert parse_size(text) == TYPED[text]


@pytest.mark.parametrize("text", NO_SIZES)
def test_what_could_mean_something_else_is_refused_in_a_sentence(text: str) -> None:
    with pytest.raises(WrongUse) as refused:
        parse_size(text)
    expected = f'"{text}" is not a size: give one such as 8GB, 512MiB or a number of whole bytes.'
    assert str(refused.value) == expected


@given(st.text())
def test_any_text_is_a_size_or_refused(text: str) -> None:
    try:
        size_bytes = parse_size(text)
    except WrongUse:
        size_bytes = None
    assert size_bytes is None or size_bytes > 0


@given(st.integers(1, 10**14))
def test_what_is_shown_can_be_typed_and_is_shown_again(size_bytes: int) -> None:
    shown = shown_size(size_bytes)
    assert shown_size(parse_size(shown)) == shown
    assert abs(parse_size(shown) - size_bytes) <= size_bytes / 19


@given(st.integers(1, 10**14))
def test_bytes_are_taken_to_the_byte(size_bytes: int) -> None:
    assert parse_size(str(size_bytes)) == parse_size(f"{size_bytes} bytes") == size_bytes


def test_sizes_are_shown_as_they_are_printed_on_cards() -> None:
    assert shown_size(31_914_983_424) == "31.9 GB"
