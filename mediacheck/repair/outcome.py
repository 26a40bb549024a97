"""What came of a repair: file by file, and as a whole.

It must not decide anything else than the verdict.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path

from mediacheck.inspection import NOT_DECODED
from mediacheck.measure.model import Measurements, Picture
from mediacheck.names import RuleName, VerdictWord
from mediacheck.profile_files import LoadedProfile
from mediacheck.repair import ends
from mediacheck.repair.causes import WITH_ENDS
from mediacheck.repair.model import Ask, Item, Made, NotMade, Plan, Wishes
from mediacheck.report.model import Report

WORST_FIRST: tuple[VerdictWord, ...] = ("fail", "incomplete", "warn", "pass")
NO_PICTURES: Mapping[str, tuple[Picture, ...]] = {}


@dataclass(frozen=True, slots=True)
class Result:
    """One file of the copy. Where it could not be made, `failed` says why and it is not there."""

    item: Item
    sha256: str = ""
    size_bytes: int = 0
    made: Made | None = None
    """None: its bytes are those of the source."""
    failed: NotMade | None = None


@dataclass(frozen=True, slots=True)
class Planned:
    """What would be done for one player."""

    loaded: LoadedProfile
    before: Report
    plan: Plan


@dataclass(frozen=True, slots=True)
class Fixed:
    """What was done for one player."""

    planned: Planned
    wishes: Wishes
    out: Path
    fixed_at: datetime
    """UTC, whole seconds."""
    results: tuple[Result, ...]
    after: Report | None = None
    """The check of the copy, at full depth; None: there was nothing to put into it. Without proof, what was
    encoded is not decoded for it."""
    asks: tuple[Ask, ...] = ()
    """Those of the plan, and what came up on the way."""
    changed: bool = True
    """False: the copy was there already, whole and right."""
    pictures_before: Mapping[str, tuple[Picture, ...]] = field(default_factory=lambda: NO_PICTURES)
    pictures_after: Mapping[str, tuple[Picture, ...]] = field(default_factory=lambda: NO_PICTURES)

    @property
    def failed(self) -> tuple[Result, ...]:
        """Files that could not be made."""
        return tuple(result for result in self.results if result.failed is not None)

    @property
    def verdict(self) -> VerdictWord:
        """fail: something is missing in the copy that should be there, or it does not pass its check.

        Without proof, what was found in a master and not mended counts as if it had been seen again, and so
        does what could not be found out of it.
        """
        missing = {left.path for left in self.planned.plan.left_out} & {ask.path for ask in self.asks}
        too_much = any(ask.rule == "card-full" for ask in self.asks)
        if self.after is None or self.failed or missing or too_much:
            return "fail"
        words = {self.after.verdict, *(() if self.wishes.prove else self._unmended())}
        return next(word for word in WORST_FIRST if word in words)

    def _unmended(self) -> Iterator[VerdictWord]:
        """Of rules only that the check of the copy had to leave open: whatever it judged, it judged of what
        is there now."""
        items = {result.item.source.entry.path: result.item for result in self.results}
        before, unseen = self.planned.before, not_decoded(self.after)
        for finding in before.findings:
            item = items.get(finding.path or "")
            is_open = (finding.rule, item and item.path) in unseen or (finding.rule, None) in unseen
            is_gone = finding.path is not None and (item is None or self._is_mended(finding.rule, item))
            if is_open and not is_gone and finding.severity != "note":
                yield finding.severity
        for gap in before.not_checked:
            item = items.get(gap.path or "")
            is_there = gap.path is None or item is not None
            if is_there and not gap.expected and (gap.rule, item and item.path) in unseen:
                yield "incomplete"

    def _is_mended(self, rule: RuleName, item: Item) -> bool:
        """Ends that are cut off leave what lies between them as it is."""
        measured = item.source.measurements
        if rule in WITH_ENDS and isinstance(measured, Measurements):
            black_max_s = self.planned.loaded.profile.loop.black_seconds_max
            if rule in ends.inside(measured, black_max_s):
                return False
        return any(rule in step.rules for step in item.steps)


def not_decoded(after: Report | None) -> frozenset[tuple[RuleName, str | None]]:
    """What the check of a copy had to leave open of which files, since they were not to be decoded."""
    gaps = after.not_checked if after else ()
    return frozenset((gap.rule, gap.path) for gap in gaps if gap.reason == NOT_DECODED.reason)
