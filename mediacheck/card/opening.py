"""From a path to a card: a folder, a mounted drive, a raw device or an image of one.

It must not read any of them: it only finds out what the path is, and hands it to the room's reader for it.
"""

from __future__ import annotations

import os
import stat
import sys
from pathlib import Path

from mediacheck.card.device import raw_name, windows_device
from mediacheck.card.folder import Progress, open_folder, printable, whole_drive
from mediacheck.card.model import Card
from mediacheck.card.mounted import as_drive
from mediacheck.card.mounts import System, mount_at
from mediacheck.card.rights import not_allowed, not_allowed_image
from mediacheck.errors import CardError
from mediacheck.names import CardKind


def open_card(path: Path, progress: Progress | None = None, system: System | None = None) -> Card:
    """Open and list whatever the path names. CardError where there is no card, or one that may not be read.

    What is wrong with the card itself is in the card: its damage, and why its files could not be listed.
    """
    system = system or System()
    device = windows_device(str(path))
    if device:
        return _raw(device, "device", progress, system)
    mode = _mode(path)
    if mode is None or stat.S_ISDIR(mode):
        return _folder(path, progress, system)
    if stat.S_ISREG(mode):
        return _raw(str(path.absolute()), "image", progress, system, str(path))
    if stat.S_ISBLK(mode) or (stat.S_ISCHR(mode) and sys.platform != "linux"):  # macOS: /dev/rdisk4
        return _raw(os.path.realpath(path), "device", progress, system, str(path))
    return open_folder(path, progress)  # says what is wrong with it


def _mode(path: Path) -> int | None:
    """What the path leads to; None where the system cannot say."""
    try:
        return whole_drive(path).stat().st_mode
    except (OSError, ValueError):
        return None


def _folder(path: Path, progress: Progress | None, system: System) -> Card:
    try:
        card = open_folder(path, progress)
    except CardError:
        if not _is_drive_letter(path):
            raise
        return _raw(
            raw_name(str(path)), "device", progress, system, str(path)
        )  # a drive that Windows cannot read
    mount = mount_at(whole_drive(path), system)
    return as_drive(card, mount, system) if mount else card


def _is_drive_letter(path: Path) -> bool:
    return raw_name(str(path)) != str(path) and sys.platform == "win32"


def _raw(
    source: str, kind: CardKind, progress: Progress | None, system: System, given: str | None = None
) -> Card:
    shown = printable(given or source)
    try:
        card = system.raw(source, shown, kind)
    except PermissionError as error:
        raise _refused(shown, source, kind) from error
    except FileNotFoundError as error:
        raise CardError(f"there is nothing at {shown}") from error
    except OSError as error:
        raise CardError(f"{shown} cannot be read: {error.strerror or error}") from error
    if progress:
        progress(len(card.entries))
    return card


def _refused(shown: str, source: str, kind: CardKind) -> CardError:
    return not_allowed(shown, source) if kind == "device" else not_allowed_image(shown)
