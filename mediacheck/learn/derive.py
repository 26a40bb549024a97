"""From cards that play to the values of a profile: as tight as what was seen, and no tighter.

It must not write a profile, and must not refuse a card: that was decided before.

Laws that the tests hold: every card that is not refused passes the profile that it was learned from; the
order of the cards changes nothing; and a limit that stays one when a card is added never gets tighter.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from mediacheck.card.model import Card
from mediacheck.check import judged
from mediacheck.judge import judge
from mediacheck.learn.card_values import card_values, order_value
from mediacheck.learn.evidence import Found, Sighting
from mediacheck.learn.layout_values import layout_values
from mediacheck.learn.limits import profile_of
from mediacheck.learn.loop_values import loop_values
from mediacheck.learn.material import loop_remarks, sound_remarks
from mediacheck.learn.model import Learned, Taught, Value
from mediacheck.learn.picture_values import picture_values
from mediacheck.learn.refusal import broken_paths, refused, without_limits
from mediacheck.learn.relaxed import relaxed_rules
from mediacheck.learn.sound_values import sound_values
from mediacheck.learn.still_values import still_values
from mediacheck.loop import File, loop_of
from mediacheck.names import Depth
from mediacheck.profile_files import LoadedProfile
from mediacheck.report.model import Report
from mediacheck.report.words import counted
from mediacheck.rules.catalogue import RULES

KIND_OF_CARD = ("card", "file_systems")
BOUND_TO_THE_KIND = frozenset(("file-too-big", "file-name"))
"""Rules that hold files against what the profile's file systems can hold."""
NOT_ONLY_THESE = "files of a card whose kind is not known do not fit on these: too little for a limit"


@dataclass(frozen=True, slots=True)
class _Cards:
    """The cards that teach, and of their files those that do."""

    taught: tuple[Taught, ...]
    files: tuple[tuple[File, ...], ...]

    @property
    def sightings(self) -> tuple[Sighting, ...]:
        """Every file with the number of its card."""
        return tuple(Sighting(number, file) for number, files in enumerate(self.files) for file in files)

    @property
    def cards(self) -> tuple[Card, ...]:
        """In the same order."""
        return tuple(each.surveyed.card for each in self.taught)


def learned(taught: Sequence[Taught], depth: Depth) -> Learned:
    """All that these cards teach, at the depth of their surveys.

    Cards that `refusals` names may be among them: their broken and left-over files then teach nothing, and
    they may not pass the profile, which the notes say. Cards with nothing to play teach nothing.
    """
    judged_freely = [(each, without_limits(each.surveyed, depth)) for each in taught]
    cards = _teaching(judged_freely)
    values = _fitting(_limits(cards), cards, depth) if cards.taught else ()
    values += tuple(relaxed_rules(_reports(values, cards, depth), cards.sightings))
    in_spite = tuple(each.card for each in refused(judged_freely))
    names = tuple(each.shown for each in taught)
    return Learned(values, names, _notes(names, in_spite, depth))


def _teaching(judged_freely: Sequence[tuple[Taught, Report]]) -> _Cards:
    pairs = [(each, _useful(each, broken_paths(report))) for each, report in judged_freely]
    there = [(each, files) for each, files in pairs if any(map(_is_item, files))]
    return _Cards(tuple(each for each, _ in there), tuple(files for _, files in there))


def _useful(taught: Taught, broken: frozenset[str]) -> tuple[File, ...]:
    return tuple(file for file in taught.surveyed.files if file.entry.path not in broken)


def _is_item(file: File) -> bool:
    return file.kind in ("video", "still")


def _limits(cards: _Cards) -> tuple[Value, ...]:
    """Every value but the rules, in the order of a profile's keys."""
    files, count = cards.sightings, len(cards.taught)
    items = [each for each in files if _is_item(each.file)]
    videos = [each for each in items if each.file.kind == "video"]
    stills = [each for each in items if each.file.kind == "still"]
    in_order = [
        (card, list(filter(_is_item, own))) for card, own in zip(cards.cards, cards.files, strict=True)
    ]
    return (
        *order_value(in_order),
        *card_values(cards.cards, items),
        *layout_values(files, items, count),
        *(picture_values(videos, count) if videos else _none("video", "containers", stills, count)),
        *(sound_values(videos, count)),
        *sound_remarks(videos, count),
        *(still_values(stills, count) if stills else _none("stills", "formats", videos, count)),
        *loop_values(items, count),
        *loop_remarks(videos, count),
    )


def _none(section: str, key: str, items: Sequence[Sighting], cards: int) -> tuple[Value, ...]:
    """What was never seen is not known to play: an empty list, which every item bears out."""
    what = "video" if section == "video" else "still"
    return (Found(key, (), tuple(items), f"no {what} among them").at((section,), cards),)


def _fitting(values: tuple[Value, ...], cards: _Cards, depth: Depth) -> tuple[Value, ...]:
    """The values without a limit on file systems where files of a mere folder do not fit on those."""
    kinds = next((value for value in values if value.key == KIND_OF_CARD), None)
    if kinds is None or _misfits((kinds,), cards, depth) <= _misfits((), cards, depth):
        return values
    freed = replace(kinds, is_limit=False, evidence=f"{kinds.evidence}; {NOT_ONLY_THESE}")
    return tuple(freed if value is kinds else value for value in values)


def _misfits(values: Sequence[Value], cards: _Cards, depth: Depth) -> int:
    """How many findings there are, on cards whose own kind is not known, of what does not fit on a card."""
    profile, rules = profile_of(values), [rule for rule in RULES if rule.name in BOUND_TO_THE_KIND]
    unknown = [each.surveyed for each in cards.taught if not _kind_known(each.surveyed.card)]
    return sum(
        len(judge(rules, each.card, loop_of(each.files, profile, False), profile, depth).findings)
        for each in unknown
    )


def _kind_known(card: Card) -> bool:
    return card.volume is not None and card.volume.file_system is not None


def _reports(values: Sequence[Value], cards: _Cards, depth: Depth) -> tuple[Report, ...]:
    loaded = LoadedProfile(profile_of(values), "", "")
    return tuple(judged(each.surveyed, loaded, depth) for each in cards.taught)


def _notes(names: Sequence[str], in_spite: Sequence[str], depth: Depth) -> str:
    """Where the values come from, and what they do not say; `in_spite` are the cards with something wrong."""
    plays, these = ("plays" if len(names) == 1 else "play"), ("this card", "these cards")[len(in_spite) > 1]
    said = [
        f"Learned from {counted(len(names), 'card')} that {plays}: {', '.join(names)}.",
        "What goes beyond these values was not seen to play; it may play or not.",
    ]
    if depth == "quick":
        said.append("Only headers were read: whether pictures are damaged or flash was not looked at.")
    if in_spite:
        said.append(
            f"Learned in spite of what is wrong with {', '.join(in_spite)}: what is broken there teaches "
            f"nothing, and {these} may not pass this profile."
        )
    return " ".join(said)
