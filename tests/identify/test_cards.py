"""What the files of a card are, held against loops: all of one, a part of it, other seconds, or not known."""

from __future__ import annotations

import numpy as np
import pytest

from mediacheck.identify.cards import CardFile, held_by
from mediacheck.identify.clips import Found, tells
from mediacheck.identify.library import ItemNamed, LoopNamed
from mediacheck.identify.traces import HEIGHT, WIDTH, Trace

A, B, C = "a" * 64, "b" * 64, "c" * 64
ITEM_S = 10.0


def loop(name: str, *items: str) -> LoopNamed:
    return LoopNamed(name, tuple(ItemNamed(f"{item[0]}.mp4", item, ITEM_S) for item in items))


def shows(item: str, seconds: float = ITEM_S, *differing: tuple[float, float]) -> CardFile:
    """A file that was encoded anew."""
    trace = Trace(np.zeros((round(4 * seconds), HEIGHT, WIDTH), np.uint8))
    return CardFile("f" * 64, trace, (Found(item, 0.0, 0.97, differing, min(seconds, ITEM_S)),))


SPRING, SUMMER = loop("spring", A, B), loop("summer", A, B, C)


@pytest.mark.parametrize(
    ("files", "whole"),
    [
        ([shows(A), shows(B)], ["spring"]),
        ([shows(B), shows(A)], ["spring"]),
        ([shows(C), shows(B), shows(A)], ["summer"]),
        ([shows(A), shows(A)], []),
        ([shows(A)], []),
        ([shows(A), shows(B), shows(B)], []),
        ([shows(A), shows(B, 4.0)], []),
        ([shows(A), shows(B, 15.0)], []),
        ([shows(A), shows(B, ITEM_S, (3.0, 5.0))], []),
        ([shows(A), shows(B, ITEM_S - 0.5)], ["spring"]),
    ],
)
def test_a_card_holds_a_loop_whole_with_each_item_once(files: list[CardFile], whole: list[str]) -> None:
    assert [one.loop.name for one in held_by([SUMMER, SPRING], files) if one.is_whole] == whole


def test_an_item_that_a_loop_shows_twice_is_held_twice() -> None:
    twice = loop("twice", A, B, A)
    assert held_by([twice], [shows(A), shows(A), shows(B)])[0].is_whole
    assert not held_by([twice], [shows(A), shows(B), shows(B)])[0].is_whole


def test_files_that_are_like_several_items_are_paired_as_they_fit() -> None:
    both = CardFile("f" * 64, shows(A).trace, (shows(A).found[0], shows(B).found[0]))
    assert held_by([SPRING], [both, shows(A)])[0].is_whole


@pytest.mark.parametrize(
    ("files", "words"),
    [
        ([shows(A)], "It holds 1 of the 2 items of this loop."),
        ([shows(A), shows(A)], "It holds 1 of the 2 items of this loop, and 1 other file."),
        ([shows(A), shows(B, ITEM_S, (3.0, 5.5))], "It is this loop but for the seconds 13.0 to 15.5."),
        (
            [shows(A, ITEM_S, (1.0, 2.0)), shows(B, ITEM_S, (3.0, 5.5))],
            "It is this loop but for the seconds 1.0 to 2.0, 13.0 to 15.5.",
        ),
        (
            [shows(A), shows(B, 4.0, (1.0, 2.0))],
            "It holds 1 of the 2 items of this loop, and 1 other file.",
        ),
    ],
)
def test_why_it_is_not_this_loop(files: list[CardFile], words: str) -> None:
    assert held_by([SPRING], files)[0].words == words


def test_the_loop_of_which_it_holds_most_comes_first() -> None:
    assert held_by([loop("one", C), SUMMER, SPRING], [shows(A), shows(B), shows(A)])[0].loop is SPRING
    assert held_by([SPRING], [shows(C)]) == []


def test_too_little_content_tells_nothing() -> None:
    pictures = np.zeros((20, HEIGHT, WIDTH), np.uint8)
    assert not tells(Trace(pictures))
    pictures[:8, :, ::2] = 200
    assert tells(Trace(pictures))
    assert not tells(Trace(pictures[6:]))
    assert not CardFile("", None, ()).can_be_told
