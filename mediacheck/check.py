"""The main job: a card and a profile in, a report out.

It must not print or decide about exit codes; each step is one call into the room that does it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from concurrent.futures import Executor
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from mediacheck import __version__
from mediacheck.card.model import Card
from mediacheck.card.opening import open_card
from mediacheck.inspection import inspect
from mediacheck.judge import Judgement, judge
from mediacheck.loop import Loop, item_seconds, loop_of
from mediacheck.manifest.expected import Expected
from mediacheck.measure.model import Picture
from mediacheck.names import Depth
from mediacheck.report.model import PlayItem, ProfileName, Report, ScreenShape
from mediacheck.rules.catalogue import RULES
from mediacheck.survey import Inspector, Options, Surveyed, Watcher, survey_card

if TYPE_CHECKING:
    from mediacheck.display_files import DisplayFace
    from mediacheck.profile import Profile
    from mediacheck.profile_files import LoadedProfile


@dataclass(frozen=True, slots=True)
class Checked:
    """The report, and the pictures for its sheet by path."""

    report: Report
    pictures: Mapping[str, tuple[Picture, ...]]


def check(
    source: Path,
    loaded: LoadedProfile,
    options: Options,
    watcher: Watcher | None = None,
    inspector: Inspector = inspect,
    executor: Callable[[int], Executor] | None = None,
    expected: Expected | None = None,
    display: DisplayFace | None = None,
) -> Checked:
    """Check one card. Raises CardError where there is none; whatever is wrong on it is in the report.

    `inspector` and `executor` as for `survey`; `expected` and `display` as for `judge`.
    """
    return check_card(open_card(source), loaded, options, watcher, inspector, executor, expected, display)


def check_card(
    card: Card,
    loaded: LoadedProfile,
    options: Options,
    watcher: Watcher | None = None,
    inspector: Inspector = inspect,
    executor: Callable[[int], Executor] | None = None,
    expected: Expected | None = None,
    display: DisplayFace | None = None,
) -> Checked:
    """The same for a card that is open."""
    by_hash = expected is not None or display is not None
    options = replace(options, hash_all=options.hash_all or by_hash)
    surveyed = survey_card(card, options, watcher, inspector, executor)
    return Checked(judged(surveyed, loaded, options.depth, expected, display), surveyed.pictures)


def judged(
    surveyed: Surveyed,
    loaded: LoadedProfile,
    depth: Depth,
    expected: Expected | None = None,
    display: DisplayFace | None = None,
) -> Report:
    """The report on a card that was surveyed at this depth, for one player: it opens nothing again."""
    card = surveyed.card
    loop = loop_of(surveyed.files, loaded.profile, card.order_known)
    judgement = judge(RULES, card, loop, loaded.profile, depth, expected, display)
    report = _report(card, loop, judgement, loaded, depth)
    return replace(report, display=display.display.display.id, face=display.face.name) if display else report


def _report(card: Card, loop: Loop, judgement: Judgement, loaded: LoadedProfile, depth: Depth) -> Report:
    profile = loaded.profile
    failed = {finding.path for finding in judgement.findings if finding.severity == "fail"}
    return Report(
        version=__version__,
        checked_at=datetime.now(UTC).replace(microsecond=0),
        depth=depth,
        profile=ProfileName(profile.id, profile.title, loaded.sha256),
        screen=screen_shape(profile),
        verdict=judgement.verdict,
        source=card.source,
        kind=card.kind,
        volume=card.volume,
        order_known=card.order_known,
        disk_order=profile.player.order == "disk",
        files=loop.files,
        items=tuple(
            PlayItem(item.entry.path, item_seconds(item, profile), item.entry.path in failed)
            for item in loop.items
        ),
        loop_seconds=loop.seconds,
        findings=judgement.findings,
        checks=judgement.checks,
        not_checked=judgement.not_checked,
        notes=card.notes,
    )


def screen_shape(profile: Profile) -> ScreenShape:
    """What a sheet needs to know of the screen that a profile describes."""
    screen = profile.screen
    return ScreenShape(screen.width, screen.height, screen.overscan_percent, screen.turned_degrees)
