"""Names that cards refuse, and names that a card cannot tell apart."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mediacheck.card.limits import (
    FORBIDDEN_CHARACTERS,
    GREATEST_FILE_BYTES,
    WINDOWS_NAMES,
    refusal,
    same_name,
)


@given(st.text(st.characters(exclude_characters="".join(FORBIDDEN_CHARACTERS)), min_size=5))
def test_a_name_of_allowed_characters_is_refused_only_for_its_end_or_a_device(name: str) -> None:
    why = refusal(name)
    if why is None:
        assert not name.endswith((".", " "))
    else:
        assert why in ("it ends in a full stop", "it ends in a space") or "for a device" in why


@given(st.text(), st.sampled_from(sorted(FORBIDDEN_CHARACTERS)), st.text())
def test_a_forbidden_character_anywhere_is_refused(before: str, character: str, after: str) -> None:
    why = refusal(before + character + after)
    assert why is not None
    assert why.startswith("it contains ")


@given(st.text())
def test_turning_letters_to_capitals_changes_no_length_and_is_final(path: str) -> None:
    assert len(same_name(path)) == len(path)
    assert same_name(same_name(path)) == same_name(path)


@given(st.text(st.characters(max_codepoint=127)))
def test_plain_letters_are_compared_without_their_capitals(path: str) -> None:
    assert same_name(path) == same_name(path.lower()) == same_name(path.upper()) == path.upper()


@pytest.mark.parametrize(("one", "other"), [("é", "É"), ("я", "Я"), ("ω", "Ω")])
def test_other_alphabets_are_compared_without_capitals_too(one: str, other: str) -> None:
    assert same_name(one) == same_name(other)


@pytest.mark.parametrize(("one", "other"), [("ß", "SS"), ("e", "é"), ("ﬁ", "FI")])
def test_no_letter_becomes_two(one: str, other: str) -> None:
    assert same_name(one) != same_name(other)


def test_every_file_system_with_a_limit_follows_the_same_rules_for_names() -> None:
    assert set(GREATEST_FILE_BYTES) == set(WINDOWS_NAMES)
