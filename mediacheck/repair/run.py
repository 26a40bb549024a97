"""The whole repair: source and profiles in, a conforming and proved copy for each player out.

It must not print; each step is one call into the module that does it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import Executor
from contextlib import ExitStack
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path

from mediacheck.card.model import Card, Entry
from mediacheck.card.opening import open_card
from mediacheck.check import Checked, check, judged
from mediacheck.media.extensions import kind_by_name
from mediacheck.output import refusal, write_atomically
from mediacheck.profile_files import LoadedProfile
from mediacheck.programs import find_ffmpeg
from mediacheck.repair import batch, staging
from mediacheck.repair.fitting import to_shrink, too_large
from mediacheck.repair.kept import Kept, usual_kept
from mediacheck.repair.model import Ask, Item, Made, NotMade, Wishes
from mediacheck.repair.outcome import Fixed, Planned, Result
from mediacheck.repair.places import Places, places_for, require_apart, require_place
from mediacheck.repair.plan import plan_for
from mediacheck.repair.record import json_text
from mediacheck.repair.task import Task
from mediacheck.report.model import Report
from mediacheck.survey import NoWatcher, Options, Surveyed, Watcher, survey_card

PICTURES = 3
PAGE_ITEMS = 100
"""A page with more items than this shows no frames: it would be too heavy to send."""
Page = Callable[[Fixed], str]
SILENT = NoWatcher()


@dataclass(frozen=True, slots=True)
class Order:
    """What to repair, for whom, and how."""

    source: Path
    profiles: tuple[LoadedProfile, ...]
    wishes: Wishes
    options: Options
    out: Path | None = None
    """None: only a plan is wanted."""


@dataclass(frozen=True, slots=True)
class Helpers:
    """Who is told how far it is, and where the work is done."""

    looking: Watcher = SILENT
    making: Watcher = SILENT
    proving: Watcher = SILENT
    executor: Callable[[int], Executor] | None = None
    """Makes the pool for the new files; None: local worker processes."""
    page: Page | None = None
    """Draws the page; None: none is wanted."""


@dataclass(frozen=True, slots=True)
class _Job:
    """One player, where its copy goes, and what stands there."""

    planned: Planned
    places: Places
    there: Mapping[str, str]


def out_for(out: Path, loaded: LoadedProfile, profiles: Sequence[LoadedProfile]) -> Path:
    """The folder of one player: the one that was named, or one below it by the name of its profile."""
    return out if len(profiles) == 1 else out / loaded.profile.id


def plan(order: Order, helpers: Helpers) -> tuple[Planned, ...]:
    """What would be done, for each player. Raises CardError."""
    return _planned(_surveyed(order, helpers), order)


def fix(order: Order, helpers: Helpers) -> tuple[Fixed, ...]:
    """Do it. Raises CardError, OutputError, WrongUse; whatever cannot be mended is in the answer."""
    if order.out is None:
        raise ValueError("a repair needs a place")
    out, several = order.out, len(order.profiles) > 1
    if several:
        _made_folder(out, order)
    read = [Path(loaded.source) for loaded in order.profiles]
    places = [places_for(out_for(out, loaded, order.profiles)) for loaded in order.profiles]
    there = [require_place(place, order.source, read) for place in places]
    surveyed = _surveyed(order, helpers)
    jobs = [_Job(*job) for job in zip(_planned(surveyed, order), places, there, strict=True)]
    with ExitStack() as stack:
        for job in jobs:
            stack.enter_context(staging.working(job.places))
        answers = _made(jobs, order, helpers)
        return tuple(
            _finished(job, _results(number, job, answers), surveyed, order, helpers)
            for number, job in enumerate(jobs)
        )


def _made_folder(out: Path, order: Order) -> None:
    """The folder that holds those of all players."""
    require_apart(out, order.source)
    try:
        out.mkdir(exist_ok=True)
    except OSError as error:
        raise refusal(out, error) from error


def _surveyed(order: Order, helpers: Helpers) -> Surveyed:
    wanted = PICTURES if helpers.page else 0
    options = replace(
        order.options,
        depth="full",
        hash_all=True,
        pictures=lambda items: wanted if items <= PAGE_ITEMS else 0,
    )
    return survey_card(_opened(order.source), options, helpers.looking)


def _opened(source: Path) -> Card:
    """The card; a single video or still stands for a folder that holds nothing else."""
    if source.is_file() and kind_by_name(source.name) in ("video", "still", "audio"):
        entry = Entry(source.name, source.stat().st_size, 0, source.absolute())
        return Card(str(source), "folder", (entry,))
    return open_card(source)


def _planned(surveyed: Surveyed, order: Order) -> tuple[Planned, ...]:
    found = []
    for loaded in order.profiles:
        report = judged(surveyed, loaded, "full")
        found.append(Planned(loaded, report, plan_for(surveyed, report, loaded, order.wishes)))
    return tuple(found)


def _made(jobs: Sequence[_Job], order: Order, helpers: Helpers) -> dict[batch.Key, batch.Answer]:
    """All that is encoded, wrapped or written anew; what stays as it is gets copied meanwhile."""
    kept = usual_kept() if order.options.use_cache else None
    wanted = [
        _order(number, job, item, order.wishes, kept)
        for number, job in enumerate(jobs)
        for item in job.planned.plan.items
        if item.recipe is not None
    ]

    def copies() -> None:
        for job in jobs:
            for item in job.planned.plan.items:
                if item.recipe is None:
                    staging.copy(item.source, job.places, item.path, job.there)

    for job in jobs:
        staging.clear(job.places, {item.path for item in job.planned.plan.items})
    return dict(batch.make_all(wanted, order.options.jobs, helpers.making, helpers.executor, copies))


def _order(number: int, job: _Job, item: Item, wishes: Wishes, kept: Kept | None) -> batch.Order:
    if item.recipe is None or item.source.media is None:
        raise ValueError("only what has a recipe is made")
    ffmpeg = find_ffmpeg()
    task = Task(
        location=item.source.entry.location,
        facts=item.source.media,
        recipe=item.recipe,
        out=staging.make_room(job.places, item.path).absolute(),
        ffmpeg=ffmpeg.path,
        ffmpeg_version=ffmpeg.version,
        prove=wishes.prove,
        quality_floor=wishes.quality_floor,
        master_sha256=item.source.sha256,
        kept=kept,
    )
    share = max(1, round(item.expected_s * 1e6))
    return batch.Order((number, item.path), item.source.entry.path, share, task)


def _results(number: int, job: _Job, answers: Mapping[batch.Key, batch.Answer]) -> tuple[Result, ...]:
    return tuple(_result(item, answers.get((number, item.path))) for item in job.planned.plan.items)


def _result(item: Item, answer: batch.Answer | None) -> Result:
    if isinstance(answer, NotMade):
        return Result(item, failed=answer)
    if isinstance(answer, Made):
        return Result(item, answer.sha256, answer.size_bytes, answer)
    return Result(item, item.source.sha256 or "", item.source.entry.size_bytes)


def _finished(
    job: _Job, results: tuple[Result, ...], surveyed: Surveyed, order: Order, helpers: Helpers
) -> Fixed:
    """Made to fit, checked whole, brought to its place, with its record and its page."""
    results, asks = _fitted(job, results, order, helpers)
    there = [result for result in results if result.failed is None]
    staging.clear(job.places, {result.item.path for result in there})
    checked = _checked(job, order, helpers) if there else None
    fixed = Fixed(
        planned=job.planned,
        wishes=order.wishes,
        out=job.places.out,
        fixed_at=datetime.now(UTC).replace(microsecond=0),
        results=results,
        after=_placed(checked, job.places) if checked else None,
        asks=(*job.planned.plan.asks, *asks),
        pictures_before=surveyed.pictures,
        pictures_after=checked.pictures if checked else {},
    )
    return _brought(job, fixed, order, helpers)


def _fitted(
    job: _Job, results: tuple[Result, ...], order: Order, helpers: Helpers
) -> tuple[tuple[Result, ...], tuple[Ask, ...]]:
    """Where all together is more than the card holds, the largest videos are made smaller."""
    plan_, profile = job.planned.plan, job.planned.loaded.profile
    smaller = to_shrink(results, plan_, profile, order.wishes)
    if smaller:
        kept = usual_kept() if order.options.use_cache else None
        wanted = [_order(0, job, item, order.wishes, kept) for item in smaller]
        answers = batch.make_all(wanted, order.options.jobs, helpers.making, helpers.executor)
        by_path = {item.path: _result(item, answers[0, item.path]) for item in smaller}
        results = tuple(by_path.get(result.item.path, result) for result in results)
    return results, too_large(results, plan_, profile, order.wishes)


def _checked(job: _Job, order: Order, helpers: Helpers) -> Checked:
    items = len(job.planned.plan.items)
    wanted = PICTURES if helpers.page and items <= PAGE_ITEMS else 0
    _with_folders(job)
    options = replace(order.options, depth="full", hash_all=True, pictures=lambda _: wanted)
    return check(job.places.content, job.planned.loaded, options, helpers.proving)


def _with_folders(job: _Job) -> None:
    for folder in _folders(job):
        (job.places.content / folder).mkdir(parents=True, exist_ok=True)


def _folders(job: _Job) -> tuple[str, ...]:
    """The folder that the player looks in, though it be empty."""
    root = job.planned.loaded.profile.layout.media_root
    return (root,) if root else ()


def _placed(checked: Checked, places: Places) -> Report:
    """The report names the copy by its place, and not by where it was checked."""
    return replace(checked.report, source=str(places.out))


def _brought(job: _Job, fixed: Fixed, order: Order, helpers: Helpers) -> Fixed:
    """In this order, so that at any moment each file in the copy is one that a record lists."""
    places, made = job.places, [result for result in fixed.results if result.failed is None]
    wanted = {result.item.path: result.sha256 for result in made}
    dropped = staging.drop_old(places, job.there, wanted)
    write_atomically(places.record, json_text(fixed))
    if helpers.page is not None:
        write_atomically(places.page, helpers.page(fixed))
    moved = staging.settle(places, job.there, [result.item.path for result in made], _folders(job))
    _remember(job, made, order)
    return replace(fixed, changed=dropped or moved)


def _remember(job: _Job, made: Sequence[Result], order: Order) -> None:
    """Where the new files stand now, so that the next run need not make them again."""
    if not order.options.use_cache:
        return
    kept = usual_kept()
    for result in made:
        if result.made is not None:
            key = _order(0, job, result.item, order.wishes, kept).task.key
            if key is not None:
                kept.keep(key, job.places.out / result.item.path, result.made)
