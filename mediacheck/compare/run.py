"""The comparison whole: two cards in, their differences out, the likeliest to stop playback first.

It must not print, and each step is one call into the module that does it.
"""

from __future__ import annotations

import os
from collections.abc import Callable
from contextlib import AbstractContextManager, nullcontext
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

from mediacheck import __version__
from mediacheck.card.opening import open_card
from mediacheck.check import judged
from mediacheck.compare.contents import compare_contents
from mediacheck.compare.defects import defects_of, unchecked, with_defects
from mediacheck.compare.found import Found, gathered
from mediacheck.compare.gaps import gaps_of
from mediacheck.compare.items import compare_items
from mediacheck.compare.layout import compare_folders, compare_order
from mediacheck.compare.model import Comparison, Match, Side
from mediacheck.compare.naming import compare_names
from mediacheck.compare.pairing import Pairing, pairing
from mediacheck.compare.volumes import compare_volumes
from mediacheck.compare.weight import ranked
from mediacheck.errors import WrongUse
from mediacheck.inspection import sha256_of
from mediacheck.loop import File
from mediacheck.names import Depth
from mediacheck.profile import Profile
from mediacheck.profile_files import LoadedProfile
from mediacheck.report.model import ProfileName
from mediacheck.survey import NoWatcher, Options, Surveyed, Watcher, survey

UNRESTRICTED = LoadedProfile(Profile(), "no profile", "0" * 64)
"""Restricts nothing: only the rules that hold for every player find anything."""
ITEMS = ("video", "still")
Watching = Callable[[], AbstractContextManager[Watcher]]


def compare(
    good: Path,
    bad: Path,
    loaded: LoadedProfile | None,
    options: Options,
    watching: Watching = lambda: nullcontext(NoWatcher()),
) -> Comparison:
    """Look at both cards and compare them. Raises CardError where one is none, WrongUse where both are one.

    `watching` gives one watcher for each card.
    """
    refuse_same_place(good, bad)
    open_card(bad)  # so that a slip in its name is told before the good card has been decoded
    surveys = []
    for source in (good, bad):
        with watching() as watcher:
            surveys.append(survey(source, options, watcher))
    return compare_surveyed(*hashed(*surveys), loaded, options.depth)


def refuse_same_place(good: Path, bad: Path) -> None:
    """Raises WrongUse where both names lead to one place."""
    if os.path.realpath(good) == os.path.realpath(bad) or _same_file(good, bad):
        raise WrongUse(f"{good} and {bad} are the same place: name two cards to compare.")


def _same_file(good: Path, bad: Path) -> bool:
    try:
        return good.samefile(bad)
    except OSError:  # one is not there: opening it will say so
        return False


def hashed(good: Surveyed, bad: Surveyed) -> tuple[Surveyed, Surveyed]:
    """Both, with the SHA-256 of files that may be the same: those whose size is on both cards.

    At quick depth a survey hashes only what may be twice on its own card.
    """
    shared = {file.entry.size_bytes for file in good.files} & {file.entry.size_bytes for file in bad.files}
    return _hashed(good, shared), _hashed(bad, shared)


def _hashed(surveyed: Surveyed, sizes_bytes: set[int]) -> Surveyed:
    files = (_with_hash(file) if file.entry.size_bytes in sizes_bytes else file for file in surveyed.files)
    return replace(surveyed, files=tuple(files))


def _with_hash(file: File) -> File:
    if file.sha256 or file.kind == "junk" or file.entry.unusable is not None:
        return file
    try:
        return replace(file, sha256=sha256_of(file.entry.location))
    except OSError:  # then it is told that the bytes were not compared
        return file


def compare_surveyed(good: Surveyed, bad: Surveyed, loaded: LoadedProfile | None, depth: Depth) -> Comparison:
    """Compare two cards that were surveyed at this depth: it opens nothing again."""
    unlisted = bool(good.card.unlisted or bad.card.unlisted)
    pairs = Pairing((), (), ()) if unlisted else pairing(good.files, bad.files)
    order = loaded.profile.player.order if loaded else None
    looks = [compare_volumes(good.card, bad.card)]
    if not unlisted:
        looks += [
            compare_folders(good.card, bad.card, good.files),
            compare_order(good.card, bad.card, pairs.pairs, order),
            Found(compare_names(pairs, good.files)),
            compare_items(pairs),
            compare_contents(pairs, good.files, bad.files),
        ]
    found = gathered(looks)
    judge = loaded or UNRESTRICTED
    reports = judged(good, judge, depth), judged(bad, judge, depth)
    defects = defects_of(*reports, pairs, good_listed=not good.card.unlisted)
    differences = with_defects(found.differences, defects, profiled=loaded is not None)
    return Comparison(
        version=__version__,
        compared_at=datetime.now(UTC).replace(microsecond=0),
        depth=depth,
        profile=_named(loaded),
        good=_side(good),
        bad=_side(bad),
        differences=ranked(differences, [file.entry.path for file in bad.files]),
        matched=tuple(Match(each.good.entry.path, each.bad.entry.path, each.how) for each in pairs.pairs),
        same=found.same,
        not_compared=tuple(
            dict.fromkeys(
                (
                    *found.gaps,
                    *gaps_of(good, bad, pairs, depth),
                    *unchecked(reports, (good, bad), pairs),
                )
            )
        ),
    )


def _named(loaded: LoadedProfile | None) -> ProfileName | None:
    return ProfileName(loaded.profile.id, loaded.profile.title, loaded.sha256) if loaded else None


def _side(surveyed: Surveyed) -> Side:
    card = surveyed.card
    items = sum(file.kind in ITEMS for file in surveyed.files)
    return Side(card.source, card.kind, card.volume, len(surveyed.files), items, card.notes)
