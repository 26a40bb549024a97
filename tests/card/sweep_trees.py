"""What is on the cards that are swept: names and contents of every kind that a player may meet.

It must not know any file system.
"""

from __future__ import annotations

import random

from tests.card.tsk import LONG_NAME_MAX

EMOJI = "\U0001f331"
STANDS_FOR_EMOJI = "\ue000\ue001"
"""mtools 4.0 cannot write letters beyond 16 bits: these two are turned into the halves of one afterwards."""


def noise(seed: int, length: int) -> bytes:
    """Bytes that look like a film's."""
    return random.Random(seed).randbytes(length)


def few() -> dict[str, bytes]:
    """Names in capitals, in small letters and mixed, as players meet them most; the sizes meet no border."""
    return {
        "LOOP2.MP4": noise(1, 5000),
        "loop1.mp4": noise(2, 1),
        "Spring.mp4": noise(3, 70_001),
        "README": b"Watering products, second face.\r\n",
        "Seeds/LOOP.MP4": noise(4, 4096),
        "Seeds/loop.jpg": noise(5, 511),
        "A.MP4": noise(6, 513),
    }


def names() -> dict[str, bytes]:
    """All that a long name can be."""
    return {
        f"{STANDS_FOR_EMOJI} seedlings.mp4": noise(1, 900),
        "Gießkanne für Tomaten äöüß.mp4": noise(2, 700),
        "園芸の水やり 種まき.mp4": noise(3, 650),
        "Полив и семена.mp4": noise(4, 3000),
        "a.b.c..d.mp4": noise(5, 2),
        "plus+comma,semi;equals=[brackets].mp4": noise(6, 31),
        "thirteen 1234": noise(7, 13),
        "twenty-six characters 1234": noise(8, 26),
        "fourteen 12345": noise(9, 14),
        "n" * (LONG_NAME_MAX - 4) + ".mp4": noise(10, 600),  # 15 pieces, all of them full
        "x" * 251 + ".mp4": noise(11, 1200),
        **{f"the same beginning {number}.mp4": noise(20 + number, number) for number in range(12)},
        f"Ünïcödé folder/{STANDS_FOR_EMOJI}/ΑΒΓ αβγ.mp4": noise(12, 40),
        "İı ſ K.mp4": noise(13, 5),
    }


def empty() -> dict[str, bytes]:
    """Files and folders with nothing in them."""
    return {
        "nothing.mp4": b"",
        "Empty folder/": b"",
        "some.mp4": noise(1, 300),
        "NOTHING2.MP4": b"",
        "Folder/nothing.mp4": b"",
        "Folder/Inside/": b"",
    }


def deep() -> dict[str, bytes]:
    """Folders in folders, each with a file on either side of the next one."""
    tree: dict[str, bytes] = {}
    path = ""
    for depth in range(14):
        tree[f"{path}before {depth}.mp4"] = noise(depth, depth * 37)
        tree[f"{path}D{depth}/first.mp4"] = noise(100 + depth, 700)
        tree[f"{path}after {depth}.mp4"] = noise(200 + depth, 5)
        path += f"D{depth}/"
    return tree


def many() -> dict[str, bytes]:
    """A folder whose list takes several clusters, and lies in more than one piece where they are small."""
    tree = {f"Garden/Watering can number {number:04}.mp4": b"" for number in range(120)}
    tree |= {f"Garden/W{number:04}.MP4": noise(number, 1 + number % 3) for number in range(60)}
    return {"first.mp4": noise(1, 9), **tree, "last.mp4": noise(2, 9)}


def fragments() -> dict[str, bytes]:
    """Small files, of which every other is deleted later on, before large ones are copied into the holes."""
    return {f"Small {number:02}.mp4": noise(number, 2500 + 97 * number) for number in range(40)}


def nothing() -> dict[str, bytes]:
    """A card fresh from the shop."""
    return {}


def sixteen() -> dict[str, bytes]:
    """As many short names as a root folder of 16 entries holds, so that no mark ends it."""
    return {f"L{number}.MP4": noise(number, 40) for number in range(16)}


TREES = {tree.__name__: tree for tree in (few, names, empty, deep, many, fragments, nothing, sixteen)}
LARGE = {"Large one.mp4": noise(77, 60_000), "LARGE2.MP4": noise(78, 45_000)}
"""Copied into the holes that deleted files have left."""
