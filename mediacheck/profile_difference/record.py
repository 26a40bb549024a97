"""What fits one profile and not another, as JSON, version 1.

It must not word anything.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict

from mediacheck.profile_difference.model import Lack
from mediacheck.profile_files import LoadedProfile
from mediacheck.report.model import ProfileName
from mediacheck.report.record import profile_record, record_text

SCHEMA_NAME = "mediacheck/profile-diff/1"


def json_text(a: LoadedProfile, b: LoadedProfile, found: Sequence[Lack]) -> str:
    """The answer for other programs, with one line end at its end."""
    return record_text(
        {
            "schema": SCHEMA_NAME,
            "a": profile_record(_named(a)),
            "b": profile_record(_named(b)),
            "lacks": [asdict(lack) for lack in found],
        }
    )


def _named(loaded: LoadedProfile) -> ProfileName:
    return ProfileName(loaded.profile.id, loaded.profile.title, loaded.sha256)
