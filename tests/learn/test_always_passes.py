"""The laws of learning: what was learned from, passes; the order is nothing; more cards never tighten."""

from __future__ import annotations

from typing import Any

from hypothesis import assume, given, settings
from hypothesis import strategies as st

from mediacheck.learn.derive import learned
from mediacheck.learn.meaning import OF_THE_MATERIAL, OF_THE_PLAYER
from mediacheck.learn.model import Key, Plain, Taught, Value
from mediacheck.learn.refusal import refusals
from mediacheck.media.levels import level_order
from mediacheck.names import Depth
from mediacheck.profile_values import parse_rate
from tests.learn.cards import cards, report

DEPTHS = st.sampled_from(("quick", "full"))


def good(drawn: list[Taught], depth: Depth) -> list[Taught]:
    """Those that are not refused, at least one of them."""
    refused = {each.card for each in refusals(drawn, depth)}
    left = [card for card in drawn if card.shown not in refused]
    assume(left)
    return left


def some_cards(draw: st.DataObject, most: int = 3) -> list[Taught]:
    count = draw.draw(st.integers(1, most))
    return [draw.draw(cards(name=f"card {number}")) for number in range(count)]


@settings(max_examples=60)
@given(st.data(), DEPTHS)
def test_every_card_that_was_learned_from_passes(data: st.DataObject, depth: Depth) -> None:
    taught = good(some_cards(data), depth)
    for card in taught:
        found = report(card, taught, depth)
        assert found.verdict == "pass", (found.findings, found.not_checked)
        assert {finding.severity for finding in found.findings} <= {"note"}


@settings(max_examples=25)
@given(st.data(), DEPTHS)
def test_only_rules_about_the_player_or_the_material_are_made_light_of(
    data: st.DataObject, depth: Depth
) -> None:
    taught = good(some_cards(data), depth)
    relaxed = {value.key[1] for value in learned(taught, depth).values if value.key[0] == "rules"}
    assert relaxed <= OF_THE_PLAYER | OF_THE_MATERIAL | {"file-name"}


@settings(max_examples=25)
@given(st.data(), DEPTHS)
def test_the_order_of_the_cards_changes_nothing(data: st.DataObject, depth: Depth) -> None:
    taught = good(some_cards(data), depth)
    turned = data.draw(st.permutations(taught))
    assert learned(taught, depth).values == learned(turned, depth).values


@settings(max_examples=40)
@given(st.data())
def test_a_limit_never_gets_tighter_by_another_card(data: st.DataObject) -> None:
    taught = good(some_cards(data), "quick")
    now = {value.key: value.value for value in learned(taught, "quick").values if value.is_limit}
    for value in learned(taught[:1], "quick").values:
        if value.is_limit and value.key in now and value.key[0] != "rules":
            assert no_tighter(value, now[value.key]), (value, now[value.key])


def no_tighter(value: Value, now: Plain) -> bool:
    """Whether the new value of a key allows all that the old one allows."""
    name, old = value.key[-1], value.value
    if isinstance(old, tuple) and isinstance(now, tuple):
        same = parse_rate if name == "frame_rates" else str
        return {same(one) for one in now} >= {same(one) for one in old}
    if name == "level_max":
        return rank(value.key, now) >= rank(value.key, old)
    if name == "media_folder":
        return f"{str(old).rstrip('/')}/".casefold().startswith(f"{str(now).rstrip('/')}/".casefold())
    if name == "use":
        return now in (old, "allowed")
    if isinstance(old, bool):
        return now == old or now == (name == "subfolders")
    return wider(name, old, now)


def wider(name: str, old: Any, now: Any) -> bool:
    """Numbers: exact sizes stay, least ones sink, greatest ones rise."""
    if name in ("width", "height", "scan"):
        return bool(now == old)
    return bool(now <= old) if name.endswith("_min") else bool(now >= old)


def rank(key: Key, level: Plain) -> int:
    found = level_order(key[2], str(level))
    assert found is not None
    return found
