"""The whole answers between profiles that come with the program."""

from __future__ import annotations

import re

import pytest

from mediacheck.profile_difference import Lack, lacks
from mediacheck.profile_files import bundled_names, load_profile

AVC = "video.codecs.H.264"


def reads_well(lack: Lack) -> None:
    """One sentence for a person, with nothing of the machinery in it."""
    assert re.fullmatch(r"(A|Every|No|The|What) .{30,}[^.\s]\.", lack.message), lack.message
    assert not re.search(r"None|\{|\}|  |[a-z]\. [A-Z]|Fraction", lack.message), lack.message


@pytest.mark.parametrize("name", bundled_names())
def test_a_bundled_profile_lacks_nothing_on_its_own_player(name: str) -> None:
    assert lacks(load_profile(name).profile, load_profile(name).profile) == ()


def test_the_whole_answer_from_full_hd_to_ultra_hd() -> None:
    assert lacks(load_profile("basic-1080p").profile, load_profile("uhd-2160p").profile) == (
        Lack(
            "player.order",
            "disk",
            "name",
            "The player of basic-1080p goes by the order in which the files were copied and this player by "
            "the names of the files, so a card may play in another order.",
            False,
        ),
    )


def test_the_whole_answer_from_full_hd_to_the_photo_frame() -> None:
    found = lacks(load_profile("basic-1080p").profile, load_profile("photo-frame-1024x600").profile)
    assert [(lack.key, lack.in_a, lack.in_b, lack.always) for lack in found] == [
        ("screen.width", "1920x1080 pixels", "1024x600 pixels", True),
        (f"{AVC}.level_max", "4.1", "3.1", True),
        ("video.width_max", "exactly 1920 pixels", "up to 1280 pixels", True),
        ("video.height_max", "exactly 1080 pixels", "up to 720 pixels", True),
        ("player.order", "disk", "name", False),
        ("player.buffer_seconds", "1 s", "0.5 s", False),
        (
            f"{AVC}.profiles",
            "Constrained Baseline, Baseline, Main, High",
            "Constrained Baseline, Baseline",
            False,
        ),
        ("video.bit_rate_max", "20 Mbit/s", "8 Mbit/s", False),
        ("video.bit_rate_peak_max", "25 Mbit/s", "14 Mbit/s", False),
    ]
    assert found[1].message == (
        "Every video in H.264 for basic-1080p has level 4 or more; this player takes level 3.1 at most, so "
        "such a file may not play."
    )
    assert found[2].message == (
        "Every video for basic-1080p has a picture exactly 1920 pixels wide; this player takes up to 1280 "
        "pixels, so it skips such a file or shows it small, cut off or stretched."
    )
    for lack in found:
        reads_well(lack)


MATRIX = {
    ("basic-1080p", "portrait-1080p"): {"screen.turned_degrees"},
    ("portrait-1080p", "basic-1080p"): {"screen.turned_degrees"},
    ("portrait-1080p", "uhd-2160p"): {"screen.turned_degrees", "player.order"},
    ("basic-1080p", "shelf-strip-1920x540"): {"screen.height", "video.height", "video.bit_rate_max"},
    ("shelf-strip-1920x540", "basic-1080p"): {"screen.height", "video.height"},
    ("shelf-strip-1920x540", "uhd-2160p"): {"screen.width", "player.order"},
    ("uhd-2160p", "basic-1080p"): {
        "player.order", "card.file_systems", "card.capacity_max_gb", "card.cluster_bytes_max",
        "layout.name_length_max", "video.codecs", f"{AVC}.level_max", "video.width", "video.height",
        "video.frame_rates", "video.bit_rate_max", "video.bit_rate_peak_max",
    },
    ("photo-frame-1024x600", "basic-1080p"): {
        "screen.width", "player.order", "layout.subfolders", "video.containers", "video.codecs",
        "video.width", "video.height", "audio.codecs", "stills.formats",
    },
}  # fmt: skip


@pytest.mark.parametrize(("names", "expected"), MATRIX.items(), ids=["-to-".join(names) for names in MATRIX])
def test_which_keys_lack_between_bundled_profiles(names: tuple[str, str], expected: set[str]) -> None:
    found = lacks(*(load_profile(name).profile for name in names))
    assert {lack.key for lack in found} == expected
    for lack in found:
        reads_well(lack)
