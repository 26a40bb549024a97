"""The rule that finds the card of yesterday: the right loop, but not as it belongs on the face now.

It must not read files: the display file and its manifests were read before.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from mediacheck.face_names import folded, the_face
from mediacheck.rules.known_loops import KnownItem, KnownLoop
from mediacheck.rules.model import NOT_APPLICABLE, PASSED, Answer, Seen, Whole, rule, seen
from mediacheck.rules.standing import NAMES_ONLY, SOURCE, Standing, not_read, standing, unsettled
from mediacheck.rules.whose import carries, names_alone
from mediacheck.rules.wording import listed

REPLACED = "the screen shows what was to be replaced"


@rule("loop-outdated", severity="warn", scope="loop", source=SOURCE)
def loop_outdated(whole: Whole) -> Answer:
    """The card carries this face's loop, but not in the version that belongs there now: the screen shows what
    was to be replaced."""
    stands = standing(whole)
    if not isinstance(stands, Standing):
        return stands
    if stands.of("theirs"):  # then loop-wrong-face says what is wrong
        return _older(stands) or NOT_APPLICABLE
    if not stands.of("ours"):
        return unsettled(stands) if stands.of("open") or stands.of("either") else NOT_APPLICABLE
    return _version(whole, stands)


def _version(whole: Whole, stands: Standing) -> Answer:
    current, items = stands.known.own[0], whole.loop.items
    exact = next((one for one in stands.known.own if carries(items, one) and _in_order(whole, one)), None)
    if exact:
        return PASSED if exact.is_current else _earlier(exact, current)
    older = _older(stands)
    unread = next((one for one in stands.found if one.file.sha256 is None), None)
    if older or unread is None:
        return older or _otherwise(stands, current)
    return not_read(unread)


def _in_order(whole: Whole, loop: KnownLoop) -> bool:
    """Whether the player plays the files in the order of that loop, as far as the order is known."""
    is_known = whole.card.order_known or whole.profile.player.order == "name"
    return not is_known or tuple(file.sha256 for file in whole.loop.items) == loop.hashes


def _earlier(found: KnownLoop, current: KnownLoop) -> Answer:
    face = the_face(current.face)
    return seen(
        found.version,
        current.version,
        f"This card carries {found.version} of the loop of {face}, where {current.version} belongs now: "
        f"{REPLACED}.",
        _action(current),
    )


def _older(stands: Standing) -> tuple[Seen, ...]:
    """Items that only an earlier version has."""
    current = stands.known.own[0]
    older = [one for one in stands.of("ours") if current not in one.loops]
    if not older:
        return PASSED
    names, version = _named([one.path for one in older]), older[0].loops[0].version
    return seen(
        f"items of {version}: {names}",
        current.version,
        f"This card carries items of {version} of the loop of {the_face(current.face)} ({names}), where "
        f"{current.version} belongs now: {REPLACED}.",
        _action(current),
    )


def _otherwise(stands: Standing, current: KnownLoop) -> Answer:
    differences = tuple(_differences(stands, current))
    if not differences and names_alone(current):
        return NAMES_ONLY
    found = "; ".join(differences) or "its files play in another order, or more than once"
    return seen(
        found,
        current.version,
        f"This card does not carry {current.version} of the loop of {the_face(current.face)} as it is listed "
        f"({found}): it may be another version.",
        _action(current),
    )


def _differences(stands: Standing, current: KnownLoop) -> Iterator[str]:
    """What is not as in the current version, as clauses."""
    alone = names_alone(current)
    again = [one.path for one in stands.found if one.how == "picture"]
    other = [one for one in stands.found if one.side in ("open", "strange")]
    more = [one.path for one in other if folded(one.path) not in alone]
    gone = _missing(stands, current)
    if again:
        yield f"{_named(again)} {_verb(again, 'shows', 'show')} the same pictures in other files"
    if more:
        yield f"{_named(more)} {_verb(more, 'is', 'are')} none of its files"
    if gone:
        yield f"{_named(gone)} {_verb(gone, 'is', 'are')} missing"


def _missing(stands: Standing, current: KnownLoop) -> list[str]:
    """Items of the current version that no file of the card is, or may be."""
    hashes = {one.file.sha256 for one in stands.found}
    names = {folded(one.path) for one in stands.found}
    shown = frozenset().union(*(one.shows for one in stands.found))

    def is_there(item: KnownItem) -> bool:
        if item.sha256 is None:
            return folded(item.path) in names
        return item.sha256 in hashes or item.fingerprint in shown

    return [item.path for item in current.items if not is_there(item)]


def _action(current: KnownLoop) -> str:
    return f"Copy {current.version} onto the card, or look for the newest card of {the_face(current.face)}."


def _named(paths: Sequence[str]) -> str:
    return listed([f'"{path}"' for path in paths])


def _verb(paths: Sequence[str], one: str, more: str) -> str:
    return one if len(paths) == 1 else more
