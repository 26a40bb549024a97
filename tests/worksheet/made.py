"""Displays for the tests of worksheets and labels, made by hand, and a canvas that notes what is drawn.

It must not read files.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from PIL import Image

from mediacheck.display import Display
from mediacheck.display_files import LoadedDisplay, LoadedFace
from mediacheck.paper.canvas import Anchor, Box, Document, Edge, Point
from mediacheck.paper.look import BLACK, LINE_MM, Ink, Weight
from mediacheck.paper.text import line_mm, width_mm
from mediacheck.profile import Profile
from mediacheck.profile_files import LoadedProfile

PROFILE = Profile.model_validate(
    {
        "id": "garden",
        "screen": {"width": 1920, "height": 1080, "turned_degrees": 90, "input": "HDMI"},
        "player": {
            "settings": [{"name": "Repeat", "value": "all files", "why": "Or it stops after a round."}]
        },
    }
)


def loaded_display(faces: list[dict[str, Any]], **keys: Any) -> LoadedDisplay:
    """A display with these faces, all with the same profile and without manifests."""
    given = [{"profile": "garden", **face} for face in faces]
    display = Display.model_validate({"id": "stand", "title": "Loam & Lantern", "faces": given, **keys})
    profile = LoadedProfile(PROFILE, "garden.yaml", "0" * 64)
    return LoadedDisplay(
        display, tuple(LoadedFace(face, profile) for face in display.faces), "stand.yaml", "0" * 64
    )


TWO_FACES: list[dict[str, Any]] = [
    {
        "name": "aisle side",
        "place": "towards the tills",
        "card_label": "AISLE",
        "input": "HDMI 1",
        "loop": {"title": "Water", "version": "3", "items": [{"name": "can.mp4", "title": "A can"}]},
    },
    {"name": "window side", "card_label": "WINDOW", "loop": {"items": [{"name": "seed.mp4"}]}},
]


@dataclass
class NotedCanvas:
    """Notes what is drawn, and where."""

    words: list[tuple[str, Box]] = field(default_factory=list)
    boxes: list[Box] = field(default_factory=list)
    filled: list[Box] = field(default_factory=list)
    pictures: list[Box] = field(default_factory=list)

    def text(
        self,
        at: Point,
        words: str,
        size_pt: float,
        weight: Weight = "regular",
        *,
        ink: Ink = BLACK,
        anchor: Anchor = "left",
    ) -> None:
        wide = width_mm(words, size_pt, weight)
        left = at.x - {"left": 0.0, "middle": 0.5, "right": 1.0}[anchor] * wide
        self.words.append((words, Box(left, at.y, wide, line_mm(size_pt))))

    def picture(self, box: Box, picture: Image.Image) -> None:
        self.pictures.append(box)

    def line(self, start: Point, end: Point, *, ink: Ink = BLACK, width_mm: float = LINE_MM) -> None:
        self.boxes.append(Box(start.x, start.y, end.x - start.x, end.y - start.y))

    def box(
        self,
        box: Box,
        *,
        fill: Ink | None = None,
        ink: Ink | None = BLACK,
        width_mm: float = LINE_MM,
        edge: Edge = "plain",
    ) -> None:
        (self.boxes if fill is None else self.filled).append(box)


def drawn(document: Document) -> list[NotedCanvas]:
    """What is on each page."""
    found = [NotedCanvas() for _ in document.pages]
    for page, canvas in zip(document.pages, found, strict=True):
        page(canvas)
    return found


def all_words(document: Document) -> str:
    """All words of all pages, as they are read."""
    return " ".join(words for canvas in drawn(document) for words, _ in canvas.words)


def overlaps(one: Box, other: Box, by_mm: float = 0.05) -> bool:
    """Whether two regions have more than a hair in common."""
    across = min(one.right, other.right) - max(one.left, other.left)
    down = min(one.bottom, other.bottom) - max(one.top, other.top)
    return across > by_mm and down > by_mm
