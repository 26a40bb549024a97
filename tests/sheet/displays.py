"""Displays as they are drawn on sheets, invented, with as many faces and items as a test asks for."""

from __future__ import annotations

from dataclasses import replace

from mediacheck.names import VerdictWord
from mediacheck.report.model import Finding, ScreenShape
from mediacheck.sheet.faces import ShownDisplay, ShownFace, Words
from tests.sheet.recipes import LANDSCAPE, LEAF, PORTRAIT, SUN, picture, plays, report

NAMES = (
    "aisle side",
    "window side",
    "gießkannen-seite zur kasse",
    "花园灌溉一侧，靠近收银台",
    "جانب الحديقة",
    "पानी देने की ओर",
    "the side that one sees first when one comes in from the car park through the greenhouse",
    "🌱 seeds 🌻",
)
VERDICTS: tuple[VerdictWord, ...] = ("pass", "warn", "fail", "incomplete")
WRONG_FACE = Finding(
    "loop-wrong-face",
    "fail",
    None,
    "the loop of the window side",
    "the loop of the aisle side",
    "This card carries the loop of the window side: the aisle side would show the wrong film.",
    "Put this card into the player of the window side, and look for the card AISLE.",
    False,
    "common practice",
)


def words(number: int) -> Words:
    name = NAMES[(number - 1) % len(NAMES)]
    return Words(
        name=name if number <= len(NAMES) else f"{name} {number}",
        place="towards the tills, behind the shelf with the pots",
        card_label=f"CARD-{number}",
        input="HDMI 1",
        loop_title="Water without waste",
        version="3",
        notes="The card slot is at the bottom of the player.",
        item_titles=("The watering can that stops by itself", "Seeds"),
    )


def face(
    number: int, items: int = 4, screen: ScreenShape = LANDSCAPE, *, with_card: bool = True
) -> ShownFace:
    """A face whose card has so many items; names are long on every third."""
    plain = ShownFace(number, words(number), screen)
    if not with_card:
        return plain
    paths = [f"{n:02}-{'drip hose in spring ' * (5 if n % 3 == 0 else 1)}.mp4" for n in range(1, items + 1)]
    checked = report([plays(path) for path in paths], screen, VERDICTS[number % 4], f"/cards/{number}")
    grounds = (LEAF, SUN, (20, 90, 140), (160, 40, 40))
    pictures = {
        path: tuple(picture((320, 180), 1.5 + 3 * i, grounds[(n + i) % 4]) for i in range(4))
        for n, path in enumerate(paths)
    }
    lead = {path: some[0] for path, some in pictures.items()}
    return replace(plain, report=checked, pictures=pictures, lead=lead)


def display(count: int, items: int = 4, *, cards: int | None = None) -> ShownDisplay:
    """A display with so many faces, landscape and upright in turn; the first `cards` of them have cards."""
    screens = (LANDSCAPE, PORTRAIT)
    faces = tuple(
        face(n, items, screens[n % 2], with_card=cards is None or n <= cards) for n in range(1, count + 1)
    )
    faces = tuple(
        replace(one, common=tuple(float(one is other) for other in faces)) if one.report else one
        for one in faces
    )
    return ShownDisplay(
        "Loam & Lantern, the stand at the entrance", "entrance", "spring 2026", "Notes.", faces, "1.2.3"
    )


def sharing(shown: ShownDisplay, share: float) -> ShownDisplay:
    """The same, where all faces have so much in common, and the last picture of the last item is marked."""
    faces = []
    for one in shown.faces:
        assert one.report is not None
        last = one.report.items[-1].path
        alone = one.pictures[last][-1]
        marked = {last: frozenset({alone.second})} if share < 1 else {}
        common = tuple(1.0 if one is other else share for other in shown.faces)
        lead = {**one.lead, last: alone} if share < 1 else one.lead
        faces.append(replace(one, only_here=marked, common=common, lead=lead))
    return replace(shown, faces=tuple(faces))
