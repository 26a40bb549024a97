"""From cards, and the display that they belong to, to what stands on a sheet: each card is looked at once.

It must not draw or print.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import Path

from mediacheck import __version__
from mediacheck.check import Checked, check, screen_shape
from mediacheck.display_files import DisplayFace, LoadedDisplay, LoadedFace
from mediacheck.errors import WrongUse
from mediacheck.face_names import folded
from mediacheck.profile_files import LoadedProfile
from mediacheck.sheet.contact import card_name, pictures_per_item
from mediacheck.sheet.faces import ShownDisplay, ShownFace, Words
from mediacheck.sheet.telling import Loop, Told, told_apart
from mediacheck.survey import Options, Watcher

COMPARED_MAX = 12
"""Pictures of each item that are compared between faces."""
COMPARED_IN_ALL = 1600
"""Pictures that are held at once for that: 350 MB."""
ExecutorMaker = Callable[[int], Executor]


@dataclass(frozen=True, slots=True)
class Looking:
    """How cards are looked at: with so many processes, watched, and in which pool (see `survey`)."""

    jobs: int
    watcher: Watcher | None = None
    executor: ExecutorMaker | None = None


def of_cards(cards: Sequence[Path], profile: LoadedProfile, looking: Looking) -> ShownDisplay:
    """Cards that belong to no display, all for the same kind of player. Raises CardError."""
    options = Options("quick", looking.jobs, pictures_per_item)
    faces = list[ShownFace]()
    for number, card in enumerate(cards, 1):
        checked = check(card, profile, options, looking.watcher, executor=looking.executor)
        report = checked.report
        words = Words(card_name(report))
        faces.append(ShownFace(number, words, report.screen, report, checked.pictures))
    return ShownDisplay("", "", "", "", tuple(faces), __version__)


def of_display(loaded: LoadedDisplay, cards: Sequence[Path | None], looking: Looking) -> ShownDisplay:
    """A display and the card of each of its faces, None where there is none. Raises CardError."""
    compared = _compared_per_item(sum(card is not None for card in cards))
    checked = [
        None if card is None else _checked(DisplayFace(loaded, face), card, compared, looking)
        for face, card in zip(loaded.faces, cards, strict=True)
    ]
    told = _told([one for one in checked if one])
    faces = tuple(_shown(loaded.faces, checked, told))
    display = loaded.display
    return ShownDisplay(display.title, display.id, display.version, display.notes, faces, __version__)


def cards_of(loaded: LoadedDisplay, cards: Sequence[str]) -> tuple[Path | None, ...]:
    """The card of each face. `FACE=CARD` names it; other cards go, as they are given, to the faces left over
    in the order of the display. Raises WrongUse."""
    named, others = dict[str, str](), list[str]()
    faces = [folded(face.name) for face in loaded.faces]
    for card in cards:
        face, _, path = card.partition("=")
        if not path or folded(face) not in faces:
            others.append(card)
        elif folded(face) in named:
            raise WrongUse(f'Two cards were given for the face "{face.strip()}": name each face once.')
        else:
            named[folded(face)] = path
    free = [face for face in faces if face not in named]
    if len(others) > len(free):
        raise WrongUse(_too_many(others, free, loaded))
    named |= dict(zip(free, others, strict=False))
    return tuple(Path(named[face]) if face in named else None for face in faces)


def _too_many(others: Sequence[str], free: Sequence[str], loaded: LoadedDisplay) -> str:
    names = ", ".join(f'"{face.name}"' for face in loaded.faces)
    card = others[len(free)]
    if "=" in card:
        return f"{card!r} names no face of this display: its faces are {names}."
    return f"There is no face left for the card {card!r}: the display has {names}."


def _compared_per_item(cards: int) -> Callable[[int], int]:
    """Fewer pictures of each item where there are many: all cards of a display are held at once."""

    def pictures(items: int) -> int:
        fit = COMPARED_IN_ALL // max(1, cards * items)
        return max(min(COMPARED_MAX, fit), min(pictures_per_item(items), max(1, fit)))

    return pictures


def _checked(chosen: DisplayFace, card: Path, pictures: Callable[[int], int], looking: Looking) -> Checked:
    options = Options("quick", looking.jobs, pictures)
    return check(
        card, chosen.face.profile, options, looking.watcher, executor=looking.executor, display=chosen
    )


def _told(checked: Sequence[Checked]) -> Iterator[Told]:
    loops = [Loop(one.pictures, {item.path: item.seconds for item in one.report.items}) for one in checked]
    most = max((len(one.report.items) for one in checked), default=1)
    return iter(told_apart(loops, pictures_per_item(most)))


def _shown(
    faces: Sequence[LoadedFace], checked: Sequence[Checked | None], told: Iterator[Told]
) -> Iterator[ShownFace]:
    for number, (face, one) in enumerate(zip(faces, checked, strict=True), 1):
        plain = ShownFace(number, _words(face), screen_shape(face.profile.profile))
        if one is None:
            yield plain
            continue
        tells = next(told)
        common = _with_gaps(tells.common, checked)
        yield replace(
            plain,
            screen=one.report.screen,
            report=one.report,
            pictures=tells.pictures,
            only_here=tells.only_here,
            lead=tells.lead,
            common=common,
        )


def _with_gaps(common: tuple[float, ...], checked: Sequence[Checked | None]) -> tuple[float, ...]:
    """For each face of the display: nothing is in common with a face that has no card."""
    shares = iter(common)
    return tuple(0.0 if one is None else next(shares) for one in checked)


def _words(face: LoadedFace) -> Words:
    loop, manifest = face.face.loop, face.manifest
    seconds = manifest.loop_seconds if manifest else None
    return Words(
        name=face.name,
        place=face.face.place,
        card_label=face.face.card_label,
        input=face.face.input,
        loop_title=loop.title,
        version=loop.version,
        notes=" ".join(face.face.notes.split()),
        item_titles=tuple(map(face.title_of, face.play_order)),
        loop_seconds=None if seconds is None else Fraction(seconds),
    )
