"""The installer's page for one display: before the visit, in the store, and the last look.

It must not say what stands in `steps`, or draw: it puts the words on paper in their order.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from fractions import Fraction
from itertools import zip_longest

from PIL import Image

from mediacheck.display_files import LoadedDisplay, LoadedFace
from mediacheck.paper.blocks import (
    Block,
    Framed,
    Heading,
    Picture,
    Row,
    Space,
    Stack,
    Words,
    WritingLine,
    note,
    tick,
)
from mediacheck.paper.canvas import Document
from mediacheck.paper.flow import PageBreak, document
from mediacheck.paper.look import HEADING_PT, NAME_PT, PAPERS, TEXT_PT, TITLE_PT, PaperName
from mediacheck.sheet.clock import length
from mediacheck.trouble.book import symptoms
from mediacheck.trouble.model import Symptom
from mediacheck.worksheet.steps import (
    BEFORE,
    BRING,
    CALL_AHEAD,
    CAUTIONS,
    TEST_FIRST,
    Step,
    card_words,
    final_steps,
    first_item,
    player_steps,
    screen_steps,
)

LETTERS = "ABCDEFGHIJKLMNOP"
"""Each face has one, so that faces are told apart without colours, and from across a room."""
LETTER_MM = 14.0
PICTURES_SHOWN = 3
PICTURE_HEIGHT_MM = 32.0
CAUSES_SHOWN = 2
Shown = tuple[Image.Image, str]
"""A picture, and the words under it."""
Pictures = Mapping[str, tuple[Shown, ...]]
"""By the name of a face: what its screen shows at the start and through the loop, each with its words."""


def worksheet(
    display: LoadedDisplay, pictures: Pictures, paper: PaperName = "A4", creator: str = "mediacheck"
) -> Document:
    """The pages for one visit. Faces without pictures are told by words alone."""
    title = display.display.title or display.display.id
    return document(f"Visit: {title}", PAPERS[paper], _blocks(display, title, pictures), creator)


def _blocks(display: LoadedDisplay, title: str, pictures: Pictures) -> Iterator[Block | PageBreak]:
    yield Heading(title, 1)
    if display.display.version:
        yield Words(f"Version: {display.display.version}")
    yield from _who_and_when()
    if display.display.notes:
        yield Words(display.display.notes.strip())
    yield from _section("Before the visit", BEFORE, CALL_AHEAD)
    yield from _section("Bring", BRING)
    yield _cautions()
    yield from _section("Test first, assemble then", TEST_FIRST)
    yield Heading("Which card goes where")
    for letter, face in zip(LETTERS, display.faces, strict=False):
        yield _where(letter, face, pictures.get(face.name, ()))
    yield Heading("Settings")
    yield from _settings(display.faces)
    yield Heading("The last look at each face")
    for letter, face in zip(LETTERS, display.faces, strict=False):
        yield _last_look(letter, face)
    yield from _signed()
    yield PageBreak()
    yield from _trouble()


def _who_and_when() -> Iterator[Block]:
    yield Row((WritingLine("Store number"), WritingLine("Store")))
    yield Row((WritingLine("Date, arrived at"), WritingLine("Contact in the store")))


def _signed() -> Iterator[Block]:
    yield Heading("Done")
    yield Row((WritingLine("Left at"), WritingLine("Name of the installer")))
    yield Row((WritingLine("Signature, installer"), WritingLine("Signature, store")))
    yield WritingLine("What is left to do")


def _section(name: str, steps: Iterable[Step], first: str = "") -> Iterator[Block]:
    yield Heading(name)
    if first:
        yield Words(first)
    for step in steps:
        yield tick(step.words, step.why)


def _cautions() -> Block:
    lines = [Row((Words("!", weight="bold"), Words(words)), (4.0, None)) for words in CAUTIONS]
    local = note("The local code and the store's own rules go before this page.")
    return Framed(Stack((Words("Take care", HEADING_PT, "bold"), *lines, local)), width_mm=0.8)


def _where(letter: str, face: LoadedFace, shown: tuple[Shown, ...]) -> Block:
    mark = Words(letter, TITLE_PT * 2, "bold")
    told = Stack((Words(face.name, HEADING_PT, "bold"), *map(Words, _face_words(face)), _put_in(face)))
    parts: tuple[Block, ...] = (Row((mark, told), (LETTER_MM, None)),)
    if shown:
        places = (*shown[:PICTURES_SHOWN], *[None] * (PICTURES_SHOWN - len(shown)))
        cells = tuple(
            Space(0) if one is None else Picture(one[0], one[1], PICTURE_HEIGHT_MM) for one in places
        )
        parts = (*parts, Row(cells))
    elif first := first_item(face):
        parts = (*parts, Words(f"Its loop begins with: {first}", NAME_PT))
    return Framed(Stack(parts, 2.0))


def _put_in(face: LoadedFace) -> Block:
    return tick(f"Put {card_words(face)} into the player behind this face, and close its cover")


def _face_words(face: LoadedFace) -> Iterator[str]:
    if face.face.place:
        yield f"Where: {face.face.place}"
    loop = face.face.loop
    named = " ".join(filter(None, (loop.title, f"(version {loop.version})" if loop.version else "")))
    count = len(face.manifest.play_order) if face.manifest else len(loop.items)
    seconds = face.manifest.loop_seconds if face.manifest else None
    facts = [f"{count} item{'' if count == 1 else 's'}"] if count else []
    if seconds is not None:
        facts.append(f"one round lasts {length(Fraction(seconds))}")
    if named or facts:
        yield f"Loop: {', '.join(filter(None, (named, *facts)))}"
    if face.face.input:
        yield f"Input of the screen: {face.face.input}"
    if face.face.notes:
        yield face.face.notes.strip()


def _settings(faces: tuple[LoadedFace, ...]) -> Iterator[Block]:
    """Faces with the same settings are told together."""
    groups: dict[tuple[tuple[Step, ...], tuple[Step, ...]], list[str]] = {}
    for letter, face in zip(LETTERS, faces, strict=False):
        profile = face.profile.profile
        wanted = (tuple(screen_steps(face.face, profile)), tuple(player_steps(profile)))
        groups.setdefault(wanted, []).append(f"{letter} ({face.name})")
    for (screen, player), names in groups.items():
        many = "s" if len(names) > 1 else ""
        yield Heading(f"Screen{many} of {', '.join(names)}", 3)
        yield from (tick(step.words, step.why) for step in screen)
        yield Heading(f"Player{many} of {', '.join(names)}", 3)
        yield from (tick(step.words, step.why) for step in player)


def _last_look(letter: str, face: LoadedFace) -> Block:
    head = Words(f"{letter}  {face.name}", HEADING_PT, "bold")
    steps = [tick(step.words, step.why) for step in final_steps(face, first_item(face))]
    return Framed(Stack((head, *steps)))


def _trouble() -> Iterator[Block]:
    yield Heading("If something is wrong", 1)
    yield Words(
        "The two likeliest causes of each. All of them, how to tell them apart, and what to do: "
        "mediacheck trouble, with the number."
    )
    told = [_symptom(symptom) for symptom in symptoms()]
    half = (len(told) + 1) // 2
    for left, right in zip_longest(told[:half], told[half:], fillvalue=Space(0)):
        yield Row((left, right))
    cautions = dict.fromkeys(words for symptom in symptoms() for words in symptom.cautions)
    yield Framed(Stack(tuple(Words(f"! {words}", TEXT_PT) for words in cautions), 0.6))


def _symptom(symptom: Symptom) -> Block:
    causes = [Words(f"- {cause.what}", TEXT_PT) for cause in symptom.causes[:CAUSES_SHOWN]]
    return Stack((Words(f"{symptom.number}. {symptom.title}", TEXT_PT, "bold"), *causes), 0.3)
