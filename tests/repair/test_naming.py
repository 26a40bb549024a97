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
from mediacheck.repair.naming import Named, folder_for, names_for


def player(**layout: Any) -> Profile:
    return Profile.model_validate({"layout": {"media_folder": "/", "subfolders": False, **layout}})


def named(profile: Profile, *paths: str, suffix: str = "") -> tuple[str | None, ...]:
    return names_for([Named(path, suffix) for path in paths], profile)


@pytest.mark.parametrize(
    ("old", "suffix", "layout", "new"),
    [
        ("a.mp4", "", {}, "a.mp4"),
        ("a.MP4", ".mp4", {}, "a.MP4"),
        ("a.mov", ".mp4", {}, "a.mp4"),
        ("a", ".mp4", {}, "a.mp4"),
        ("spring 2.0", ".mp4", {}, "spring 2.mp4"),
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
        ("clip.mp4", "", {"name_pattern": r"[A-Z0-9]+\.MP4"}, "01.MP4"),
        ("clip.mp4", "", {"name_pattern": "never"}, None),
    ],
)
def test_one_name(old: str, suffix: str, layout: dict[str, Any], new: str | None) -> None:
    assert named(player(**layout), old, suffix=suffix) == (new,)


def test_two_that_a_card_cannot_tell_apart() -> None:
    assert named(player(), "a.mp4", "A.mp4") == ("a.mp4", "A_2.mp4")
    assert named(player(), "x/a.mp4", "y/a.mp4") == ("a.mp4", "a_2.mp4")


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


@given(PATHS, LAYOUTS)
def test_whatever_they_are_called(paths: list[str], layout: dict[str, Any]) -> None:
    profile = Profile.model_validate({"layout": layout})
    found = names_for([Named(path, ".mp4") for path in paths], profile)
    assert len(found) == len(paths)
    names = [path for path in found if path is not None]
    assert len(names) == len(paths), "without a form of names there is always one"
    assert len({same_name(path) for path in names}) == len(names)
    for path in names:
        folder, _, name = path.rpartition("/")
        assert refusal(name) is None
        assert name.lower().endswith(".mp4")
        assert player_looks_in(folder, profile)
        assert path.isascii() or not profile.layout.ascii_only
        assert len(name) <= (profile.layout.name_length_max or 255)
    inside = [path for path in names if "/" not in path.removeprefix("loop/")]
    assert [path_order(path) for path in inside] == sorted(path_order(path) for path in inside)


@given(PATHS, LAYOUTS)
def test_names_that_fit_stay(paths: list[str], layout: dict[str, Any]) -> None:
    """A second repair changes nothing."""
    profile = Profile.model_validate({"layout": layout})
    once = [path or "" for path in names_for([Named(path, ".mp4") for path in paths], profile)]
    again = names_for([Named(path, ".mp4") for path in sorted(once, key=path_order)], profile)
    assert list(again) == sorted(once, key=path_order)


def test_folders_are_spelled_as_they_were_where_the_player_looks() -> None:
    profile = player(subfolders=True, ascii_only=True)
    assert folder_for("Spring/Herbs", profile) == "Spring/Herbs"
    assert re.fullmatch(r"[ -~]+", folder_for("Früh|ling", profile))
