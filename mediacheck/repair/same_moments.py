"""Frames of new files at the moments of those that are shown of their masters.

It must not look at what was not to be looked at: without proof, what is new stays unseen.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from fractions import Fraction

from mediacheck.inspection import PICTURE_SIDE_PX
from mediacheck.loop import File
from mediacheck.measure.frames import pictures_at, pictures_of
from mediacheck.measure.model import Picture
from mediacheck.repair.model import Item
from mediacheck.repair.outcome import Result, not_decoded
from mediacheck.repair.picture import begins_s
from mediacheck.report.model import Report

Pictures = Mapping[str, tuple[Picture, ...]]


def pictures_after(results: Sequence[Result], before: Pictures, after: Report) -> Pictures:
    """By path in the copy, which lies where its check has just found it."""
    unseen = {path for _, path in not_decoded(after)}
    files = {file.entry.path: file for file in after.files}
    found = {}
    for result in results:
        item = result.item
        shown, file = before.get(item.source.entry.path, ()), files.get(item.path)
        if shown and file is not None and item.recipe is not None and item.path not in unseen:
            found[item.path] = _of(result, shown, file)
    return found


def _of(result: Result, shown: tuple[Picture, ...], file: File) -> tuple[Picture, ...]:
    recipe = result.item.recipe
    if recipe is not None and recipe.picture is not None and recipe.picture.copied and not recipe.still:
        return shown
    if file.media is None:
        return ()
    location = file.entry.location
    if file.media.video is None:
        return pictures_of(location, file.media, len(shown), long_side_px=PICTURE_SIDE_PX)
    cut_s = _cut_s(result.item)
    moments = [moment for picture in shown if (moment := Fraction(picture.second) - cut_s) >= 0]
    return pictures_at(location, file.media, moments, long_side_px=PICTURE_SIDE_PX)


def _cut_s(item: Item) -> Fraction:
    """What the new file lacks of the head of its master."""
    words = item.recipe.before if item.recipe else ()
    video = item.source.media.video if item.source.media else None
    if "-ss" not in words or video is None:
        return Fraction(0)
    return Fraction(words[words.index("-ss") + 1]) - Fraction(begins_s(video))
