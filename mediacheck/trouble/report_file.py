"""The report of an earlier check, from a file that may be anything.

It must not judge what the report holds.
"""

from __future__ import annotations

import json
import stat
from collections.abc import Iterator
from pathlib import Path

from mediacheck.errors import WrongUse
from mediacheck.names import WORST_FIRST
from mediacheck.profile_files import LoadedProfile, bundled_names, load_profile
from mediacheck.report.model import Report
from mediacheck.report.record import from_record
from mediacheck.report.words import safe

SIZE_MAX_BYTES = 256 << 20
"""Far above the report of the largest card that is read."""


class ReportError(WrongUse):
    """A report that cannot be used."""

    advice = "Give the file that `mediacheck check CARD --profile PROFILE --json FILE` wrote."


def read_report(path: Path) -> Report:
    """Read a report that `check --json` wrote. ReportError: one sentence with what is wrong."""
    try:
        record = json.loads(_bytes_of(path).decode("utf-8-sig"))
    except (ValueError, RecursionError) as error:
        raise ReportError(f"{safe(str(path))} is no report: it is not JSON, or was cut off") from error
    try:
        report = from_record(record)
    except WrongUse as error:
        raise ReportError(f"{safe(str(path))} cannot be used. {safe(str(error))}") from error
    wrong = next(_wrong(report), None)
    if wrong:
        raise ReportError(f"{safe(str(path))} is no report that can be used: {wrong}")
    return report


def _bytes_of(path: Path) -> bytes:
    try:
        status = path.stat()
        if not stat.S_ISREG(status.st_mode):
            raise ReportError(f"The report {safe(str(path))} cannot be read: it is no file")
        if status.st_size > SIZE_MAX_BYTES:
            raise ReportError(f"{safe(str(path))} is no report: it is too large to be one")
        return path.read_bytes()
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or error
        raise ReportError(f"The report {safe(str(path))} cannot be read: {safe(str(reason))}") from error


def _wrong(report: Report) -> Iterator[str]:
    """What is not of the kind that it must be; JSON can hold anything in any place."""
    said = (report.version, report.profile.id, report.profile.sha256, report.source)
    yield from ("a text is missing in its head" for text in said if not isinstance(text, str))
    for finding in report.findings:
        texts = (finding.rule, finding.message, finding.action, finding.path or "")
        if finding.severity not in WORST_FIRST or not all(isinstance(text, str) for text in texts):
            yield "one of its findings is not whole"
    for gap in report.not_checked:
        if not isinstance(gap.rule, str) or not isinstance(gap.reason, str):
            yield "one of its checks that were not made is not whole"


def profile_of(report: Report) -> LoadedProfile | None:
    """The profile that a check went by, where it is a bundled one and has not changed since."""
    if report.profile.id not in bundled_names():
        return None
    loaded = load_profile(report.profile.id)
    return loaded if loaded.sha256 == report.profile.sha256 else None


def require_profile_of(report: Report, loaded: LoadedProfile) -> None:
    """Refuse a profile that the check did not go by. Raises ReportError."""
    if loaded.sha256 == report.profile.sha256:
        return
    asked, used = safe(loaded.profile.id), safe(report.profile.id)
    what = f"the profile {used}, and not with {asked}" if asked != used else f"another state of {asked}"
    raise WrongProfile(f"The report was made with {what}")


class WrongProfile(ReportError):
    """A report and a profile that do not belong together."""

    advice = (
        "Give the profile that the card was checked with, check the card again, or leave one of them out."
    )
