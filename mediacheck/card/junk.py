"""Which files and folders desktop systems leave behind on a card, and who leaves them.

It must not open files: only names are looked at.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from types import MappingProxyType

_MAC_VOLUME = "macOS keeps its own notes about a drive here"
_WINDOWS_BIN = "Windows keeps deleted files here"
_LINUX_BIN = "a Linux desktop keeps deleted files here"
_RECOVERED = "a repair of the card left fragments of lost files here"

NAMES: Mapping[str, str] = MappingProxyType(
    {
        # github/gitignore, Global/macOS.gitignore
        ".ds_store": "macOS leaves this file in each folder that was opened in a window",
        "__macosx": "macOS packs this folder into its archives",
        ".appledouble": _MAC_VOLUME,
        ".appledb": _MAC_VOLUME,
        ".appledesktop": _MAC_VOLUME,
        ".lsoverride": _MAC_VOLUME,
        ".documentrevisions-v100": "macOS keeps earlier versions of files here",
        ".fseventsd": "macOS keeps a log of changes here",
        ".spotlight-v100": "macOS keeps its search index here",
        ".temporaryitems": _MAC_VOLUME,
        ".trashes": "macOS keeps deleted files here",
        ".volumeicon.icns": "macOS keeps the icon of a drive here",
        ".com.apple.timemachine.donotpresent": _MAC_VOLUME,
        ".apdisk": _MAC_VOLUME,
        "network trash folder": "macOS keeps deleted files here",
        "temporary items": _MAC_VOLUME,
        # github/gitignore, Global/Windows.gitignore
        "system volume information": "Windows keeps its own notes about a drive here",
        "$recycle.bin": _WINDOWS_BIN,
        "recycler": _WINDOWS_BIN,
        "recycled": _WINDOWS_BIN,  # from memory: the bin of older Windows on FAT
        "thumbs.db": "Windows keeps small previews of pictures here",
        "ehthumbs.db": "Windows keeps small previews of videos here",
        "ehthumbs_vista.db": "Windows keeps small previews of videos here",
        "desktop.ini": "Windows keeps the look of a folder here",
        # Android: seen in many public sources
        "lost.dir": "an Android phone or tablet keeps fragments of lost files here",
        ".thumbnails": "an Android phone or tablet keeps small previews here",
        ".android_secure": "an Android phone or tablet keeps its own files here",
        # Linux: github/gitignore, Global/Linux.gitignore; `lost+found` from memory
        ".directory": "a Linux desktop keeps the look of a folder here",
        "lost+found": "Linux keeps fragments of lost files here",
    }
)
"""Names of files and folders in lower case: FAT and exFAT ignore case."""

PATTERNS: tuple[tuple[re.Pattern[str], str], ...] = tuple(
    (re.compile(pattern, re.IGNORECASE), who)
    for pattern, who in (
        # AppleDouble (RFC 1740; from memory)
        (r"\._.*", "macOS leaves this side file beside each file that it copies"),
        # github/gitignore, Global/macOS.gitignore: "Icon" and a carriage return, which a listing may escape
        (r"Icon(\r|\\r|\\x0d|%0D|␍)", "macOS keeps the icon of a folder here"),
        # Microsoft, chkdsk: File + four digits + .chk; the folder FOUND.nnn is from memory
        (r"FOUND\.\d{3}", _RECOVERED),
        (r"FILE\d{4}\.CHK", _RECOVERED),
        # dosfstools, check.c: FSCK and digits
        (r"FSCK\d{4}\.(\d{3}|REN)", _RECOVERED),
        # freedesktop.org Trash specification 1.0 (from memory): .Trash and .Trash-$uid at the top of a drive
        (r"\.Trash(-\d+)?", _LINUX_BIN),
        # gvfs and FUSE; from memory
        (r"\.goutputstream-\w+", "a Linux desktop was interrupted while it copied this file"),
        (r"\.fuse_hidden[0-9a-f]+", "Linux left this deleted file that was still in use"),
    )
)

ROOT_NAMES: Mapping[str, str] = MappingProxyType(
    {"autorun.inf": "Windows looks here for a program to start"}  # Microsoft, AutoPlay: in the root only
)


def is_junk(path: str) -> str | None:
    """Who left this file and why, in words; None for a file that nobody left behind.

    `path` is relative to the card's root, with `/`. All that lies in a left-over folder is left over too.
    """
    parts = path.split("/")
    at_root = ROOT_NAMES.get(path.lower())
    return at_root or next((who for part in parts if (who := _left_by(part))), None)


def _left_by(name: str) -> str | None:
    known = NAMES.get(name.lower())
    return known or next((who for pattern, who in PATTERNS if pattern.fullmatch(name)), None)
