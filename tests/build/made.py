"""Content for cards, made by hand: files with known bytes, and what a survey would say of them.

It must not decode anything.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from pathlib import Path

from mediacheck.build.plan import Content, ImagePlan, Wishes, content_of, plan_image
from mediacheck.card.folder import open_folder
from mediacheck.loop import File
from mediacheck.profile import Profile
from mediacheck.profile_files import LoadedProfile
from mediacheck.survey import Surveyed

FACE: Mapping[str, bytes] = {
    "02 Watering can.mp4": b"rain" * 5000,
    "01 Seeds.mp4": b"seed" * 3000,
    "03 Späte Blüte 🌻.mp4": b"bloom",
    "Spring/Long name of a clip about tulips.mp4": b"tulip" * 999,
    "Spring/empty.txt": b"",
}
"""One face of a garden centre's display; names that need long entries, a folder, an empty file."""
IN_ORDER = (
    "01 Seeds.mp4",
    "02 Watering can.mp4",
    "03 Späte Blüte 🌻.mp4",
    "Spring/empty.txt",
    "Spring/Long name of a clip about tulips.mp4",
)


def folder_of(place: Path, files: Mapping[str, bytes] = FACE) -> Path:
    """A folder with these files."""
    for path, content in files.items():
        target = place / path
        target.parent.mkdir(parents=True, exist_ok=True)
        target.write_bytes(content)
    return place


def surveyed(folder: Path) -> Surveyed:
    """As a survey with all hashes, which takes every file for one that is no media."""
    card = open_folder(folder)
    files = tuple(
        File(entry, "other", sha256=hashlib.sha256(Path(str(entry.location)).read_bytes()).hexdigest())
        for entry in card.entries
    )
    return Surveyed(card, files, {})


def loaded(**sections: object) -> LoadedProfile:
    """A profile that restricts nothing but what is given."""
    profile = Profile.model_validate({"id": "garden", "title": "Garden centre", **sections})
    return LoadedProfile(profile, "garden.yaml", "0" * 64)


def content(
    folder: Path, profile: LoadedProfile | None = None, order: Sequence[str] | None = None
) -> Content:
    """What of the folder goes on a card."""
    wishes = Wishes(order=tuple(order) if order is not None else None)
    return content_of(surveyed(folder), profile or loaded(), wishes)


def planned(folder: Path, profile: LoadedProfile | None = None, wishes: Wishes | None = None) -> ImagePlan:
    """An image of the folder, planned."""
    profile, wishes = profile or loaded(), wishes or Wishes()
    seen = surveyed(folder)
    return plan_image(seen, content_of(seen, profile, wishes), profile, wishes, "quick")
