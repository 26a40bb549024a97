"""What a profile says on each point, as sentences."""

from __future__ import annotations

from typing import Any, get_args

import pytest

from mediacheck.profile import Profile
from mediacheck.trouble.points import SAYINGS, Point, said
from tests.rules.make import bare_profile
from tests.trouble.make import profile

BASIC = profile()


def test_every_point_has_its_words() -> None:
    assert set(SAYINGS) == set(get_args(Point))


def test_a_profile_that_says_nothing_says_nothing() -> None:
    assert {point: said(Profile(), point) for point in SAYINGS} == dict.fromkeys(SAYINGS, "")


@pytest.mark.parametrize(
    ("point", "sections", "expected"),
    [
        ("turned", {"screen": {"turned_degrees": 270}},
         "This screen is mounted turned by 270 degrees clockwise, so the picture is turned in its files."),
        ("turned", {"screen": {"turned_degrees": 0}}, ""),
        ("level", {"screen": {"turned_degrees": 0}},
         "This screen is not turned, so nothing is turned in its files."),
        ("level", {"screen": {"turned_degrees": 90}}, ""),
        ("overscan", {"screen": {"overscan_percent": 2.5}},
         "This screen hides 2.5 % of the picture at each edge."),
        ("input", {"screen": {"input": "HDMI 1"}}, "The player is plugged into HDMI 1."),
        ("screen-size", {"screen": {"width": 1024, "height": 600}}, "This screen has 1024 x 600 pixels."),
        ("disk-order", {"player": {"order": "disk"}},
         "This player goes by the order in which the files were copied."),
        ("name-order", {"player": {"order": "name"}}, "This player goes by the names of the files."),
        ("name-order", {"player": {"order": "disk"}}, ""),
        ("file-systems", {"card": {"file_systems": ["FAT32", "exFAT"]}},
         "This player reads cards formatted as FAT32 or exFAT."),
        ("capacity", {"card": {"capacity_max_gb": 32.0}}, "This player takes cards of at most 32 GB."),
        ("folder", {"layout": {"media_folder": "/", "subfolders": False}},
         "This player looks in the root of the card."),
        ("folder", {"layout": {"media_folder": "/media"}},
         'This player looks in the folder "media" and in the folders below it.'),
        ("formats", {"video": {"codecs": {"H.264": {}}, "containers": ["MP4", "MKV"]}},
         "This player plays H.264 in MP4 or MKV."),
        ("picture-size", {"video": {"width": 1920, "height": 540}},
         "Videos for this player have 1920 x 540 pixels."),
        ("picture-size", {"video": {"width_max": 1280, "height_max": 720}},
         "Videos for this player have at most 1280 x 720 pixels."),
        ("frame-rates", {"video": {"frame_rates": [25, 29.97]}}, "This player takes 25 or 29.97 frames/s."),
        ("bit-rate", {"video": {"bit_rate_max": 20_000_000}},
         "Videos for this player take at most 20 Mbit/s."),
        ("no-stills", {"stills": {"formats": []}}, "This player shows no stills."),
        ("no-stills", {"stills": {"formats": ["JPEG"]}}, ""),
        ("still-seconds", {"stills": {"seconds": 10.0}}, "Each still stays for 10 s."),
        ("silent", {"audio": {"use": "none"}}, "The loop for this player is meant to be silent."),
        ("sound-wanted", {"audio": {"use": "required"}}, "The loop for this player is meant to have sound."),
        ("sound-formats", {"audio": {"codecs": {"AAC": {}, "MP3": {}}}},
         "This player takes sound as AAC or MP3."),
        ("loudness", {"audio": {"loudness_lufs": -23.0}}, "Items for this player are -23 LUFS loud."),
        ("seamless", {"loop": {"seamless": True}},
         "The loop for this player is meant to run without any gap."),
    ],
)  # fmt: skip
def test_a_point_is_a_sentence(point: Point, sections: dict[str, Any], expected: str) -> None:
    assert said(bare_profile(**sections), point) == expected
