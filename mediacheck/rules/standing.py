"""Where a card stands beside the loops of a display: what both rules about a face begin with.

It must not judge: it sorts the items of the card, and says why they cannot be sorted.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from mediacheck.rules.known_loops import KnownLoops, known_loops
from mediacheck.rules.model import NOT_APPLICABLE, NotApplicable, NotChecked, Whole
from mediacheck.rules.whose import Side, Whose, whose

if TYPE_CHECKING:
    from mediacheck.display_files import LoadedFace

SOURCE = "the display file and its manifests; SHA-256 (FIPS 180-4), then fingerprints (own measurements)"
UNSAID = NotChecked(
    "the display file does not say which loop belongs on this face: it names neither a manifest nor items",
    expected=True,
)
NEEDS_FULL = NotChecked(
    "these are not the files that the display file tells of, and to know their pictures again, every picture "
    "must be decoded (--depth full)",
    expected=False,
)
"""Not expected: of the right card, the quick check knows the files by their bytes."""
NAMES_ONLY = NotChecked(
    "of this loop, the display file tells the names of files only: give their SHA-256, or the manifest that "
    "was written when the card was built",
    expected=True,
)


@dataclass(frozen=True, slots=True)
class Standing:
    """The items of a card, each with where it belongs."""

    here: LoadedFace
    known: KnownLoops
    found: tuple[Whose, ...]

    def of(self, side: Side) -> tuple[Whose, ...]:
        """The items that belong there."""
        return tuple(one for one in self.found if one.side == side)

    @property
    def is_told(self) -> bool:
        """Whether there is an item that only this face has."""
        return any(not one.is_shared for one in self.of("ours"))


def standing(whole: Whole) -> Standing | NotApplicable | NotChecked:
    """What is asked for the face that the card is for; or the answer, where nothing can be asked."""
    if whole.display is None or not whole.loop.items:
        return NOT_APPLICABLE
    known = known_loops(whole.display)
    if not known.own:
        return UNSAID
    return Standing(whole.display.face, known, whose(whole.loop.items, known))


def unsettled(stands: Standing) -> NotChecked:
    """Why it cannot be told whose loop this is."""
    unknown = stands.of("open")
    if any(one.how == "name" for one in unknown):
        return NAMES_ONLY
    if any(one.file.kind == "video" and one.file.measurements is None for one in unknown):
        return NEEDS_FULL
    unread = next((one for one in unknown if one.file.sha256 is None), None)
    if unread:
        return not_read(unread)
    if unknown:
        return NotChecked(
            f'"{unknown[0].path}" is none of the files that the display file tells of, and there is no '
            "fingerprint on both sides to know its pictures again by",
            expected=False,
        )
    return NotChecked(
        f'the pictures of "{stands.of("either")[0].path}" are so alike on two faces that they do not tell '
        "which loop this is",
        expected=False,
    )


def not_read(one: Whose) -> NotChecked:
    """The answer where an item could not be hashed."""
    return NotChecked(f'"{one.path}" could not be read to its end, so it was not compared', expected=False)
