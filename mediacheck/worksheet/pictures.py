"""What the screens of a display show, small, for those who hold a card and look for its face.

It must not look at a card: the sheet's pictures are given.
"""

from __future__ import annotations

from mediacheck.sheet.faces import ShownDisplay, ShownFace
from mediacheck.sheet.screen_view import LONG_SIDE_PX, seen_shape, size_px, view
from mediacheck.worksheet.visit import PICTURES_SHOWN, Pictures, Shown


def pictures_of(shown: ShownDisplay) -> Pictures:
    """The first pictures of each face that has a card, as a viewer sees them."""
    return {face.words.name: tuple(_views(face)) for face in shown.faces if face.loop_pictures}


def _views(face: ShownFace) -> list[Shown]:
    found = []
    for number, (path, picture) in enumerate(face.loop_pictures[:PICTURES_SHOWN]):
        size = size_px(seen_shape(face.screen, picture), LONG_SIDE_PX)
        words = f"begins with {path}" if number == 0 else path
        found.append((view(picture, face.screen, size), words))
    return found
