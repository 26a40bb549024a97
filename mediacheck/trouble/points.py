"""What a profile may say that makes a cause likelier or less likely, or belongs into its words.

It must not know any cause: which point belongs to which is data.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from types import MappingProxyType
from typing import Literal

from mediacheck.profile import Profile
from mediacheck.profile_text import rate_text, value_text
from mediacheck.rules.wording import either, place

Point = Literal[
    "turned", "level", "overscan", "input", "screen-size", "disk-order", "name-order", "file-systems",
    "capacity", "folder", "formats", "picture-size", "frame-rates", "bit-rate", "no-stills", "still-seconds",
    "silent", "sound-wanted", "sound-formats", "loudness", "seamless",
]  # fmt: skip


def said(profile: Profile, point: Point) -> str:
    """What the profile says on a point, as a sentence; empty where it says nothing of the kind."""
    return SAYINGS[point](profile)


def _turned(profile: Profile) -> str:
    degrees = profile.screen.turned_degrees
    how = f"This screen is mounted turned by {degrees} degrees clockwise"
    return f"{how}, so the picture is turned in its files." if degrees else ""


def _level(profile: Profile) -> str:
    """Only where it is written: most profiles that leave it out have not thought of it."""
    written = "turned_degrees" in profile.screen.model_fields_set
    level = written and not profile.screen.turned_degrees
    return "This screen is not turned, so nothing is turned in its files." if level else ""


def _overscan(profile: Profile) -> str:
    percent = profile.screen.overscan_percent
    return (
        f"This screen hides {value_text('percent', percent)} of the picture at each edge." if percent else ""
    )


def _input(profile: Profile) -> str:
    return f"The player is plugged into {profile.screen.input}." if profile.screen.input else ""


def _screen_size(profile: Profile) -> str:
    screen = profile.screen
    return f"This screen has {screen.width} x {screen.height} pixels." if screen.width else ""


def _disk_order(profile: Profile) -> str:
    by_disk = profile.player.order == "disk"
    return "This player goes by the order in which the files were copied." if by_disk else ""


def _name_order(profile: Profile) -> str:
    by_name = profile.player.order == "name" and "order" in profile.player.model_fields_set
    return "This player goes by the names of the files." if by_name else ""


def _file_systems(profile: Profile) -> str:
    systems = profile.card.file_systems
    return f"This player reads cards formatted as {either(systems)}." if systems else ""


def _capacity(profile: Profile) -> str:
    most = profile.card.capacity_max_gb
    return f"This player takes cards of at most {value_text('capacity_max_gb', most)}." if most else ""


def _folder(profile: Profile) -> str:
    root = profile.layout.media_root
    deeper = " and in the folders below it" if profile.layout.subfolders else ""
    return "" if root is None else f"This player looks in {place(root)}{deeper}."


def _formats(profile: Profile) -> str:
    codecs, containers = profile.video.codecs, profile.video.containers
    inside = f" in {either(containers)}" if containers else ""
    return f"This player plays {either(tuple(codecs))}{inside}." if codecs else ""


def _picture_size(profile: Profile) -> str:
    video = profile.video
    if video.width and video.height:
        return f"Videos for this player have {video.width} x {video.height} pixels."
    if video.width_max and video.height_max:
        return f"Videos for this player have at most {video.width_max} x {video.height_max} pixels."
    return ""


def _frame_rates(profile: Profile) -> str:
    rates = profile.video.frame_rates
    return f"This player takes {either([rate_text(rate) for rate in rates])} frames/s." if rates else ""


def _bit_rate(profile: Profile) -> str:
    most = profile.video.bit_rate_max
    return f"Videos for this player take at most {value_text('bit_rate_max', most)}." if most else ""


def _no_stills(profile: Profile) -> str:
    return "This player shows no stills." if profile.stills.formats == () else ""


def _still_seconds(profile: Profile) -> str:
    seconds = profile.stills.seconds
    return f"Each still stays for {value_text('seconds', seconds)}." if seconds else ""


def _silent(profile: Profile) -> str:
    return "The loop for this player is meant to be silent." if profile.audio.use == "none" else ""


def _sound_wanted(profile: Profile) -> str:
    return "The loop for this player is meant to have sound." if profile.audio.use == "required" else ""


def _sound_formats(profile: Profile) -> str:
    codecs = profile.audio.codecs
    return f"This player takes sound as {either(tuple(codecs))}." if codecs else ""


def _loudness(profile: Profile) -> str:
    wanted = profile.audio.loudness_lufs
    return "" if wanted is None else f"Items for this player are {value_text('loudness_lufs', wanted)} loud."


def _seamless(profile: Profile) -> str:
    return "The loop for this player is meant to run without any gap." if profile.loop.seamless else ""


SAYINGS: Mapping[Point, Callable[[Profile], str]] = MappingProxyType(
    {
        "turned": _turned,
        "level": _level,
        "overscan": _overscan,
        "input": _input,
        "screen-size": _screen_size,
        "disk-order": _disk_order,
        "name-order": _name_order,
        "file-systems": _file_systems,
        "capacity": _capacity,
        "folder": _folder,
        "formats": _formats,
        "picture-size": _picture_size,
        "frame-rates": _frame_rates,
        "bit-rate": _bit_rate,
        "no-stills": _no_stills,
        "still-seconds": _still_seconds,
        "silent": _silent,
        "sound-wanted": _sound_wanted,
        "sound-formats": _sound_formats,
        "loudness": _loudness,
        "seamless": _seamless,
    }
)
