"""Which change a plan chooses, what it leaves out and what it asks for: on reports made by hand."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import Any, get_args

import pytest

from mediacheck.card.model import Card
from mediacheck.check import judged
from mediacheck.encoding.model import Refused
from mediacheck.loop import File
from mediacheck.measure.model import Bars, Leader, Measurements, Span
from mediacheck.names import RULE_NAMES, RuleName
from mediacheck.profile import Profile
from mediacheck.repair import causes
from mediacheck.repair.asks import ASKS
from mediacheck.repair.model import CHANGES, Change, Plan, Recipe, Wishes
from mediacheck.repair.plan import plan_for, remade, room_bytes, size_limit
from mediacheck.survey import Surveyed
from tests.repair.bench import loaded
from tests.rules import make

NO_WISHES = Wishes()


def planned(*files: File, wishes: Wishes = NO_WISHES, order_known: bool = False, **sections: Any) -> Plan:
    """The plan for a folder, or a card whose order is known, that holds these files."""
    profile = make.profile(**sections)
    card = Card("/masters", "folder", tuple(file.entry for file in files), order_known=order_known)
    surveyed = Surveyed(card, files, {})
    return plan_for(surveyed, judged(surveyed, loaded(profile), "full"), loaded(profile), wishes)


def changes(plan: Plan) -> list[tuple[str, str, Change]]:
    return [(item.source.entry.path, item.path, item.change) for item in plan.items]


def test_every_rule_is_mended_asked_for_or_not_a_matter_of_files() -> None:
    mended = set(causes.MENDS)
    apart = [causes.OF_THE_CARD, causes.ELSEWHERE, causes.KEPT, set(causes.STAYS_BEHIND)]
    known = mended.union(*apart) | set(ASKS)
    assert set(RULE_NAMES) - known == set()
    assert mended.isdisjoint(causes.OF_THE_CARD | causes.ELSEWHERE | causes.KEPT)
    assert (set(RULE_NAMES) - mended - set().union(*apart)) <= set(ASKS), "what is not mended is asked for"
    assert set(ASKS) >= causes.HOPELESS
    assert {mend.change for mend in causes.MENDS.values()} <= set(get_args(Change))


def test_what_conforms_stays_as_it_is() -> None:
    plan = planned(make.video_file("a.mp4"), make.video_file("b.mp4", sha256="1" * 64))
    assert changes(plan) == [("a.mp4", "a.mp4", "copy"), ("b.mp4", "b.mp4", "copy")]
    assert (plan.left_out, plan.asks) == ((), ())
    assert all(item.steps == () and item.recipe is None for item in plan.items)


@pytest.mark.parametrize(
    ("video", "container", "wanted", "rules"),
    [
        ({}, {"index": "last"}, "container", ("container-index",)),
        ({}, {"name": "MOV"}, "container", ("container-format",)),
        ({"codec": "MPEG-2", "profile": "Main", "level": "High"}, {}, "picture", ("video-codec",)),
        ({"frame_rate": Fraction(50)}, {}, "picture", ("video-frame-rate",)),
        ({"rotation": 90}, {"index": "last"}, "picture", ("container-index", "video-rotation")),
    ],
)
def test_the_least_change_that_conforms(
    video: dict[str, Any], container: dict[str, Any], wanted: Change, rules: tuple[RuleName, ...]
) -> None:
    file = make.video_file(
        "a.mp4", video=make.video_facts(**video), container=make.container_facts(**container)
    )
    (item,) = planned(file).items
    assert item.change == wanted
    assert {rule for step in item.steps for rule in step.rules} == set(rules)
    assert item.recipe is not None
    assert item.recipe.picture is not None
    assert item.recipe.picture.copied == (wanted != "picture")
    assert [CHANGES.index(step.change) for step in item.steps] == sorted(
        CHANGES.index(step.change) for step in item.steps
    )


def measured(**keys: Any) -> Measurements:
    return Measurements(frames=300, seconds=10.0, width=1920, height=1080, **keys)


@pytest.mark.parametrize("wished", [True, False])
def test_bars_are_cut_off_only_where_that_is_wished(wished: bool) -> None:
    file = replace(make.video_file("a.mp4"), measurements=measured(bars=Bars(140, 140, 0, 0)))
    plan = planned(file, wishes=Wishes(trim_bars=wished))
    assert [item.change for item in plan.items] == ["picture" if wished else "copy"]
    assert [ask.rule for ask in plan.asks] == ([] if wished else ["picture-bars"])


@pytest.mark.parametrize("wished", [True, False])
def test_leaders_are_cut_off_only_where_that_is_wished(wished: bool) -> None:
    leader = (Leader("colour bars", 0.0, 3.0),)
    file = replace(make.video_file("a.mp4"), measurements=measured(leader=leader))
    plan = planned(file, wishes=Wishes(trim_ends=wished))
    assert [ask.rule for ask in plan.asks] == ([] if wished else ["picture-leader"])
    recipe = plan.items[0].recipe
    assert (recipe.span.start_s if recipe else None) == (3.0 if wished else None)


def test_black_in_the_middle_is_asked_for_whatever_is_wished() -> None:
    file = replace(make.video_file("a.mp4"), measurements=measured(black=(Span(4.0, 7.0),)))
    plan = planned(file, wishes=Wishes(trim_ends=True), loop={"black_seconds_max": 1})
    assert [(item.change, ask.rule) for item, ask in zip(plan.items, plan.asks, strict=True)] == [
        ("copy", "picture-black")
    ]


def test_junk_and_what_is_of_no_use_stay_behind_without_a_question() -> None:
    plan = planned(
        make.video_file("a.mp4"),
        make.junk_file("._a.mp4"),
        make.other_file("notes.pdf"),
        make.other_file("read me.txt"),
    )
    assert changes(plan) == [("a.mp4", "a.mp4", "copy"), ("read me.txt", "read me.txt", "copy")]
    assert [(left.path, left.rules) for left in plan.left_out] == [
        ("._a.mp4", ("file-junk",)),
        ("notes.pdf", ("file-unexpected",)),
    ]
    assert plan.asks == ()


def test_a_file_that_nobody_can_read_is_asked_for_and_the_rest_is_done() -> None:
    plan = planned(make.video_file("a.mp4"), make.unreadable_file("b.mp4"))
    assert changes(plan) == [("a.mp4", "a.mp4", "copy")]
    assert [left.path for left in plan.left_out] == ["b.mp4"]
    assert {ask.rule for ask in plan.asks} == {"file-unreadable"}


def test_where_no_recipe_can_be_made_it_is_said_and_the_file_is_left_out() -> None:
    film = make.video_file("a.mp4", video=make.video_facts(codec="MPEG-2", profile="Main", level="High"))
    plan = planned(film, video={"codecs": {"VC-1": {}}})
    assert plan.items == ()
    assert [left.path for left in plan.left_out] == ["a.mp4"]
    assert any("cannot be mended" in ask.problem for ask in plan.asks)


def test_a_scrambled_card_gets_numbers_in_the_order_in_which_it_plays() -> None:
    files = [make.video_file(name, sha256=f"{place}" * 64) for place, name in enumerate(("c.mp4", "a.mp4"))]
    files = [replace(f, entry=replace(f.entry, position=place)) for place, f in enumerate(files)]
    plan = planned(*files, order_known=True)
    assert changes(plan) == [("c.mp4", "01-c.mp4", "move"), ("a.mp4", "02-a.mp4", "move")]
    assert {step.rules for item in plan.items for step in item.steps} == {("play-order",)}


def test_room_on_the_card() -> None:
    profile = make.profile(card={"capacity_max_gb": 32, "free_percent_min": 10})
    assert room_bytes(profile, Wishes()) == int(32e9 * 0.99 * 0.9)
    assert room_bytes(profile, Wishes(size_bytes=8_000_000_000)) == int(8e9 * 0.99 * 0.9)
    assert room_bytes(Profile(), Wishes()) is None


def test_the_largest_file_is_that_of_the_file_systems() -> None:
    assert size_limit(make.profile(card={"file_systems": ["FAT32"]})) == 2**32 - 1
    assert size_limit(make.profile(card={"file_systems": ["FAT32", "exFAT"]})) == 2**64 - 1
    assert size_limit(Profile()) is None


def test_the_same_item_for_less_room() -> None:
    (item,) = planned(make.video_file("a.mp4", video=make.video_facts(frame_rate=Fraction(50)))).items
    smaller = remade(item, (), make.profile(), Wishes(), size_max_bytes=2_000_000)
    assert not isinstance(smaller, Refused)
    assert isinstance(smaller.recipe, Recipe)
    assert smaller.recipe.size_max_bytes == 2_000_000
    assert smaller.recipe.picture is not None
    also = smaller.recipe.picture.also
    assert smaller.recipe.picture.two_passes
    assert "-crf" not in also
    rate = int(also[also.index("-b:v") + 1][:-1]) * 1000
    sound = 192_000 if smaller.recipe.sound else 0
    assert (rate + sound) * 10 / 8 == pytest.approx(2_000_000, rel=0.15)


def test_paths_of_the_source_are_kept_apart_from_this_computers(tmp_path: Path) -> None:
    """A plan names files as the card does."""
    plan = planned(make.video_file("new/a.mp4"))
    assert changes(plan) == [("new/a.mp4", "a.mp4", "move")]
