"""What an installer does at a display, step by step, in plain words.

It must not know how a page looks. Where no source is named, a step is common practice.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from mediacheck.display import Face
from mediacheck.display_files import LoadedFace
from mediacheck.profile import Profile


@dataclass(frozen=True, slots=True)
class Step:
    """Something to do and to tick, and why."""

    words: str
    why: str = ""


CALL_AHEAD = "Call the store 24 to 72 hours ahead (common practice), and ask:"
BEFORE: tuple[Step, ...] = (
    Step("Is the display there, whole, and with all its parts?"),
    Step("Is its place decided, free, and measured?"),
    Step("Is there a power drop within reach of the display's one plug, and is it on all day?"),
    Step("Who is the contact on the day, and how are they reached?"),
    Step("When may the work be done, and must anybody be told before?"),
)
BRING: tuple[Step, ...] = (
    Step("The cards of all faces, each in a sleeve with its label", "They look alike once they are out."),
    Step("A spare card and a spare player", "So that a fault needs no second visit."),
    Step("A spare HDMI lead for each kind of connector"),
    Step("A card reader, and a computer with mediacheck", "It works without a network."),
    Step("The remote control of the screen and of the player, with new batteries"),
    Step("This page, a pen, and a phone for the pictures"),
)
TEST_FIRST: tuple[Step, ...] = (
    Step(
        "Lay out all screens and players, and connect each with its own, before assembling anything",
        "A dead screen or lead is found while it can still be reached.",
    ),
    Step("Switch them on: each screen shows a picture from its player"),
    Step("Look for scratches, dead lines and stuck points, and note them at the end"),
)


def screen_steps(face: Face, profile: Profile) -> Iterator[Step]:
    """What to set in the menu of the screen of this face."""
    plug = face.input or profile.screen.input
    shown = f"Input: {plug}" if plug else "Input: the one that the player is plugged into"
    yield Step(f"{shown}, also after the power was off", "Otherwise the screen looks for another signal.")
    yield Step(
        "Picture size: every pixel as it comes, without overscan (often named full, screen fit or 1:1)",
        "Otherwise the edges are cut off and small print is blurred.",
    )
    yield Step("Sleep timer, power saving, automatic switching off: off", "Or it goes dark by itself.")
    yield Step("Start when the power comes: on", "Nobody is there to press a key.")
    yield Step("Sound: as the store wants it, and not louder than people beside it can bear")
    if profile.screen.turned_degrees:
        yield Step(
            f"The panel hangs turned {profile.screen.turned_degrees}° clockwise, seen from the front; menu "
            "and player are left unturned",
            "The picture was turned before, for this panel.",
        )


def player_steps(profile: Profile) -> Iterator[Step]:
    """What to set in the menu of the player of this face, as its profile says."""
    for setting in profile.player.settings:
        yield Step(f"{setting.name}: {setting.value}", setting.why)
    if not profile.player.settings:
        yield Step(
            "Start with the power: on; repeat: all files", "Otherwise the loop does not come by itself."
        )


def final_steps(face: LoadedFace, first: str) -> Iterator[Step]:
    """The last look at one face; `first` is the item that must be seen first, in the words of the store."""
    yield Step("Take the power away, wait ten seconds, give it back, and touch nothing")
    seen = f"The loop starts by itself, and begins with: {first}" if first else "The loop starts by itself"
    yield Step(seen, "Not the player's menu, not another face's loop.")
    yield Step("The picture fills the screen, upright, nothing cut off, no bars, no stretching")
    yield Step("Watch one whole round: it begins again without a menu between")
    yield Step("Take a photograph of this face from the front, with the screen filling most of it")


def first_item(face: LoadedFace) -> str:
    """What the loop of this face begins with, in the words of the store; empty where that is not known."""
    return face.title_of(face.play_order[0]) if face.play_order else ""


def card_words(face: LoadedFace) -> str:
    """What stands on the card of this face."""
    label = face.face.card_label or (face.manifest.label if face.manifest else None)
    return f"the card labelled {label}" if label else "the card of this face"
