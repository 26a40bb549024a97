"""What has to be made once more: files that together do not fit on the card, or that came out with a defect
which their master hid.

It must not make anything.
"""

from __future__ import annotations

from collections.abc import Sequence

from mediacheck.encoding.model import Refused
from mediacheck.names import RuleName
from mediacheck.profile import Profile
from mediacheck.repair.causes import MENDS, WITH_BARS, WITH_ENDS, WITH_FIT
from mediacheck.repair.model import Ask, Item, Plan, Wishes
from mediacheck.repair.outcome import Result
from mediacheck.repair.plan import remade
from mediacheck.report.model import Report
from mediacheck.rules.wording import size

LEAST_SHARE = 0.3
"""Less than this of what a picture takes in good quality is no use to try (common practice, no source)."""
ROUNDING = 0.99


def to_shrink(results: Sequence[Result], plan: Plan, profile: Profile, wishes: Wishes) -> tuple[Item, ...]:
    """The videos to make again, each a share of its size; none where all fits or no share would be enough."""
    over = _over(results, plan)
    if over <= 0:
        return ()
    encoded = [result for result in results if result.made and result.item.change == "picture"]
    videos = [r for r in results if r.failed is None and r.item.source.kind == "video"]
    for some in (encoded, videos):
        total = sum(result.size_bytes for result in some)
        share = (total - over) / total * ROUNDING if total else 0.0
        if share >= LEAST_SHARE:
            items = [remade(r.item, (), profile, wishes, int(r.size_bytes * share)) for r in some]
            return tuple(item for item in items if not isinstance(item, Refused))
    return ()


def too_large(results: Sequence[Result], plan: Plan) -> tuple[Ask, ...]:
    """What to ask where the files that are there do not fit, or would fit only below the floor."""
    there = [result for result in results if result.failed is None]
    over = _over(results, plan)
    if over <= 0 or plan.capacity_bytes is None:
        return ()
    total = sum(result.size_bytes for result in there)
    largest = max(there, key=lambda result: result.size_bytes)
    return (
        Ask(
            "card-full",
            None,
            f"All files together take {size(total)}, and the card has room for {size(plan.capacity_bytes)}.",
            f"Take a card with room for {size(total)} or more, or leave out {largest.item.path} "
            f"({size(largest.size_bytes)}).",
        ),
    )


def to_mend(results: Sequence[Result], after: Report, profile: Profile, wishes: Wishes) -> tuple[Item, ...]:
    """Files whose picture or sound was kept, and in which the new container shows what the old one did not
    tell: a gap between frames, say."""
    found: dict[str, list[RuleName]] = {}
    for finding in after.findings:
        if finding.path and finding.rule in MENDS and finding.rule not in WITH_BARS | WITH_ENDS | WITH_FIT:
            found.setdefault(finding.path, []).append(finding.rule)
    kept = [r for r in results if r.made and r.item.change in ("container", "sound")]
    again = [remade(r.item, found[r.item.path], profile, wishes) for r in kept if r.item.path in found]
    return tuple(item for item in again if not isinstance(item, Refused))


def _over(results: Sequence[Result], plan: Plan) -> int:
    total = sum(result.size_bytes for result in results if result.failed is None)
    return 0 if plan.capacity_bytes is None else total - plan.capacity_bytes
