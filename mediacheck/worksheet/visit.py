"""The installer's page for one display: before the visit, in the store, and the last look.

It must not say what stands in `steps`, or draw: it puts the words on paper in their order.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from fractions import Fraction
from itertools import accumulate

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
from mediacheck.sheet.faces import letter
from mediacheck.trouble.book import cautions, symptoms
from mediacheck.trouble.model import Symptom
from mediacheck.worksheet.on_card import PICTURES_SHOWN, OnCard
from mediacheck.worksheet.steps import (
    BEFORE,
    BRING,
    CALL_AHEAD,
    TEST_FIRST,
    Step,
    card_words,
    final_steps,
    first_item,
    player_steps,
    screen_steps,
)

LETTER_MM = 14.0
"""Room for the letter of a face, by which faces are told apart without colours, and from across a room."""
PICTURE_HEIGHT_MM = 32.0
FIRST_PICTURE_MM = 48.0
"""Width of the room for the picture that must be seen."""
CAUSES_SHOWN = 2
COLUMN_MM, BETWEEN_SYMPTOMS_MM = 92.0, 1.2
"""About what two columns are wide, and the room between symptoms."""
BURNT = "burnt"
"""The caution that is said again where trouble is looked for."""
Cards = Mapping[str, OnCard]
"""By the name of a face: what was seen on its card."""
NO_CARD = OnCard()


def worksheet(
    display: LoadedDisplay, cards: Cards, paper: PaperName = "A4", creator: str = "mediacheck"
) -> Document:
    """The pages for one visit. Faces whose card was not looked at are told by words alone."""
    title = display.display.title or display.display.id
    return document(f"Visit: {title}", PAPERS[paper], _blocks(display, title, cards), creator)


def _blocks(display: LoadedDisplay, title: str, cards: Cards) -> Iterator[Block | PageBreak]:
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
    if cards:
        yield note("Cards that were at hand when this page was made had the quick check, and no other.")
    for mark, face in _lettered(display.faces):
        yield _where(mark, face, cards.get(face.name, NO_CARD))
    yield Heading("Settings")
    yield from _settings(display.faces)
    yield Heading("The last look at each face")
    for mark, face in _lettered(display.faces):
        yield _last_look(mark, face, cards.get(face.name, NO_CARD))
    yield from _signed()
    yield PageBreak()
    yield from _trouble()


def _lettered(faces: Iterable[LoadedFace]) -> Iterator[tuple[str, LoadedFace]]:
    """Each face with the letter that it has on the sheet too."""
    return ((letter(number), face) for number, face in enumerate(faces, 1))


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
    lines = [Row((Words("!", weight="bold"), Words(words)), (4.0, None)) for words in cautions().values()]
    local = note("The local code and the store's own rules go before this page.")
    return Framed(Stack((Words("Take care", HEADING_PT, "bold"), *lines, local)), width_mm=0.8)


def _where(mark: str, face: LoadedFace, card: OnCard) -> Block:
    words = (*map(Words, _face_words(face, card)), *map(_warning, card.warnings))
    told = Stack((Words(face.name, HEADING_PT, "bold"), *words, _put_in(face)))
    parts: tuple[Block, ...] = (Row((Words(mark, TITLE_PT * 2, "bold"), told), (LETTER_MM, None)),)
    if card.shown:
        cells = [Picture(image, under, PICTURE_HEIGHT_MM) for image, under in card.shown]
        empty = [Space(0)] * (PICTURES_SHOWN - len(cells))
        parts = (*parts, Row((*cells, *empty)))
    elif first := first_item(face):
        parts = (*parts, Words(f"Its loop begins with: {first}", NAME_PT))
    return Framed(Stack(parts, 2.0))


def _warning(words: str) -> Block:
    return Row((Words("!", weight="bold"), Words(words, weight="bold")), (1.5, None))


def _put_in(face: LoadedFace) -> Block:
    return tick(f"Put {card_words(face)} into the player behind this face, and close its cover")


def _face_words(face: LoadedFace, card: OnCard) -> Iterator[str]:
    if face.face.place:
        yield f"Where: {face.face.place}"
    loop = face.face.loop
    named = (loop.title, f"version {loop.version}" if loop.version else "", *_should_be(face))
    if any(named):
        yield f"Loop: {', '.join(filter(None, named))}"
    if card.facts:
        yield f"On the card: {card.facts}"
    if face.face.input:
        yield f"Input of the screen: {face.face.input}"
    if face.face.notes:
        yield face.face.notes.strip()


def _should_be(face: LoadedFace) -> Iterator[str]:
    """How many items should be on the card, and how long one round should last, where that is written."""
    if count := len(face.play_order):
        yield f"{count} item{'' if count == 1 else 's'}"
    if face.manifest and face.manifest.loop_seconds is not None:
        yield f"one round lasts {length(Fraction(face.manifest.loop_seconds))}"


def _settings(faces: tuple[LoadedFace, ...]) -> Iterator[Block]:
    """Faces with the same settings are told together."""
    groups: dict[tuple[tuple[Step, ...], tuple[Step, ...]], list[str]] = {}
    for mark, face in _lettered(faces):
        profile = face.profile.profile
        wanted = (tuple(screen_steps(face.face, profile)), tuple(player_steps(profile)))
        groups.setdefault(wanted, []).append(f"{mark} ({face.name})")
    for (screen, player), names in groups.items():
        many = "s" if len(names) > 1 else ""
        yield Heading(f"Screen{many} of {', '.join(names)}", 3)
        yield from (tick(step.words, step.why) for step in screen)
        yield Heading(f"Player{many} of {', '.join(names)}", 3)
        yield from (tick(step.words, step.why) for step in player)


def _last_look(mark: str, face: LoadedFace, card: OnCard) -> Block:
    head = Words(f"{mark}  {face.name}", HEADING_PT, "bold")
    steps = Stack(tuple(tick(step.words, step.why) for step in final_steps(face, first_item(face))))
    if card.first is None:
        return Framed(Stack((head, steps)))
    seen = Picture(card.first, "This must be seen first.", PICTURE_HEIGHT_MM)
    return Framed(Stack((head, Row((steps, seen), (None, FIRST_PICTURE_MM)))))


def _trouble() -> Iterator[Block]:
    yield Heading("If something is wrong", 1)
    yield Words(
        "The two likeliest causes of each. All of them, how to tell them apart, and what to do: "
        "mediacheck trouble, with the number.",
        TEXT_PT,
    )
    yield Words('! Read "Take care" in these pages before you touch anything.', TEXT_PT, "bold")
    yield Words(f"! {cautions()[BURNT]}", TEXT_PT, "bold")
    yield Row(_columns([_symptom(symptom) for symptom in symptoms()]))


def _columns(told: Sequence[Block]) -> tuple[Block, ...]:
    """Two, as even as they get, to be read one after the other."""
    heights = list(accumulate(block.height_mm(COLUMN_MM) for block in told))
    half = next(place for place, height in enumerate(heights, 1) if height >= heights[-1] / 2)
    return tuple(Stack(tuple(part), BETWEEN_SYMPTOMS_MM) for part in (told[:half], told[half:]))


def _symptom(symptom: Symptom) -> Block:
    causes = [Words(f"- {cause.what}", TEXT_PT) for cause in symptom.causes[:CAUSES_SHOWN]]
    return Stack((Words(f"{symptom.number}. {symptom.title}", TEXT_PT, "bold"), *causes), 0.3)
