"""Labels for cards and their sleeves: face, display, version, and a code that names the manifest.

It must not know how labels lie on a sheet.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path

import segno

from mediacheck.display_files import LoadedDisplay, LoadedFace
from mediacheck.errors import WrongUse
from mediacheck.paper.canvas import Box, Canvas, Document, Point
from mediacheck.paper.look import BLACK, HAIRLINE, SMALL_PT, Weight
from mediacheck.paper.text import line_mm, paragraph, shortened, width_mm, wrapped
from mediacheck.sheet.faces import letter
from mediacheck.worksheet.label_sheets import LabelSheet

PAD_MM = 2.0
QUIET_MODULES = 4
"""Empty modules around a code (ISO/IEC 18004; from memory)."""
MODULE_MM_MIN = 0.33
"""Smaller modules are hard to read for a phone (common practice, no source)."""
SHORT_HASH = 8
NAME_SIZES_PT = (13.0, 11.0, 9.0, 7.5)
NAME_LINES = 2
ROUGHLY_MM = 0.01


@dataclass(frozen=True, slots=True)
class Label:
    """What stands on one label, the most important first."""

    lines: tuple[tuple[str, Weight], ...]
    code: str | None
    """What the code says, in capitals, which take less room in it; None: there is no manifest yet."""


def labels_of(display: LoadedDisplay, copies: int = 1) -> tuple[Label, ...]:
    """The labels of all faces, each so many times: for the card and for its sleeve."""
    labels = (_label(display, face, letter(number)) for number, face in enumerate(display.faces, 1))
    return tuple(label for label in labels for _ in range(copies))


def label_pages(
    labels: Sequence[Label], sheet: LabelSheet, title: str, first: int = 1, creator: str = "mediacheck"
) -> Document:
    """Pages of such sheets, beginning at the first-th label of the first one, where some are used up already.

    WrongUse: the sheet has no such place.
    """
    if not 1 <= first <= sheet.places:
        raise WrongUse(
            f"A sheet with labels of {sheet.name} mm has the places 1 to {sheet.places}, not {first}."
        )
    placed = [None] * (first - 1) + list(labels)
    pages = tuple(
        partial(_draw_page, labels=tuple(placed[at : at + sheet.places]), boxes=tuple(sheet.boxes()))
        for at in range(0, len(placed), sheet.places)
    )
    return Document(title, sheet.paper, pages, creator)


def manifest_hash(display: LoadedDisplay, face: LoadedFace) -> str | None:
    """SHA-256 of the file of the face's manifest; None where there is none."""
    if face.face.loop.manifest is None:
        return None
    path = Path(display.source).parent / face.face.loop.manifest
    return hashlib.sha256(path.read_bytes()).hexdigest()


def _label(display: LoadedDisplay, face: LoadedFace, mark: str) -> Label:
    """Of one face, with the letter that it has on the sheet and on the installer's page."""
    found = manifest_hash(display, face)
    version = face.face.loop.version or display.display.version
    card = face.face.card_label or (face.manifest.label if face.manifest else None)
    lines: list[tuple[str, Weight]] = [
        (f"{mark}  {face.name}", "bold"),
        (display.display.title or display.display.id, "regular"),
    ]
    if card:
        lines.append((f"card {card}", "bold"))
    if version:
        lines.append((f"version {version}", "regular"))
    lines.append((found[:SHORT_HASH] if found else "no manifest yet", "regular"))
    return Label(tuple(lines), f"SHA256:{found.upper()}" if found else None)


def _draw_page(canvas: Canvas, labels: tuple[Label | None, ...], boxes: tuple[Box, ...]) -> None:
    for label, box in zip(labels, boxes, strict=False):
        if label is not None:
            draw_label(canvas, label, box)


def draw_label(canvas: Canvas, label: Label, box: Box) -> None:
    """One label, with a thin line around it that helps to cut where the sheet is plain paper."""
    canvas.box(box, ink=HAIRLINE)
    inner = box.inset(PAD_MM)
    code_mm = min(inner.height, inner.width * 0.45) if label.code else 0.0
    text = Box(inner.left, inner.top, inner.width - code_mm - (1.0 if code_mm else 0.0), inner.height)
    _draw_lines(canvas, label, text)
    if label.code:
        top = inner.top + (inner.height - code_mm) / 2
        draw_code(canvas, label.code, Box(inner.right - code_mm, top, code_mm, code_mm))


def _draw_lines(canvas: Canvas, label: Label, box: Box) -> None:
    """All lines below each other; what is too wide is shortened, but the name only if nothing else helps."""
    name_pt, name = _name_in(label, box)
    rest_pt = min(name_pt, SMALL_PT)
    rest = [
        (shortened(words, rest_pt, weight, box.width), rest_pt, weight) for words, weight in label.lines[1:]
    ]
    top = box.top
    for words, pt, weight in (*((line, name_pt, label.lines[0][1]) for line in name), *rest):
        if top + line_mm(pt) > box.bottom + ROUGHLY_MM:
            return
        canvas.text(Point(box.left, top), words, pt, weight)
        top += line_mm(pt)


def _name_in(label: Label, box: Box) -> tuple[float, tuple[str, ...]]:
    """The name in the largest letters in which it and all other lines find room, no word of it torn."""
    name, weight = label.lines[0]
    for pt in NAME_SIZES_PT:
        lines = paragraph(name, pt, weight, box.width)
        torn = len(lines) > 1 and any(width_mm(word, pt, weight) > box.width for word in name.split())
        if len(lines) <= _name_lines_max(label, pt, box) and not torn:
            return pt, lines
    return pt, wrapped(name, pt, weight, box.width, max(1, _name_lines_max(label, pt, box)))


def _name_lines_max(label: Label, size_pt: float, box: Box) -> int:
    """How many lines the name may take, so that all others find room below it."""
    others_mm = (len(label.lines) - 1) * line_mm(min(size_pt, SMALL_PT))
    return min(NAME_LINES, int((box.height - others_mm + ROUGHLY_MM) / line_mm(size_pt)))


def draw_code(canvas: Canvas, text: str, box: Box) -> None:
    """A QR code (ISO/IEC 18004) with its quiet zone, as large as the box; as well protected against dirt as
    the size of its modules allows."""
    for level in ("m", "l"):
        rows = [bytes(row) for row in segno.make_qr(text, error=level).matrix]
        module = box.width / (len(rows) + 2 * QUIET_MODULES)
        if module >= MODULE_MM_MIN:
            break
    for y, row in enumerate(rows):
        for start, end in _dark(row):
            left, top = box.left + (QUIET_MODULES + start) * module, box.top + (QUIET_MODULES + y) * module
            canvas.box(Box(left, top, (end - start) * module, module), fill=BLACK, ink=None)


def _dark(row: bytes) -> Iterator[tuple[int, int]]:
    """Stretches of dark modules."""
    start = None
    for place, module in enumerate((*row, 0)):
        if module and start is None:
            start = place
        elif not module and start is not None:
            yield start, place
            start = None
