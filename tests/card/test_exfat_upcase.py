"""The up-case table is the one that the specification recommends, and tables survive compressing."""

from __future__ import annotations

import hashlib

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from mediacheck.card.exfat_layout import name_hash, table_checksum
from mediacheck.card.exfat_upcase import (
    MARK,
    RECOMMENDED_CHECKSUM,
    UNITS,
    Upcase,
    compressed,
    expanded,
    recommended,
)

TABLE_SHA256 = "8344f27a410a16df14ad98decde32b48c4db0b8e7fa8b9dc4394b58ced972f11"


def hashed(name: str) -> int:
    return name_hash(recommended().upper(name).encode("utf-16-le"))


def test_the_recommended_table_is_that_of_table_25() -> None:
    stored = compressed(recommended())
    assert len(stored) == 5836
    assert table_checksum(stored) == RECOMMENDED_CHECKSUM == 0xE619D30D
    assert hashlib.sha256(stored).hexdigest() == TABLE_SHA256


def test_name_hashes_of_the_worked_examples() -> None:
    wanted = {"A": 0x8020, "README.TXT": 0xEB26, "FOO.BAR": 0xBFC3, "LOOP_01.MP4": 0xA672}
    assert {name: hashed(name) for name in wanted} == wanted
    assert hashed("PROMO.MP4") == hashed("promo.mp4") == 0xF88A


def test_letters_become_capitals_one_by_one() -> None:
    assert recommended().upper("größe ß ÿ ﬀ 𝄞.mp4") == "GRÖßE ß Ÿ ﬀ 𝄞.MP4"
    assert recommended().upper("\ud83d") == "\ud83d"


def test_the_first_128_letters_are_mandatory() -> None:
    assert recommended().has_mandatory
    table = recommended().table.copy()
    table[ord("a")] = ord("a")
    assert not Upcase(table).has_mandatory
    table = recommended().table.copy()
    table[0x00E0] = 0x00E0
    assert Upcase(table).has_mandatory


def test_the_example_of_the_specification_expands() -> None:
    """7.2.5: five values for the first 100 letters."""
    stored = b"".join(value.to_bytes(2, "little") for value in (0xFFFF, 0x0061, 0x0041, 0x0042, 0x0043))
    assert expanded(stored).upper("`abcd") == "`ABCd"


@given(st.dictionaries(st.integers(0, UNITS - 1), st.integers(0, MARK - 1), max_size=60))
def test_a_table_survives_compressing_and_being_stored_in_full(changes: dict[int, int]) -> None:
    table = np.arange(UNITS, dtype=np.uint16)
    for letter, capital in changes.items():
        table[letter] = capital
    assert np.array_equal(expanded(compressed(Upcase(table))).table, table)
    assert np.array_equal(expanded(table.astype("<u2").tobytes()).table, table)


@given(st.binary(max_size=200), st.binary(max_size=6))
def test_any_bytes_expand_to_a_whole_table(some: bytes, others: bytes) -> None:
    assert len(expanded(some + b"\xff\xff" + others).table) == UNITS
    assert len(expanded((b"\xff\xff\xff\xff" + others) * 4 + some).table) == UNITS


def test_a_table_that_is_too_long_is_cut_off() -> None:
    assert np.array_equal(expanded(bytes(2 * UNITS + 10)).table, np.zeros(UNITS))
