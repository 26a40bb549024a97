"""The outcome of a repair as one page that stands alone: before and after side by side.

It must not load anything from elsewhere, and not decide anything.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

from jinja2 import Template

from mediacheck.repair.model import Ask, LeftOut
from mediacheck.repair.outcome import Fixed, Result
from mediacheck.repair.told import CALLED, by_path, is_unproved, notes_of, proof_words, why
from mediacheck.report.html import CAUTIONS
from mediacheck.report.pages import page_environment
from mediacheck.report.words import safe
from mediacheck.rules.wording import size
from mediacheck.sheet.thumbnails import data_uris

PICTURES = 3
HEADLINES = {
    "pass": ("FIXED", "every file of the copy passes its check."),
    "warn": ("FIXED", "every file of the copy plays; some things should be looked at."),
    "fail": ("NOT ALL FIXED", "something must be asked for."),
    "incomplete": ("NOT SURE", "not all could be checked."),
}
NOT_PROVED = ("MADE, NOT PROVED", "every file of the copy passes the check of what was looked at.")


@dataclass(frozen=True, slots=True)
class Row:
    """One file, as the page shows it."""

    before: str
    after: str
    done: str
    steps: tuple[str, ...]
    proof: str
    problem: str
    ask: str
    frames_before: tuple[str, ...]
    frames_after: tuple[str, ...]


def as_html(fixed: Fixed) -> str:
    """The whole page."""
    unproved = fixed.verdict == "pass" and is_unproved(fixed)
    head, rest = NOT_PROVED if unproved else HEADLINES[fixed.verdict]
    before = fixed.planned.before
    shown_before = data_uris(fixed.pictures_before, before.screen, PICTURES)
    shown_after = data_uris(fixed.pictures_after, before.screen, PICTURES)
    rows = [
        _row(
            result,
            shown_before.get(result.item.source.entry.path, ()) if result.item.recipe else (),
            shown_after.get(result.item.path, ()) if result.item.recipe else (),
        )
        for result in fixed.results
    ]
    return _template().render(
        head=head,
        rest=rest,
        tone=fixed.verdict,
        about=_about(fixed),
        rows=rows,
        left_out=tuple(map(_left, fixed.planned.plan.left_out)),
        asks=tuple((path, *_ask(some)) for path, some in by_path(fixed.asks)),
        notes=tuple(map(safe, notes_of(fixed))),
        cautions=CAUTIONS,
    )


def _about(fixed: Fixed) -> tuple[tuple[str, str], ...]:
    before = fixed.planned.before
    return (
        ("Source", safe(before.source)),
        ("Copy", safe(str(fixed.out))),
        ("Player", safe(before.profile.title or before.profile.id)),
        ("Made", fixed.fixed_at.strftime("%Y-%m-%d %H:%M UTC")),
    )


def _row(result: Result, before: tuple[str, ...], after: tuple[str, ...]) -> Row:
    item = result.item
    proof = proof_words(result.made) if result.made else "the same bytes"
    return Row(
        before=safe(item.source.entry.path),
        after=safe(item.path),
        done=CALLED[item.change],
        steps=tuple(map(safe, why(item))),
        proof=""
        if result.failed
        else f"{size(result.size_bytes)}; {proof}"
        if proof
        else size(result.size_bytes),
        problem=safe(result.failed.problem) if result.failed else "",
        ask=safe(result.failed.ask) if result.failed else "",
        frames_before=before,
        frames_after=after,
    )


def _left(left: LeftOut) -> tuple[str, str]:
    return safe(left.path), safe(left.why)


def _ask(asks: Sequence[Ask]) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """What is wrong, and what to do about it, each once."""
    return tuple(safe(ask.problem) for ask in asks), tuple(dict.fromkeys(safe(ask.ask) for ask in asks))


@lru_cache(maxsize=1)
def _template() -> Template:
    return page_environment("repair", "report").get_template("fixed.html.j2")
