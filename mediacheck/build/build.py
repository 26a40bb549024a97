"""From a folder to a card: checked, planned, written, read back, and told of in a manifest.

It must not print; each step is one call into the module that does it.
"""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import Executor
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path

from mediacheck.build.fill import Filled, fill
from mediacheck.build.image import require_room, write_image
from mediacheck.build.places import (
    beside_card,
    require_card_place,
    require_image_place,
    require_same_card,
)
from mediacheck.build.plan import (
    Content,
    ImagePlan,
    Wishes,
    check_content,
    content_of,
    plan_image,
    report_on,
    require_names,
)
from mediacheck.build.prove import prove
from mediacheck.build.record import Beside, beside, manifest_of
from mediacheck.build.source import hashed
from mediacheck.build.there import There, what_is_there
from mediacheck.card.model import Card
from mediacheck.errors import OutputError
from mediacheck.manifest.model import ImageName, Manifest
from mediacheck.manifest.record import manifest_text
from mediacheck.manifest.sums import sums_text
from mediacheck.output import partial_writer, write_atomically
from mediacheck.profile_files import LoadedProfile
from mediacheck.report.model import Report
from mediacheck.survey import Options, Surveyed, Watcher, survey
from mediacheck.watching import ByteWatcher


@dataclass(frozen=True, slots=True)
class Order:
    """What to build, from what, for whom."""

    source: Path
    out: Path
    loaded: LoadedProfile
    options: Options
    wishes: Wishes
    even_so: bool = False
    """Build although the check fails."""
    replace: bool = False
    """Write over an earlier output."""
    beside: Beside | None = None
    """Where manifest and sums go; None: beside the output."""


@dataclass(frozen=True, slots=True)
class Watchers:
    """Who is told how far the check and the writing are."""

    files: Watcher
    bytes: ByteWatcher
    executor: Callable[[int], Executor] | None = None
    """Makes the pool that the check runs in, as for `survey`."""


@dataclass(frozen=True, slots=True)
class Built:
    """What came of it. Without a manifest nothing was built, and the report says why."""

    report: Report
    manifest: Manifest | None = None
    beside: Beside | None = None
    filled: Filled | None = None
    """Of a folder that was filled."""


def build_image(order: Order, watchers: Watchers) -> Built:
    """Build a card image. Raises CardError, DoesNotFit, OutputError, WrongUse."""
    names = order.beside or beside(order.out)
    require_image_place(order.source, order.out, names, order.replace)
    surveyed, content, report = _checked_first(order, watchers)
    if _stops(report, order.even_so):
        return Built(report)
    content = _hashed(content)
    plan = plan_image(surveyed, content, order.loaded, order.wishes, order.options.depth)
    if _stops(plan.report, order.even_so):
        return Built(plan.report)
    manifest = write_out(plan, order.out, names, order.even_so, watchers.bytes)
    return Built(plan.report, manifest, names)


def write_out(plan: ImagePlan, out: Path, names: Beside, even_so: bool, watcher: ByteWatcher) -> Manifest:
    """Write a planned image and what tells of it. What tells of an earlier one goes before that one does.

    Raises CardError, OutputError; MediacheckError where the image does not read back as planned.
    """
    require_room(plan, out.absolute().parent)
    with partial_writer(out) as target:
        written = write_image(plan, target, watcher)
        prove(Path(target.name), plan)
        _forget(names)
    image = ImageName(out.name, written.size_bytes, written.sha256)
    manifest = manifest_of(plan.report, plan.content, even_so, image)
    sums = sums_text([(out.name, written.sha256)])
    _tell(names, manifest, sums, "run the same command again with --replace")
    return manifest


def build_folder(order: Order, watchers: Watchers) -> Built:
    """Fill a freshly formatted, mounted card. Raises CardError, OutputError, WrongUse."""
    names = order.beside or beside_card(order.out, order.source)
    require_card_place(order.source, order.out, names)
    earlier = names.manifest if order.replace else None
    there = what_is_there(order.out, earlier)
    surveyed, content, report = _checked_first(order, watchers)
    if not _stops(report, order.even_so):
        card = filled_with(there, content)
        report = report_on(card, content, surveyed, order.loaded, order.options.depth)
    if _stops(report, order.even_so):
        return Built(report)
    require_names(content)
    content = _hashed(content)
    manifest = manifest_of(report, content, order.even_so, None)
    if not order.replace:
        require_same_card(names, manifest)
    filled = fill(content, order.out, order.wishes.times, earlier, watchers.bytes)
    sums = sums_text([(file.path, file.sha256) for file in manifest.files])
    _tell(names, manifest, sums, "format the card, and run the same command again")
    return Built(report, manifest, names, filled)


def filled_with(there: There, content: Content) -> Card:
    """The card as it will be."""
    more_bytes = content.size_bytes - there.old_bytes
    volume = there.card.volume and replace(
        there.card.volume,
        used_bytes=(there.card.volume.used_bytes or 0) + more_bytes,
        free_bytes=max(0, (there.card.volume.free_bytes or 0) - more_bytes),
    )
    return replace(there.card, folders=content.folders, volume=volume, order_known=True)


def _checked_first(order: Order, watchers: Watchers) -> tuple[Surveyed, Content, Report]:
    options = replace(order.options, hash_all=True)
    surveyed = survey(order.source, options, watchers.files, executor=watchers.executor)
    content = content_of(surveyed, order.loaded, order.wishes)
    return surveyed, content, check_content(surveyed, content, order.loaded, options.depth)


def _hashed(content: Content) -> Content:
    """Only with `even_so` there are files whose inspection did not get so far."""
    return replace(content, files=tuple(map(hashed, content.files)))


def _stops(report: Report, even_so: bool) -> bool:
    return report.verdict in ("fail", "incomplete") and not even_so


def _forget(names: Beside) -> None:
    """What told of the image that is about to be replaced would be wrong of the new one."""
    for path in (names.sums, names.manifest):
        with suppress(FileNotFoundError):
            path.unlink()


def _tell(names: Beside, manifest: Manifest, sums: str, then: str) -> None:
    try:
        write_atomically(names.manifest, manifest_text(manifest))
        write_atomically(names.sums, sums)
    except OutputError as error:
        error.advice = f"The card itself is whole, and only this is missing: see to that place, and {then}."
        raise
