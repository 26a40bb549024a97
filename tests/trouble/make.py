"""Profiles and reports for the tests of trouble, made by hand."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from typing import Any

from mediacheck import __version__
from mediacheck.names import RuleName, Severity
from mediacheck.profile import Profile
from mediacheck.profile_files import LoadedProfile, load_profile
from mediacheck.report.model import ProfileName, Report
from mediacheck.trouble.book import symptom_named
from mediacheck.trouble.ranking import RankedCause, Ranking
from tests.report.make import GOOD, finding


@cache
def loaded(name: str = "basic-1080p") -> LoadedProfile:
    return load_profile(name)


def profile(name: str = "basic-1080p", **changes: Any) -> Profile:
    """A bundled profile with whole sections changed."""
    return Profile.model_validate({**dict(loaded(name).profile), **changes})


def report(name: str = "basic-1080p", **changes: Any) -> Report:
    """A check of a card without fault, made with a bundled profile by this version."""
    used = loaded(name)
    named = ProfileName(used.profile.id, used.profile.title, used.sha256)
    return replace(GOOD, **{"version": __version__, "profile": named, **changes})


def failing(*rules: RuleName, severity: Severity = "fail", **changes: Any) -> Report:
    """The same with a finding of each of these rules."""
    return report(findings=tuple(finding(rule, severity) for rule in rules), **changes)


def known(ranking: Ranking, cause: str) -> RankedCause:
    """One cause of a ranking."""
    return next(each for each in ranking.causes if each.cause.id == cause)


def order(ranking: Ranking) -> list[str]:
    """The ids of the causes, in order."""
    return [each.cause.id for each in ranking.causes]


def usual(symptom: str) -> list[str]:
    """The order in which the data has them."""
    return [cause.id for cause in symptom_named(symptom).causes]
