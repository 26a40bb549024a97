"""Speed classes as they are printed on cards."""

from __future__ import annotations

import pytest

from mediacheck.capacity.speed_class import MB_PER_S, SpeedClass, speed_class
from mediacheck.errors import WrongUse


def test_all_classes_promise_what_is_published() -> None:
    """SD Association, page "Speed class": the names as read there, the figures as quoted from it."""
    assert dict(MB_PER_S) == {
        **{"C2": 2, "C4": 4, "C6": 6, "C10": 10},
        **{"U1": 10, "U3": 30},
        **{"V6": 6, "V10": 10, "V30": 30, "V60": 60, "V90": 90},
        **{"E150": 150, "E300": 300, "E450": 450, "E600": 600},
    }


@pytest.mark.parametrize("text", ["V30", "v30", " V30 "])
def test_letters_and_spaces_do_not_matter(text: str) -> None:
    assert speed_class(text) == SpeedClass("V30", 30)


@pytest.mark.parametrize("text", ["", "30", "V31", "A1", "UHS-I"])
def test_another_word_is_refused_with_all_that_there_are(text: str) -> None:
    with pytest.raises(WrongUse, match=r"name one of C2, C4, C6, C10, U1, U3, V6, V10, V30, V60, V90, E150"):
        speed_class(text)
