"""An identification for a terminal or a pipe.

It must not find anything out.
"""

from __future__ import annotations

from rich.console import Console
from rich.text import Text

from mediacheck.face_names import the_face
from mediacheck.identify.model import Identified, LoopFound
from mediacheck.report.terminal import say
from mediacheck.report.words import clock, safe

LISTED = 8


def print_identified(found: Identified, console: Console) -> None:
    """The answer first, then what it may be."""
    words, style = headline(found)
    say(console, Text(safe(words), style=style))
    say(console, Text(safe(found.reason)))
    for loop in found.loops[:LISTED]:
        say(console, Text(safe(loop_words(loop))), "  ")
    if len(found.loops) > LISTED:
        say(console, Text(f"and {len(found.loops) - LISTED:,} more."), "  ")


def headline(found: Identified) -> tuple[str, str]:
    """For somebody who stands before two screens."""
    loop = found.loops[0] if found.loops else None
    if found.right_face is True and found.face is not None:
        return f"RIGHT: this is the loop of {the_face(found.face)}.", "bold green"
    if found.right_face is False and found.face is not None:
        what = f"{loop.name}" if loop and found.answer == "match" else "another loop, or another version"
        return f"WRONG: {the_face(found.face)} shows {what}.", "bold red"
    if found.answer == "match" and loop is not None:
        faces = [the_face(one.face) for one in found.loops if one.face]
        where = f", which belongs on {' and on '.join(faces)}" if faces else ""
        return f"THIS IS {loop.name}{where}.", "bold green"
    return _uncertain(found)


def _uncertain(found: Identified) -> tuple[str, str]:
    photo = found.looked_at == "photo"
    return {
        "one of": ("NOT CERTAIN: it is one of these.", "bold yellow"),
        "other version": (
            f"{'PERHAPS ' * photo}ANOTHER VERSION of a loop that is known here.",
            "bold yellow",
        ),
        "none": ("NONE of the loops that are known here.", "bold"),
        "retake": ("TAKE THE PHOTO AGAIN." if photo else "CANNOT SAY.", "bold yellow"),
        "match": ("THIS IS a loop that is known here.", "bold green"),
    }[found.answer]


def loop_words(loop: LoopFound) -> str:
    """One loop: its name, version, where in its round, and how sure."""
    parts = [loop.name]
    if loop.version:
        parts.append(f"version {loop.version}")
    if loop.face:
        parts.append(f"for {the_face(loop.face)}")
    if loop.from_s is not None and loop.until_s is not None:
        from fractions import Fraction

        parts.append(f"at {clock(Fraction(loop.from_s))} to {clock(Fraction(loop.until_s))} of its round")
    parts.append(f"{100 if loop.sure == 1 else min(99, round(100 * loop.sure))} % sure")
    return ", ".join(parts)
