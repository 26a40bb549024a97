"""The rule that tells cards apart which lie in the wrong player: a loop of another face, or of no face.

It must not read files: the display file and its manifests were read before.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from typing import TYPE_CHECKING

from mediacheck.face_names import the_face
from mediacheck.rules.known_loops import KnownLoop
from mediacheck.rules.model import PASSED, Answer, Whole, rule, seen
from mediacheck.rules.standing import SOURCE, Standing, standing, unsettled
from mediacheck.rules.whose import Whose
from mediacheck.rules.wording import listed

if TYPE_CHECKING:
    from mediacheck.display_files import LoadedFace


@rule("loop-wrong-face", severity="fail", scope="loop", source=SOURCE)
def loop_wrong_face(whole: Whole) -> Answer:
    """The card carries the loop of another face of the display, or none of its loops: this face would show
    the wrong film."""
    stands = standing(whole)
    if not isinstance(stands, Standing):
        return stands
    theirs = stands.of("theirs")
    if theirs:
        return _both(theirs, stands.here) if stands.is_told else _swapped(theirs, stands.here)
    if len(stands.of("strange")) == len(stands.found):
        return _none(stands.here)
    return PASSED if _is_settled(stands) else unsettled(stands)


def _is_settled(stands: Standing) -> bool:
    """Whether what is not known could not be more of another face's loop than there is of this one's."""
    alike = stands.of("either")
    known = len(stands.of("ours")) + len(alike)
    return known > len(stands.of("open")) and (stands.is_told or not alike)


def _swapped(theirs: Sequence[Whose], here: LoadedFace) -> Answer:
    loop = _most_common(theirs)
    face, own_face = the_face(loop.face), the_face(here.name)
    what = f"{'the loop' if loop.is_current else 'an earlier loop'} of {face}"
    by_name = all(one.how == "name" for one in theirs)
    return seen(
        what,
        f"the loop of {own_face}",
        f"{'By the names of its files, this' if by_name else 'This'} card carries {what}: {own_face} would "
        "show the wrong film.",
        f"Put this card into the player of {face}, and look for {_card_of(here)}.",
    )


def _most_common(theirs: Sequence[Whose]) -> KnownLoop:
    """The loop that most of these items are in; of equal ones a current one, in the order of the display."""
    counts = Counter(loop for one in theirs for loop in one.loops)
    return max(counts, key=lambda loop: (counts[loop], loop.is_current))


def _card_of(face: LoadedFace) -> str:
    label = face.face.card_label
    return f"the card labelled {label}" if label else f"the card of {the_face(face.name)}"


def _both(theirs: Sequence[Whose], here: LoadedFace) -> Answer:
    faces = dict.fromkeys(loop.face for one in theirs for loop in one.loops[:1])
    whom, own_face = " and ".join(map(the_face, faces)), the_face(here.name)
    names = listed([f'"{one.path}"' for one in theirs])
    return seen(
        f"items of {whom}: {names}",
        f"the loop of {own_face} alone",
        f"Among the items of {own_face}, this card carries some of {whom} ({names}): they would be shown "
        "where they do not belong.",
        f"Delete them from the card, or have the card of {own_face} made again.",
    )


def _none(here: LoadedFace) -> Answer:
    own_face = the_face(here.name)
    return seen(
        "none of the display's loops",
        f"the loop of {own_face}",
        "This card carries none of the loops that the display file tells of: "
        f"{own_face} would show the wrong film.",
        f"Look for {_card_of(here)}, or name this card's manifest in the display file if its loop is new.",
    )
