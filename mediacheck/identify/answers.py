"""The answer to which loop a photo, or several of one screen, shows; and when no answer can be given, why.

It must not read files or word more than one reason.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import cv2
import numpy as np
from numpy.typing import NDArray

from mediacheck.identify.contest import Contest, contest
from mediacheck.identify.decide import Ranked, certainty_row, probability, rank
from mediacheck.identify.gallery import Gallery
from mediacheck.identify.photos import Look, look
from mediacheck.identify.verify import agreement

Answer = Literal["match", "one of", "other version", "none", "retake"]
SURE = 0.7
"""Probability from which a loop is named."""
SAME_GOOD, SAME_PATCH, SAME_ROW = 0.97, 0.8, 0.93
"""Two pictures of the library from which on a photo could not tell them apart."""
FITS_GOOD, FITS_SPREAD, FITS_INLIERS = 0.55, 0.4, 15
"""A picture that fits as well as this and is not sure shows another version of its loop."""
UNSEEN = -6.0
"""Score of a loop that was not seen at all in one of several photos."""
DARK, SMALL_SHARE, BLURRED = 22.0, 0.04, 12.0
PARTLY = 0.75
"""Of a screen, less than this is in the photo."""


@dataclass(frozen=True, slots=True)
class LoopSeen:
    """A loop that a photo may show. `seconds`: from and to in its round."""

    loop: int
    seconds: tuple[float, float]
    probability: float


@dataclass(frozen=True, slots=True)
class PhotoAnswer:
    """What photos of one screen show. `reason`: one sentence."""

    answer: Answer
    reason: str
    loops: tuple[LoopSeen, ...]
    """The likeliest first; with "one of", all that look the same at that moment."""
    best: Ranked | None
    looks: tuple[Look, ...]
    shown_in: int = 0
    """Which of the photos `best` is of."""


def answer_photos(photos: Sequence[NDArray[np.uint8]], gallery: Gallery) -> PhotoAnswer:
    """Look at photos of one screen, RGB, taken a few seconds apart; what each shows adds up."""
    looks = tuple(look(photo, gallery) for photo in photos)
    each = [rank(one, gallery) for one in looks]
    contests = [
        contest(one, ranked, gallery) if ranked else None for one, ranked in zip(looks, each, strict=True)
    ]
    each = [_won(ranked, found) for ranked, found in zip(each, contests, strict=True)]
    totals = _totals(each)
    if not totals:
        return PhotoAnswer(*_nothing(looks), (), None, looks)
    order = sorted(totals, key=lambda loop: -totals[loop])
    best_loop = order[0]
    where, best = _clearest(each, best_loop)
    same = _same_moment(best, gallery)
    certainty = _together(each, contests, best_loop, same)
    seen = _seen(best, gallery, certainty)
    if certainty >= SURE:
        if same:
            loops = (seen, *(LoopSeen(loop, seconds, certainty) for loop, seconds in same.items()))
            reason = f"{len(loops)} loops show the same at that moment."
            return PhotoAnswer("one of", reason, loops, best, looks, where)
        return PhotoAnswer("match", "The picture fits, all over.", (seen,), best, looks, where)
    answer, reason = _unsure(best, looks[where])
    return PhotoAnswer(answer, reason, (seen,) if answer == "other version" else (), best, looks, where)


def _won(ranked: list[Ranked], found: Contest | None) -> list[Ranked]:
    """With the winner of the contest in front, whatever its score was."""
    if found is None or ranked[0].loop == found.best.loop:
        return ranked
    winner = replace(found.best, score=max(found.best.score, ranked[0].score + 0.01))
    return [winner, *(one for one in ranked if one.loop != winner.loop)]


def _totals(each: Sequence[Sequence[Ranked]]) -> dict[int, float]:
    """Of each loop that any photo shows, the sum of its scores."""
    loops = {one.loop for ranked in each for one in ranked}
    scores = [{one.loop: one.score for one in ranked} for ranked in each]
    return {loop: sum(max(UNSEEN, of.get(loop, UNSEEN)) for of in scores) for loop in loops}


def _clearest(each: Sequence[Sequence[Ranked]], loop: int) -> tuple[int, Ranked]:
    found = [(n, one) for n, ranked in enumerate(each) for one in ranked if one.loop == loop]
    return max(found, key=lambda item: item[1].score)


def _together(
    each: Sequence[Sequence[Ranked]],
    contests: Sequence[Contest | None],
    loop: int,
    same: dict[int, tuple[float, float]],
) -> float:
    """The odds of all photos multiplied; one in which another loop won counts against this one."""
    total = 0.0
    for ranked, found in zip(each, contests, strict=True):
        if found is None:
            continue
        won = found.best.loop == loop or found.best.loop in same
        rivals = [one for one in ranked if one.loop != found.best.loop and one.loop not in same]
        chance = probability(certainty_row(found.best, rivals, found.lead, found.agreement.strange))
        odds = float(np.log(max(1e-4, chance) / max(1e-4, 1 - chance)))
        total += odds if won else -max(0.0, odds)
    return float(1 / (1 + np.exp(-total)))


def _same_moment(best: Ranked, gallery: Gallery) -> dict[int, tuple[float, float]]:
    """Other loops with a picture that no photo could tell from this one."""
    place = best.sight.keyframe
    mine = gallery.keyframes[place]
    alike = np.flatnonzero(gallery.rows @ gallery.rows[place] > SAME_ROW)
    found: dict[int, tuple[float, float]] = {}
    inside = np.ones(mine.small.shape[:2], bool)
    for other in alike.tolist():
        spot = gallery.spots[other]
        if spot.loop == best.loop or spot.loop in found:
            continue
        both = agreement(gallery.keyframes[other].small, inside, mine.small, gallery.fine(place))
        if both.good >= SAME_GOOD and both.patch >= SAME_PATCH:
            found[spot.loop] = (spot.from_s, spot.until_s)
    return found


def _seen(best: Ranked, gallery: Gallery, certainty: float) -> LoopSeen:
    spot = gallery.spots[best.sight.keyframe]
    return LoopSeen(best.loop, (spot.from_s, spot.until_s), certainty)


def _unsure(best: Ranked, seen: Look) -> tuple[Answer, str]:
    found = best.sight
    fits = found.agreement.good >= FITS_GOOD and found.spread >= FITS_SPREAD
    if fits and found.inliers >= FITS_INLIERS:
        return "other version", "The picture fits but for a part of it: another version, or one made like it."
    return _nothing((seen,), best)


def _nothing(looks: Sequence[Look], best: Ranked | None = None) -> tuple[Answer, str]:
    """Nothing was found: because of the photo, or because no loop of the library is on the screen."""
    photo = looks[-1].photo
    grey = cv2.cvtColor(photo, cv2.COLOR_RGB2GRAY)
    if float(np.percentile(grey, 95)) < DARK * 2 and float(grey.mean()) < DARK:
        return (
            "retake",
            "The photo is too dark: go closer, so that the screen fills it.",
        )
    if float(cv2.Laplacian(grey, cv2.CV_64F).var()) < BLURRED:
        return "retake", "The photo is blurred: hold the phone still, or rest it on something."
    share = _largest(looks[-1])
    if share is not None and share < SMALL_SHARE:
        return "retake", "The screen is too small in the photo: go closer."
    if best is not None and best.sight.inside < PARTLY and best.sight.agreement.good > 0.3:
        return "retake", "Only a part of the screen is in the photo: step back until all of it is."
    return "none", "None of the loops that are known here is to be seen on the screen."


def _largest(seen: Look) -> float | None:
    """Share of the photo that the largest screen in it takes."""
    if not seen.screens:
        return None
    height, width = seen.photo.shape[:2]
    return float(cv2.contourArea(seen.screens[0])) / float(height * width)
