"""Runs a line as a person who copies it does, and holds what came out against the profile.

It must not change the line but for its first word, its master and its last word.
"""

from __future__ import annotations

import shlex
import subprocess
from pathlib import Path

from mediacheck.check import judged
from mediacheck.encoding.video import MASTER
from mediacheck.profile import Profile
from mediacheck.profile_files import LoadedProfile
from mediacheck.report.model import Report
from mediacheck.survey import Options, survey


def loaded(profile: Profile) -> LoadedProfile:
    """A profile that came from no file."""
    return LoadedProfile(profile, "made in a test", "0" * 64)


def run_line(line: str, ffmpeg: str, master: Path, output: Path) -> Path:
    """The file that the line makes of a master. Its ending is the one that the line asks for."""
    program, *words, last = shlex.split(line)
    assert program == "ffmpeg"
    assert words.count(MASTER) == 1
    target = output.with_suffix(Path(last).suffix)
    arguments = [str(master) if word == MASTER else word for word in words]
    done = subprocess.run(
        [ffmpeg, "-nostdin", "-hide_banner", "-loglevel", "error", *arguments, str(target)],
        capture_output=True,
        text=True,
        timeout=300,
    )
    assert done.returncode == 0, done.stderr
    return target


def checked(card: Path, profile: LoadedProfile) -> Report:
    """The card at full depth."""
    return judged(survey(card, Options("full", 1, use_cache=False)), profile, "full")


def told(report: Report) -> set[tuple[str, str | None]]:
    """Rule and path of everything that was found, and of everything that should have been checked."""
    gaps = {(one.rule, one.path) for one in report.not_checked if not one.expected}
    return {(finding.rule, finding.path) for finding in report.findings} | gaps
