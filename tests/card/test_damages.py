"""Damage is listed as it is told, up to a bound, and names are shown so that nothing is hidden."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from mediacheck.card.damages import LISTED_MAX, Damages, is_unicode, printable
from mediacheck.card.model import Damage

ANY_NAME = st.text(st.characters(), max_size=20)
"""With halves of UTF-16 pairs and control characters."""


def test_damage_is_listed_as_told() -> None:
    assert Damages().listed == ()
    damages = Damages()
    damages.tell("one", "a.mp4")
    damages.tell("two")
    assert damages.listed == (Damage("one", "a.mp4"), Damage("two"))


def test_two_hundred_are_listed_and_the_others_counted() -> None:
    damages = Damages()
    for number in range(LISTED_MAX):
        damages.tell(str(number))
    assert [damage.what for damage in damages.listed] == [str(number) for number in range(LISTED_MAX)]
    for _ in range(1234):
        damages.tell("more")
    assert damages.listed[LISTED_MAX:] == (Damage("and 1,234 more faults like these"),)


def test_what_cannot_stand_in_a_path_is_escaped() -> None:
    assert printable("Grüße 日本 𝄞\u3000.mp4") == "Grüße 日本 𝄞\u3000.mp4"
    assert printable("a/b\\c\x07\x9f\ud800") == "a\\x2fb\\x5cc\\x07\\x9f\\ud800"
    assert printable("4pm.\u202eexe\u2069") == "4pm.\\u202eexe\\u2069"
    assert [*map(printable, (".", "..", "...", ".a", "a."))] == ["\\x2e", "\\x2e.", "...", ".a", "a."]


@given(ANY_NAME, ANY_NAME)
def test_two_names_never_look_the_same(one: str, other: str) -> None:
    assert (printable(one) == printable(other)) == (one == other)


@given(ANY_NAME)
def test_a_shown_name_can_be_a_part_of_a_path(name: str) -> None:
    shown = printable(name)
    assert is_unicode(shown)
    assert "/" not in shown
    assert shown not in (".", "..")
    assert is_unicode(name) == (
        name.encode("utf-16-le", "surrogatepass").decode("utf-16-le", "replace") == name
    )
