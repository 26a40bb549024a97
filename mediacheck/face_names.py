"""Names of faces and of files as people write them: how they are compared, and how one stands in a sentence.

It must not know what a display is.
"""

from __future__ import annotations


def the_face(name: str) -> str:
    """The face in a sentence: the aisle side, or the face "A" where its name is no plain word."""
    plain = name[:1].islower()
    return name if name.startswith("the ") else f"the {name}" if plain else f'the face "{name}"'


def folded(name: str) -> str:
    """A name as it is compared: without regard to capitals, and to how many blanks there are."""
    return " ".join(name.split()).casefold()
