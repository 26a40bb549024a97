"""Which cards cannot teach what a player takes, and why.

It must not learn anything, and must not decide whether a card is used in spite of it.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from mediacheck.check import judged
from mediacheck.learn.meaning import BROKEN, HAZARD
from mediacheck.learn.model import Refused, Taught
from mediacheck.names import Depth, RuleName
from mediacheck.profile import Profile
from mediacheck.profile_files import LoadedProfile
from mediacheck.report.model import Finding, Report, Unchecked
from mediacheck.rules.wording import capital, clause, listed
from mediacheck.survey import Surveyed

NOTHING_THERE: frozenset[RuleName] = frozenset({"card-file-system", "loop-count"})
"""Without limits these find only cards that nothing can be played from."""


def refusals(taught: Sequence[Taught], depth: Depth) -> tuple[Refused, ...]:
    """The cards that cannot teach, each with its reasons; nothing where all can.

    What is wrong is found by judging without any limit, at the depth of the survey. Refused are cards that
    are damaged (in whatever way: a profile cannot tell a harmless kind from others), that were pulled out
    while they were written, that hold left-over or broken files or nothing to play, and those of which
    something could not be checked. So are flashes that are a hazard.
    """
    return refused([(each, without_limits(each.surveyed, depth)) for each in taught])


def refused(cards: Sequence[tuple[Taught, Report]]) -> tuple[Refused, ...]:
    """The same of cards that were judged already, see `without_limits`."""
    found = ((each.shown, tuple(_reasons(report))) for each, report in cards)
    return tuple(Refused(shown, reasons) for shown, reasons in found if reasons)


def without_limits(surveyed: Surveyed, depth: Depth) -> Report:
    """The report on a card for a player that takes everything, from cards of this card's own kind.

    Names and sizes of files are then held against what its own file system takes.
    """
    kind = surveyed.card.volume.file_system if surveyed.card.volume else None
    limits = {"card": {"file_systems": (kind,)}} if kind else {}
    return judged(surveyed, LoadedProfile(Profile.model_validate(limits), "", ""), depth)


def broken_paths(report: Report) -> frozenset[str]:
    """The files that teach nothing: broken, left over, or hit by damage to the card."""
    return frozenset(
        found.path
        for found in report.findings
        if found.path is not None and found.rule in BROKEN and _hits(found)
    )


def _hits(found: Finding) -> bool:
    """Damage that matters only for writing leaves the files as they are."""
    return found.rule != "card-damaged" or found.severity == "fail"


def _reasons(report: Report) -> Iterator[str]:
    refusing = [each for each in report.findings if each.rule in BROKEN | HAZARD | NOTHING_THERE]
    yield from _of_findings(refusing)
    known = {each.path for each in refusing}
    gaps = [gap for gap in report.not_checked if not gap.expected and gap.path not in known - {None}]
    yield from _of_gaps(gaps)


def _of_findings(findings: Iterable[Finding]) -> Iterator[str]:
    """One sentence for each thing that is wrong, with all files that it is true of."""
    paths: dict[tuple[RuleName, str], list[str]] = {}
    for found in findings:
        named = paths.setdefault((found.rule, found.message), [])
        named += [found.path] if found.path is not None else []
    for (rule, message), named in paths.items():
        hazard = " That it plays does not make it right, so nothing is learned from it." * (rule in HAZARD)
        yield _about(named) + message + hazard


def _of_gaps(gaps: Iterable[Unchecked]) -> Iterator[str]:
    paths: dict[str, list[str]] = {}
    for gap in gaps:
        named = paths.setdefault(clause(gap.reason), [])
        if gap.path is not None and gap.path not in named:
            named.append(gap.path)
    for reason, named in paths.items():
        yield (
            f"{_about(named)}Not everything could be checked, since {reason}."
            if named
            else (f"{capital(reason)}.")
        )


def _about(paths: Sequence[str]) -> str:
    quoted = [f'"{path}"' for path in paths]
    return f"{listed(quoted)}: " if quoted else ""
