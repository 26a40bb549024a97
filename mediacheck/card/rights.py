"""What a person without the right to read a drive directly runs instead, in one sentence.

It must not try anything: it only has words.
"""

from __future__ import annotations

import sys

from mediacheck.card.device import whole_device
from mediacheck.errors import CardError


def how_to_read(source: str, platform: str = sys.platform) -> str:
    r"""What to run to have this device read: a clause, no capital, no full stop.

    `source` is a device as this system names it: /dev/sdb, /dev/disk4, \\.\E:. What is copied is the whole
    drive: an image of a part of it does not show the partition table.
    """
    if platform == "win32":
        return rf"open a terminal as administrator and run the same command on {source}"
    whole = whole_device(source, platform) or source
    if platform == "darwin":
        raw, drive = (name.replace("/dev/disk", "/dev/rdisk") for name in (source, whole))
        return (
            f"run the same command with sudo on {raw}, or copy the card with "
            f"`sudo dd if={drive} of=card.img bs=4m` and check card.img"
        )
    return (
        "run the same command with sudo or as a member of the group disk, or copy the card with "
        f"`sudo dd if={whole} of=card.img bs=4M` and check card.img"
    )


def not_allowed_image(shown: str) -> CardError:
    """The error for an image that a person may not read, which is a file like any other."""
    error = CardError(f"you may not read {shown}")
    error.advice = "Ask whoever made this file for the right to read it, or for a copy of it."
    return error


def not_allowed(shown: str, source: str, platform: str = sys.platform) -> CardError:
    """The error for a device that a person may not read: what is wrong, and as its advice what to run."""
    error = CardError(f"you may not read {shown} directly")
    advice = how_to_read(source, platform)
    error.advice = f"{advice[0].upper()}{advice[1:]}."
    return error
