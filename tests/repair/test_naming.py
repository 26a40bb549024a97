"""Names in the copy: as few changes as can be, and such that card and player take them in play order."""

from __future__ import annotations

import re
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mediacheck.card.limits import refusal, same_name
from mediacheck.loop import path_order, player_looks_in
from mediacheck.profile import Profile
from mediacheck.repair.naming import Named, folder_for, has_form, in_order, names_for


def player(**layout: Any) -> Profile:
    return Profile.model_validate({"layout": {"media_folder": "/", "subfolders": False, **layout}})


def named(profile: Profile, *paths: str, suffix: str = "") -> tuple[str, ...]:
    return names_for([Named(path, suffix) for path in paths], profile)


@pytest.mark.parametrize(
    ("old", "suffix", "layout", "new"),
    [
        ("a.mp4", "", {}, "a.mp4"),
        ("a.MP4", ".mp4", {}, "a.MP4"),
        ("a.mov", ".mp4", {}, "a.mp4"),
        ("a", ".mp4", {}, "a.mp4"),
        ("spring 2.0", ".mp4", {}, "spring 2.0.mp4"),
        ("spring.bin", ".mp4", {}, "spring.mp4"),
        ("a.m4v", ".mp4", {}, "a.m4v"),
        ("a.m4v", ".mp4", {"name_pattern": r"[a-z]\.mp4"}, "a.mp4"),
        ("a.mp4 ", "", {}, "a.mp4"),
        ("a.mp4 ", ".mp4", {}, "a.mp4"),
        ("Fru\u0308hling.mp4", "", {}, "Fru\u0308hling.mp4"),
        ("Fru\u0308hling.mp4", "", {"ascii_only": True}, "Fruehling.mp4"),
        ("aux/a.mp4", "", {"subfolders": True}, "aux_2/a.mp4"),
        ("Frühling.mp4", "", {"ascii_only": True}, "Fruehling.mp4"),
        ("Été à la ferme.mp4", "", {"ascii_only": True}, "Ete-a-la-ferme.mp4"),
        ("春.mp4", "", {"ascii_only": True}, "item.mp4"),
        ("春.mp4", "", {}, "春.mp4"),
        ("what?.mp4", "", {}, "what.mp4"),
        ("nul.mp4", "", {}, "nul_2.mp4"),
        ("abcdefgh.mp4", "", {"name_length_max": 8}, "abcd.mp4"),
        ("deep/down/a.mp4", "", {}, "a.mp4"),
        ("a.mp4", "", {"media_folder": "/loop"}, "loop/a.mp4"),
        ("loop/a.mp4", "", {"media_folder": "/LOOP"}, "loop/a.mp4"),
        ("frühling/a.mp4", "", {"subfolders": True, "ascii_only": True}, "fruehling/a.mp4"),
        ("clip.mp4", "", {"name_pattern": r"\d{3}\.mp4"}, "001.mp4"),
        ("clip.mp4", "", {"name_pattern": r"[A-Z0-9]+\.MP4"}, "CLIP.MP4"),
        ("Spring in pots.mp4", "", {"name_pattern": r"[A-Z0-9_]{1,8}\.[A-Z0-9]{3}"}, "SPRING_I.MP4"),
        ("clip.mp4", "", {"name_pattern": r"item\d\d\.mp4"}, "item01.mp4"),
        ("clip.mp4", "", {"name_pattern": "never"}, "clip.mp4"),
    ],
)
def test_one_name(old: str, suffix: str, layout: dict[str, Any], new: str) -> None:
    assert named(player(**layout), old, suffix=suffix) == (new,)


def test_two_that_a_card_cannot_tell_apart() -> None:
    assert named(player(), "a.mp4", "A.mp4") == ("a.mp4", "A_2.mp4")
    assert named(player(), "x/a.mp4", "y/a.mp4") == ("a.mp4", "a_2.mp4")


def test_a_name_that_fits_is_left_to_the_file_that_has_it() -> None:
    """Whichever comes first, and with the new name on the right side of it."""
    items = [Named("a.mov", ".mp4"), Named("a.mp4", ".mp4"), Named("a.mpg", ".mp4"), Named("b.mp4", ".mp4")]
    assert names_for(items, player()) == ("a-2.mp4", "a.mp4", "a_2.mp4", "b.mp4")
    profile = player(ascii_only=True)
    assert named(profile, "Frost.mp4", "Früh.mp4", "Funk.mp4") == ("Frost.mp4", "Frueh.mp4", "Funk.mp4")


def test_a_file_and_a_folder_of_one_name_do_not_meet() -> None:
    profile = player(subfolders=True)
    assert names_for([Named("a.mov", ".mp4"), Named("a.mp4/b.mp4", ".mp4")], profile) == (
        "a_2.mp4",
        "a.mp4/b.mp4",
    )


def test_what_is_no_text_gets_a_name_though_it_looks_like_one() -> None:
    profile = Profile.model_validate({"card": {"file_systems": ["ext"]}})
    assert names_for([Named("a\\xff.mp4", "", readable=False)], profile) == ("a-xff.mp4",)
    assert names_for([Named("a\\xff.mp4", "")], profile) == ("a\\xff.mp4",)


def test_other_file_systems_take_other_names() -> None:
    profile = Profile.model_validate({"card": {"file_systems": ["ext"]}})
    assert named(profile, "A: seeds?.mp4", "a: seeds?.mp4") == ("A: seeds?.mp4", "a: seeds?.mp4")


def test_where_folders_come_between_all_go_into_one() -> None:
    paths = ("loop/b/seeds.mp4", "loop/a/pots.mp4", "loop/soil.mp4")
    profile = player(media_folder="/loop", subfolders=True)
    assert named(profile, *paths) == ("loop/01-seeds.mp4", "loop/02-pots.mp4", "loop/03-soil.mp4")


@pytest.mark.parametrize(
    ("pattern", "names"),
    [
        (r"[a-z]\w*\.mp4", ("item01.mp4", "item02.mp4")),
        (r"\d\w+\.mp4", ("01_seeds.mp4", "02_pots_2024.mp4")),
        (r"[0-9a-z]{1,6}\.mp4", ("01seed.mp4", "02pots.mp4")),
        (r"\d{4}\.MP4", ("0001.MP4", "0002.MP4")),
    ],
)
def test_numbers_in_the_form_that_the_player_asks_for(pattern: str, names: tuple[str, ...]) -> None:
    profile = player(name_pattern=pattern)
    assert named(profile, "seeds.mp4", "pots 2024.mp4", suffix=".mp4") == names


def test_an_order_that_no_name_keeps_is_told() -> None:
    profile = player(name_pattern="(seeds|pots).mp4")
    found = named(profile, "seeds.mp4", "pots.mp4")
    assert found == ("seeds.mp4", "pots.mp4")
    assert not in_order(found)
    assert has_form("new/pots.mp4", profile)
    assert not has_form("seeds/soil.mp4", profile)


def test_a_file_that_is_no_item_keeps_its_name() -> None:
    assert names_for([Named("a.mov", ".mp4")], player(), taken=["A.MP4"]) == ("a_2.mp4",)


def test_all_get_numbers_where_the_names_do_not_give_the_order() -> None:
    assert named(player(), "c.mp4", "02 b.mp4", "a.mp4") == ("01-c.mp4", "02-b.mp4", "03-a.mp4")
    hundred = [f"{number}.mp4" for number in range(100)]
    found = named(player(), *hundred)
    assert found[0] == "001-0.mp4"
    assert found[99] == "100-99.mp4"


NAMES = st.text(st.characters(exclude_characters="/\0", exclude_categories=["Cs"]), min_size=1, max_size=40)
PATHS = st.lists(st.lists(NAMES, min_size=1, max_size=3).map("/".join), max_size=12)
LAYOUTS = st.fixed_dictionaries(
    {
        "subfolders": st.booleans(),
        "ascii_only": st.booleans(),
        "name_length_max": st.none() | st.integers(12, 255),
        "media_folder": st.sampled_from([None, "/", "/loop"]),
    }
)


@given(PATHS, LAYOUTS, st.sampled_from(["", ".mp4"]))
def test_whatever_they_are_called(paths: list[str], layout: dict[str, Any], suffix: str) -> None:
    profile = Profile.model_validate({"layout": layout})
    found = names_for([Named(path, suffix) for path in paths], profile)
    assert len(found) == len(paths)
    assert in_order(found)
    assert len({same_name(path) for path in found}) == len(found)
    assert not {same_name(path) for path in found} & {same_name(path.rpartition("/")[0]) for path in found}
    for path in found:
        folder, _, name = path.rpartition("/")
        assert [refusal(part) for part in path.split("/")] == [None] * len(path.split("/"))
        assert name.lower().endswith(suffix)
        assert player_looks_in(folder, profile)
        assert path.isascii() or not profile.layout.ascii_only
        assert len(name) <= (profile.layout.name_length_max or 255)


@given(PATHS, LAYOUTS)
def test_names_that_fit_stay(paths: list[str], layout: dict[str, Any]) -> None:
    """A second repair changes nothing."""
    profile = Profile.model_validate({"layout": layout})
    once = names_for([Named(path, ".mp4") for path in paths], profile)
    again = names_for([Named(path, ".mp4") for path in sorted(once, key=path_order)], profile)
    assert list(again) == sorted(once, key=path_order)


def test_folders_are_spelled_as_they_were_where_the_player_looks() -> None:
    profile = player(subfolders=True, ascii_only=True)
    assert folder_for("Spring/Herbs", profile) == "Spring/Herbs"
    assert re.fullmatch(r"[ -~]+", folder_for("Früh|ling", profile))
