"""Where files lie and what they are called: what may be so on a card for A that B does not find or take.

It must not match a real file: only wildcards and folders are held against each other.
"""

from __future__ import annotations

from collections.abc import Iterator
from fnmatch import fnmatchcase

from mediacheck.media.extensions import kind_by_name
from mediacheck.profile import Layout, Profile
from mediacheck.profile_difference.containment import above, span
from mediacheck.profile_difference.model import Lack, Share
from mediacheck.profile_difference.wording import Values, lack, name_of, said
from mediacheck.profile_text import value_text

WILD = frozenset("*?[")
MEDIA = ("video", "still")


def layout_lacks(a: Profile, b: Profile) -> Iterator[Lack]:
    """What the files on the card lack, whatever is in them."""
    yield from _places(a, b)
    yield from _other_files(a, b)
    yield from _required_files(a, b)
    yield from _names(a, b)


def _places(a: Profile, b: Profile) -> Iterator[Lack]:
    share = _outside_places(a.layout, b.layout)
    if share is None:
        return
    only_deeper = a.layout.subfolders and not b.layout.subfolders and _same_root(a.layout, b.layout)
    key = "subfolders" if only_deeper else "media_folder"
    where = "a folder below " if only_deeper else ""
    looks = _place(b.layout) + ("" if b.layout.subfolders else " and in no folder below it")
    lies = f"Every file for {name_of(a)} lies" if share == "every" else f"A file for {name_of(a)} may lie"
    yield said(
        f"layout.{key}",
        share,
        value_text(key, getattr(a.layout, key)),
        value_text(key, getattr(b.layout, key)),
        f"{lies} in {where}{_place(a.layout)}; this player looks only in {looks}, so such a file is never "
        "shown.",
    )


def _root(layout: Layout) -> str | None:
    return None if layout.media_root is None else layout.media_root.casefold()


def _same_root(a: Layout, b: Layout) -> bool:
    return a.media_root is not None and _root(a) == _root(b)


def _place(layout: Layout) -> str:
    if layout.media_root is None:
        return "any folder"
    return f'the folder "{layout.media_root}"' if layout.media_root else "the root of the card"


def _outside_places(a: Layout, b: Layout) -> Share | None:
    """How many of the folders in which A's player looks B's does not. Case is ignored, as FAT does."""
    (root_a, deep_a), (root_b, deep_b) = _reach(a), _reach(b)
    if (root_a == root_b or (deep_b and _below(root_a, root_b))) and (deep_b or not deep_a):
        return None
    meet = root_a == root_b or (deep_b and _below(root_a, root_b)) or (deep_a and _below(root_b, root_a))
    return "some" if meet else "every"


def _reach(layout: Layout) -> tuple[str, bool]:
    """The folder, and whether those below it count too; no folder named is the root with all below it."""
    root = _root(layout)
    return ("", True) if root is None else (root, layout.subfolders)


def _below(folder: str, root: str) -> bool:
    return root == "" or folder.startswith(f"{root}/")


def _other_files(a: Profile, b: Profile) -> Iterator[Lack]:
    carried = [path for path in a.layout.required_files if kind_by_name(path) not in MEDIA]
    missed = [path for path in carried if not _welcome(path, b.layout, at_one_place=True)]
    allowed = a.layout.other_files
    extra = (
        (None if not _welcome("*", b.layout, False) else [])
        if allowed is None
        else [each for each in allowed if not _welcome(each, b.layout, "/" in each)]
    )
    texts = [value_text("other_files", each.layout.other_files) for each in (a, b)]
    if b.layout.other_files is not None and (missed or extra is None or extra):
        what = ", ".join(missed) if missed else "any other file" if extra is None else ", ".join(extra or ())
        holds = "Every card" if missed else "A card"
        yield said(
            "layout.other_files",
            "every" if missed else "some",
            texts[0],
            texts[1],
            f"{holds} for {name_of(a)} {'holds' if missed else 'may hold'} {what}; this player has no use "
            "for that, and some players stop or show a message when they meet such a file.",
        )
    elif media := [
        each for each in extra or () if _may_be_media(each) and _outside_places(Layout(), b.layout)
    ]:
        yield said(
            "layout.other_files",
            "some",
            texts[0],
            texts[1],
            f"A card for {name_of(a)} may hold {', '.join(media)} outside its media folder; for this player "
            "such a file is a video or still in the wrong place, which is never shown.",
        )


def _may_be_media(pattern: str) -> bool:
    ending = pattern.rpartition(".")[2]
    return kind_by_name(pattern) in MEDIA or "." not in pattern or bool(WILD & set(ending))


def _welcome(pattern: str, layout: Layout, at_one_place: bool) -> bool:
    """Whether all that a wildcard stands for is allowed; only plain cases can be told.

    One without a slash stands for a name in any folder, unless it is a path `at_one_place`.
    """
    one = pattern.strip("/").casefold()
    required = [path.strip("/").casefold() for path in layout.required_files]
    return (at_one_place and one in required) or any(
        _stands_in(one, other, at_one_place) for other in layout.other_files or ()
    )


def _stands_in(one: str, written: str, at_one_place: bool) -> bool:
    """Whether every name of the one wildcard is one of the other: equal, plain, or `*` and an end."""
    other, by_path = written.strip("/").casefold(), "/" in written
    if other == "*":
        return True
    if by_path and not at_one_place:
        return False
    if one == other:
        return True
    if not WILD & set(one):
        return fnmatchcase(one if by_path else one.rpartition("/")[2], other)
    ending = other.removeprefix("*")
    plain = other.startswith("*") and not WILD & set(ending) and not by_path
    return plain and "[" not in one and one.endswith(ending)


def _required_files(a: Profile, b: Profile) -> Iterator[Lack]:
    there = {path.strip("/").casefold() for path in a.layout.required_files}
    missing = [path for path in b.layout.required_files if path.strip("/").casefold() not in there]
    if not missing:
        return
    refused = a.layout.other_files is not None and any(
        kind_by_name(path) == "other" and not _could_be(path, a.layout) for path in missing
    )
    texts = [value_text("required_files", each.layout.required_files) for each in (a, b)]
    lacks = "Every card" if refused else "A card"
    yield said(
        "layout.required_files",
        "every" if refused else "some",
        texts[0],
        texts[1],
        f"{lacks} for {name_of(a)} {'is' if refused else 'may be'} without {', '.join(missing)}; this player "
        "needs that, so the screen may stay black.",
    )


def _could_be(path: str, layout: Layout) -> bool:
    name = path.strip("/").casefold()
    return any(
        fnmatchcase(name if "/" in each else name.rpartition("/")[2], each.strip("/").casefold())
        for each in layout.other_files or ()
    )


def _names(a: Profile, b: Profile) -> Iterator[Lack]:
    most_a, most_b = a.layout.name_length_max, b.layout.name_length_max
    if share := above(span(None, most_a), span(None, most_b)):
        text = value_text("name_length_max", most_a)
        values = Values(text, value_text("name_length_max", most_b), None if most_a is None else text)
        yield lack(a, "layout.name_length_max", share, values)
    if b.layout.ascii_only and not a.layout.ascii_only:
        yield said(
            "layout.ascii_only",
            "some",
            "no",
            "yes",
            f"A file for {name_of(a)} may have letters beyond plain English in its name; this player takes "
            "only those (ASCII), so it may skip such a file.",
        )
    left, right = a.layout.name_pattern, b.layout.name_pattern
    if right is not None and left != right:
        named = (
            f"may have any name; this player takes only names that match {right}"
            if left is None
            else f"has a name that matches {left}; this player takes names that match {right}, and whether "
            "every such name does cannot be told"
        )
        yield said(
            "layout.name_pattern",
            "some",
            value_text("name_pattern", left),
            value_text("name_pattern", right),
            f"A file for {name_of(a)} {named}, so it may skip the file.",
        )
