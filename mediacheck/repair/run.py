"""The whole repair: source and profiles in, a conforming and proved copy for each player out.

It must not print; each step is one call into the module that does it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from contextlib import AbstractContextManager, ExitStack, nullcontext
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path

from mediacheck.cache import usual_cache
from mediacheck.card.model import Card, Entry
from mediacheck.card.opening import open_card
from mediacheck.check import Checked, check, judged
from mediacheck.media.extensions import kind_by_name
from mediacheck.output import refusal, write_atomically
from mediacheck.profile_files import LoadedProfile
from mediacheck.repair import batch, staging
from mediacheck.repair.fitting import to_mend, to_shrink, too_large
from mediacheck.repair.kept import Kept, usual_kept
from mediacheck.repair.model import Ask, Item, Made, NotMade, Wishes
from mediacheck.repair.outcome import Fixed, Planned, Result
from mediacheck.repair.places import Places, places_for, require_apart, require_place
from mediacheck.repair.plan import plan_for
from mediacheck.repair.record import json_text, known_check
from mediacheck.repair.same_moments import pictures_after
from mediacheck.repair.task import Task, accepted_complaints
from mediacheck.repair.work import already_made
from mediacheck.report.model import Report
from mediacheck.survey import NoWatcher, Options, Surveyed, Watcher, no_pictures, survey_card
from mediacheck.which_ffmpeg import find_ffmpeg

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
    crew: batch.Crew | None = None
    """Makes the pool for looking and making; None: local worker processes."""
    page: Page | None = None
    """Draws the page; None: none is wanted."""


@dataclass(frozen=True, slots=True)
class _Run:
    """What is wanted, who is told, and who does the work."""

    order: Order
    helpers: Helpers
    crew: batch.Crew

    @property
    def kept(self) -> Kept | None:
        """Where earlier work is known from, if that is wanted."""
        return usual_kept() if self.order.options.use_cache else None

    def options(self) -> Options:
        """For looking at the source."""
        wanted = PICTURES if self.helpers.page else 0
        return replace(
            self.order.options,
            depth="full",
            hash_all=True,
            pictures=lambda found: wanted if found <= PAGE_ITEMS else 0,
        )


@dataclass(frozen=True, slots=True)
class _Job:
    """One player, where its copy goes, and what stands there."""

    planned: Planned
    places: Places
    there: Mapping[str, str]


def plan(order: Order, helpers: Helpers) -> tuple[Planned, ...]:
    """What would be done, for each player. Raises CardError."""
    with _crew(order, helpers) as crew:
        return _planned(_surveyed(_Run(order, helpers, crew)), order)


def fix(order: Order, helpers: Helpers) -> tuple[Fixed, ...]:
    """Do it. Raises CardError, OutputError, WrongUse; whatever cannot be mended is in the answer."""
    if order.out is None:
        raise ValueError("a repair needs a place")
    places = _places(order.out, order)
    read = [Path(loaded.source) for loaded in order.profiles]
    there = [require_place(place, order.source, read) for place in places]
    with ExitStack() as stack:
        run = _Run(order, helpers, stack.enter_context(_crew(order, helpers)))
        surveyed = _surveyed(run)
        jobs = [_Job(*job) for job in zip(_planned(surveyed, order), places, there, strict=True)]
        for job in jobs:
            stack.enter_context(staging.working(job.places))
        answers = _made(jobs, run)
        return tuple(
            _finished(job, _results(number, job, answers), surveyed, run) for number, job in enumerate(jobs)
        )


def _crew(order: Order, helpers: Helpers) -> AbstractContextManager[batch.Crew]:
    return nullcontext(helpers.crew) if helpers.crew else batch.crew(order.options.jobs)


def _places(out: Path, order: Order) -> list[Places]:
    """The folder that was named, or for several players one below it for each."""
    if len(order.profiles) == 1:
        return [places_for(out)]
    require_apart(out, order.source)
    try:
        out.mkdir(exist_ok=True)
    except OSError as error:
        raise refusal(out, error) from error
    return [places_for(out / loaded.profile.id) for loaded in order.profiles]


def _surveyed(run: _Run) -> Surveyed:
    return survey_card(_opened(run.order.source), run.options(), run.helpers.looking, executor=run.crew)


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


def _made(jobs: Sequence[_Job], run: _Run) -> dict[batch.Key, batch.Answer]:
    """All that is encoded, wrapped or written anew; what stays as it is gets copied meanwhile."""

    def copies() -> None:
        for job in jobs:
            for item in job.planned.plan.items:
                if item.recipe is None:
                    staging.copy(item.source, job.places, item.path, job.there)

    wanted = []
    for number, job in enumerate(jobs):
        items = job.planned.plan.items
        staging.clear(job.places, {item.path for item in items})
        wanted += [_order(number, job, item, run) for item in items if item.recipe is not None]
    return _answered(wanted, run, copies)


def _answered(
    wanted: Sequence[batch.Order], run: _Run, meanwhile: Callable[[], None] = lambda: None
) -> dict[batch.Key, batch.Answer]:
    """What was made before is brought from there, which needs no worker."""
    known: dict[batch.Key, batch.Answer] = {}
    for one in wanted:
        staging.make_folder(one.task.out)
        if made := already_made(one.task):
            known[one.key] = made
    left = [one for one in wanted if one.key not in known]
    made_now = batch.make_all(left, run.order.options.jobs, run.helpers.making, run.crew, meanwhile)
    return {**known, **made_now}


def _order(number: int, job: _Job, item: Item, run: _Run) -> batch.Order:
    task = _task(job, item, run)
    share = max(1, round(item.expected_s * 1e6))
    return batch.Order((number, item.path), item.source.entry.path, share, task)


def _task(job: _Job, item: Item, run: _Run) -> Task:
    if item.recipe is None or item.source.media is None:
        raise ValueError("only what has a recipe is made")
    ffmpeg, wishes = find_ffmpeg(), run.order.wishes
    return Task(
        location=item.source.entry.location,
        facts=item.source.media,
        recipe=item.recipe,
        out=(job.places.content / item.path).absolute(),
        ffmpeg=ffmpeg.path,
        ffmpeg_version=ffmpeg.version,
        prove=wishes.prove,
        quality_floor=wishes.quality_floor,
        master_sha256=item.source.sha256,
        accepted=accepted_complaints(item.source),
        kept=run.kept,
        cache=usual_cache(ffmpeg.version) if run.order.options.use_cache else None,
    )


def _results(number: int, job: _Job, answers: Mapping[batch.Key, batch.Answer]) -> tuple[Result, ...]:
    return tuple(_result(item, answers.get((number, item.path))) for item in job.planned.plan.items)


def _result(item: Item, answer: batch.Answer | None) -> Result:
    if isinstance(answer, NotMade):
        return Result(item, failed=answer)
    if isinstance(answer, Made):
        return Result(item, answer.sha256, answer.size_bytes, answer)
    return Result(item, item.source.sha256 or "", item.source.entry.size_bytes)


def _finished(job: _Job, results: tuple[Result, ...], surveyed: Surveyed, run: _Run) -> Fixed:
    """Made to fit, checked whole, brought to its place, with its record and its page."""
    results, asks = _fitted(job, results, run)
    known = _known_check(job, results, run)
    checked = None
    if known is None:
        results, checked = _checked(job, results, run)
    fixed = Fixed(
        planned=job.planned,
        wishes=run.order.wishes,
        out=job.places.out,
        fixed_at=datetime.now(UTC).replace(microsecond=0),
        results=results,
        asks=(*job.planned.plan.asks, *asks),
        pictures_before=surveyed.pictures,
    )
    if known is not None:
        staging.drop(job.places)
        return replace(fixed, after=known, changed=False)
    if checked is not None:
        after = replace(checked.report, source=str(job.places.out))  # and not where it was checked
        fixed = replace(fixed, after=after)
        if run.helpers.page is not None:
            shown = pictures_after(results, surveyed.pictures, checked.report)
            fixed = replace(fixed, pictures_after=shown)
    return _brought(job, fixed, run)


def _known_check(job: _Job, results: Sequence[Result], run: _Run) -> Report | None:
    """The check of the copy, if all of it is there already and was checked for this player."""
    same = _hashes(results) == job.there and bool(job.there)
    return known_check(job.places.record, job.planned.loaded, run.order.wishes) if same else None


def _hashes(results: Sequence[Result]) -> dict[str, str]:
    return {result.item.path: result.sha256 for result in results if result.failed is None}


def _fitted(job: _Job, results: tuple[Result, ...], run: _Run) -> tuple[tuple[Result, ...], tuple[Ask, ...]]:
    """Where all together is more than the card holds, the largest videos are made smaller."""
    plan_ = job.planned.plan
    smaller = to_shrink(results, plan_, job.planned.loaded.profile, run.order.wishes)
    results = _once_more(job, results, smaller, run)
    return results, too_large(results, plan_)


def _once_more(
    job: _Job, results: tuple[Result, ...], items: Sequence[Item], run: _Run
) -> tuple[Result, ...]:
    """The same results, with new ones of these items."""
    if not items:
        return results
    answers = _answered([_order(0, job, item, run) for item in items], run)
    by_path = {item.path: _result(item, answers[0, item.path]) for item in items}
    return tuple(by_path.get(result.item.path, result) for result in results)


def _checked(job: _Job, results: tuple[Result, ...], run: _Run) -> tuple[tuple[Result, ...], Checked | None]:
    """The check of the copy; what it finds and can be mended is mended, once."""
    checked = _look(job, results, run)
    if checked is None:
        return results, None
    again = to_mend(results, checked.report, job.planned.loaded.profile, run.order.wishes)
    if not again:
        return results, checked
    results = _once_more(job, results, again, run)
    return results, _look(job, results, run)


def _look(job: _Job, results: Sequence[Result], run: _Run) -> Checked | None:
    """With the folder that the player looks in, though it be empty. Without proof, nothing new is decoded."""
    there = _hashes(results)
    staging.clear(job.places, there)
    if not there:
        return None
    for folder in _folders(job):
        (job.places.content / folder).mkdir(parents=True, exist_ok=True)
    options = replace(run.options(), decode=run.order.wishes.prove, pictures=no_pictures)
    return check(job.places.content, job.planned.loaded, options, run.helpers.proving, executor=run.crew)


def _folders(job: _Job) -> tuple[str, ...]:
    root = job.planned.loaded.profile.layout.media_root
    return (root,) if root else ()


def _brought(job: _Job, fixed: Fixed, run: _Run) -> Fixed:
    """In this order, so that at any moment each file in the copy is one that a record lists."""
    places, made = job.places, [result for result in fixed.results if result.failed is None]
    dropped = staging.drop_old(places, job.there, _hashes(made))
    write_atomically(places.record, json_text(fixed))
    if run.helpers.page is not None:
        write_atomically(places.page, run.helpers.page(fixed))
    moved = staging.settle(places, job.there, [result.item.path for result in made], _folders(job))
    _remember(job, made, run)
    return replace(fixed, changed=dropped or moved)


def _remember(job: _Job, made: Sequence[Result], run: _Run) -> None:
    """Where the new files stand now, so that the next run need not make them again."""
    for result in made:
        if run.kept is not None and result.made is not None:
            key = _task(job, result.item, run).key
            if key is not None:
                run.kept.keep(key, job.places.out / result.item.path, result.made)
