"""What a sheet knows of each face: its words, the card that was looked at for it, and the pictures chosen.

It must not draw.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction

from mediacheck.measure.model import Picture
from mediacheck.report.model import Finding, Report, ScreenShape
from mediacheck.sheet.clock import length
from mediacheck.sheet.contact import played_s
from mediacheck.sheet.telling import MOSTLY

SAYS_WHOSE = ("loop-wrong-face", "loop-outdated")
"""Rules whose findings belong beside the pictures: they say that these are the wrong ones."""

LETTERS = 26
NAMED_MAX = 2
"""Faces that a sentence names in full; of more, the letters."""


@dataclass(frozen=True, slots=True)
class Words:
    """What the display file says of a face."""

    name: str
    place: str = ""
    card_label: str = ""
    input: str = ""
    loop_title: str = ""
    version: str = ""
    notes: str = ""
    item_titles: tuple[str, ...] = ()
    """What should be on the card, in play order."""
    loop_seconds: Fraction | None = None
    """How long one round should last."""


@dataclass(frozen=True, slots=True)
class ShownFace:
    """One face on the sheet. Without a report, no card was given for it."""

    number: int
    """From 1, in the order in which the faces stand."""
    words: Words
    screen: ScreenShape
    report: Report | None = None
    pictures: Mapping[str, tuple[Picture, ...]] = field(default_factory=dict)
    only_here: Mapping[str, frozenset[float]] = field(default_factory=dict)
    lead: Mapping[str, Picture] = field(default_factory=dict)
    common: tuple[float, ...] = ()
    """Both as in `telling.Told`."""

    @property
    def letter(self) -> str:
        """By which the face is known on all pages: A, B, C."""
        return letter(self.number)

    @property
    def first_picture(self) -> Picture | None:
        """What is seen at the start: of the first item that plays."""
        return next((picture for _, picture in self.loop_pictures), None)

    @property
    def loop_pictures(self) -> tuple[tuple[str, Picture], ...]:
        """The picture that stands for each item that plays, in play order."""
        items = self.report.items if self.report else ()
        played = [item.path for item in items if not item.skipped]
        return tuple((path, self.lead[path]) for path in played if path in self.lead)

    @property
    def whose(self) -> tuple[Finding, ...]:
        """Findings that say that this is not the loop of this face, or not the one of today."""
        findings = self.report.findings if self.report else ()
        return tuple(finding for finding in findings if finding.rule in SAYS_WHOSE)

    @property
    def length_words(self) -> str:
        """How many items, and how long one round lasts."""
        if self.report is None:
            return _round_words(len(self.words.item_titles), self.words.loop_seconds)
        skipped = sum(item.skipped for item in self.report.items)
        return _round_words(len(self.report.items), played_s(self.report.items), skipped)


@dataclass(frozen=True, slots=True)
class ShownDisplay:
    """A display on the sheet, its faces in the order in which they stand.

    Without an id it is none: cards one after the other.
    """

    title: str
    id: str
    version: str
    notes: str
    faces: tuple[ShownFace, ...]
    mediacheck: str
    """The version of this program."""


def letter(number: int) -> str:
    """A for the first face, B for the second; displays have at most 16, many cards go on in numbers."""
    return chr(ord("A") + number - 1) if number <= LETTERS else str(number)


def likeness_words(face: ShownFace, faces: Sequence[ShownFace]) -> str:
    """What the pictures say of other faces: the same loop, or mostly the same; else nothing."""
    if not face.common:
        return ""
    others = [
        (other, share)
        for other, share in zip(faces, face.common, strict=True)
        if other.number != face.number and share > MOSTLY
    ]
    if not others:
        return ""
    same = [other for other, share in others if share == 1.0 and _share_back(face, other, faces) == 1.0]
    if same:
        return f"Every picture compared is on {_names(same)} too: the pictures do not tell these faces apart."
    most = _names([other for other, _ in others])
    return f"Most pictures are on {most} too: look for those marked, which are only on this face."


def _share_back(face: ShownFace, other: ShownFace, faces: Sequence[ShownFace]) -> float:
    return other.common[list(faces).index(face)] if other.common else 0.0


def _names(faces: Sequence[ShownFace]) -> str:
    if len(faces) > NAMED_MAX:
        return f"{', '.join(face.letter for face in faces[:-1])} and {faces[-1].letter}"
    return " and ".join(f"{face.letter} ({face.words.name})" for face in faces)


def _round_words(items: int, seconds: Fraction | None, skipped: int = 0) -> str:
    if not items and not seconds:
        return ""
    count = f"{items} item{'' if items == 1 else 's'}" if items else ""
    wrong = f"{skipped} of them skipped or shown wrong" if skipped else ""
    lasts = f"{length(seconds)} a round" if seconds is not None else "length not known"
    return ", ".join(part for part in (count, wrong, lasts) if part)
