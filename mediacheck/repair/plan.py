"""From what a check found to what is done about it, file by file: the least change that conforms.

It must not open a file or run anything: all that it needs was found out before.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Protocol

from mediacheck.card.limits import GREATEST_FILE_BYTES
from mediacheck.encoding.model import Refused
from mediacheck.loop import File
from mediacheck.measure.model import Measurements
from mediacheck.names import RuleName
from mediacheck.profile import Profile
from mediacheck.profile_files import LoadedProfile
from mediacheck.repair import ends
from mediacheck.repair.asks import ask_for
from mediacheck.repair.causes import (
    ELSEWHERE,
    HOPELESS,
    KEPT,
    MENDS,
    OF_THE_CARD,
    STAYS_BEHIND,
    WITH_BARS,
    WITH_ENDS,
    WITH_FIT,
)
from mediacheck.repair.estimate import expected_bytes, expected_s
from mediacheck.repair.model import (
    CHANGES,
    Ask,
    Change,
    Item,
    LeftOut,
    Plan,
    Recipe,
    Step,
    Wishes,
)
from mediacheck.repair.naming import Named, has_form, names_for, ordered_by_name
from mediacheck.repair.recipe import recipe_for
from mediacheck.report.model import Finding, Report
from mediacheck.rules.belonging import is_welcome
from mediacheck.rules.wording import clause
from mediacheck.survey import Surveyed

REMADE: tuple[Change, ...] = ("container", "sound", "picture", "still")
UPSIDE_DOWN = (
    "The screen hangs upside down (180 degrees): whether a picture is turned for that cannot be told from "
    "the file, so none was turned."
)
PADDED = "Pictures of another shape than the screen get black bars; --fit cover cuts them to fill it."
OVERHEAD = 0.01
"""What a file system takes of a card for itself (common practice, no source)."""


class MakeRecipe(Protocol):
    """As `recipe.recipe_for`."""

    def __call__(
        self,
        file: File,
        profile: Profile,
        wishes: Wishes,
        change: Change,
        rules: frozenset[RuleName],
        size_max_bytes: int | None = None,
    ) -> Recipe | Refused:
        """The recipe, or why there is none."""


@dataclass(frozen=True, slots=True)
class _Sorted:
    """The findings on one file, by what can be done about them."""

    mends: tuple[RuleName, ...]
    asks: tuple[Finding, ...]
    hopeless: bool
    behind: RuleName | None


@dataclass(frozen=True, slots=True)
class _Draft:
    """A file that goes into the copy, before it has its name there."""

    file: File
    rules: tuple[RuleName, ...]
    recipe: Recipe | None


def plan_for(
    surveyed: Surveyed,
    report: Report,
    loaded: LoadedProfile,
    wishes: Wishes,
    make: MakeRecipe = recipe_for,
) -> Plan:
    """What to do with each file of a source, so that this player plays them all."""
    profile, by_path = loaded.profile, _by_path(report.findings)
    drafts: list[_Draft] = []
    left_out: list[LeftOut] = []
    asks = [ask_for(finding) for finding in by_path[None] if _to_ask(finding.rule)]
    for file in _play_order(surveyed, report, profile):
        sorted_ = _sort(file, by_path[file.entry.path], wishes)
        made = _drafted(file, sorted_, profile, wishes, make)
        asks += [ask_for(finding) for finding in sorted_.asks]
        if isinstance(made, LeftOut):
            left_out.append(made)
        elif isinstance(made, Refused):
            first = next(f for f in by_path[file.entry.path] if f.rule in sorted_.mends)
            asks.append(ask_for(first, made.reason))
            left_out.append(LeftOut(file.entry.path, "it cannot be mended", (first.rule,)))
        else:
            drafts.append(made)
    items, unnamed = _named(drafts, profile, reordered=any(f.rule == "play-order" for f in by_path[None]))
    return Plan(
        items=items,
        left_out=tuple(left_out),
        asks=(*asks, *unnamed),
        notes=tuple(_notes(by_path, items, profile, wishes)),
        capacity_bytes=room_bytes(profile, wishes),
    )


def room_bytes(profile: Profile, wishes: Wishes) -> int | None:
    """What all files together may take: the card that was named, or the largest that the player takes, less
    what stays free."""
    most_gb = profile.card.capacity_max_gb
    size = wishes.size_bytes or (None if most_gb is None else round(most_gb * 1e9))
    if size is None:
        return None
    free = (profile.card.free_percent_min or 0) / 100
    return int(size * (1 - OVERHEAD) * (1 - free))


def size_limit(profile: Profile) -> int | None:
    """The largest file that a card for this player holds."""
    known = [GREATEST_FILE_BYTES.get(kind) for kind in profile.card.file_systems or ()]
    sizes = [size for size in known if size is not None]
    return max(sizes) if sizes and len(sizes) == len(known) else None


def _by_path(findings: Sequence[Finding]) -> Mapping[str | None, list[Finding]]:
    found: dict[str | None, list[Finding]] = defaultdict(list)
    for finding in findings:
        found[finding.path].append(finding)
    return found


def _to_ask(rule: RuleName) -> bool:
    """Whether a finding about the whole card is a question to the sender."""
    return rule not in (*OF_THE_CARD, *ELSEWHERE, *KEPT) and (rule not in MENDS or rule == "folder-missing")


def _play_order(surveyed: Surveyed, report: Report, profile: Profile) -> list[File]:
    """Items as they play, those that the player does not find among them where names tell the order, else
    after them; then all other files."""
    places = {item.path: place for place, item in enumerate(report.items)}
    shown = [file for file in surveyed.files if file.kind in ("video", "still")]
    others = [file for file in surveyed.files if file.kind not in ("video", "still")]
    if surveyed.card.order_known and profile.player.order == "disk":
        shown.sort(key=lambda file: places.get(file.entry.path, len(places)))
    else:
        shown.sort(key=lambda file: ordered_by_name(file.entry.path, profile))
    return shown + others


def _sort(file: File, findings: Sequence[Finding], wishes: Wishes) -> _Sorted:
    mends, asks = [], []
    for finding in findings:
        rule = finding.rule
        if rule in MENDS and _granted(file, finding, wishes):
            mends.append(rule)
        elif rule not in STAYS_BEHIND and rule not in (*KEPT, *ELSEWHERE, *OF_THE_CARD):
            asks.append(finding)
    behind = next((finding.rule for finding in findings if finding.rule in STAYS_BEHIND), None)
    hopeless = any(finding.rule in HOPELESS for finding in findings)
    return _Sorted(tuple(mends), tuple(asks), hopeless, behind)


def _granted(file: File, finding: Finding, wishes: Wishes) -> bool:
    """Whether the change may be made, and mends this very finding."""
    measured = file.measurements if isinstance(file.measurements, Measurements) else None
    if finding.rule in WITH_BARS:
        return wishes.trim_bars
    if finding.rule in WITH_FIT:
        return wishes.fit != "contain"
    if finding.rule in WITH_ENDS:
        return wishes.trim_ends and measured is not None and ends.kept(measured) is not None
    if finding.rule == "audio-silent":
        sound = measured.sound if measured else None
        return sound is not None and not sound.silent and len(sound.channel_peaks_dbfs) == 2
    return finding.rule != "file-too-big" or file.kind == "video"


def _drafted(
    file: File, sorted_: _Sorted, profile: Profile, wishes: Wishes, make: MakeRecipe
) -> _Draft | LeftOut | Refused:
    path = file.entry.path
    if sorted_.behind is not None:
        return LeftOut(path, STAYS_BEHIND[sorted_.behind], (sorted_.behind,))
    if sorted_.hopeless:
        rules = tuple(finding.rule for finding in sorted_.asks)
        return LeftOut(path, "nothing that can be shown comes of it", rules)
    if file.kind == "junk" and not is_welcome(file.entry, profile.layout):
        return LeftOut(path, STAYS_BEHIND["file-junk"], ())
    change = max((MENDS[rule].change for rule in sorted_.mends), key=CHANGES.index, default="copy")
    if change not in REMADE:
        return _Draft(file, sorted_.mends, None)
    size = size_limit(profile) if "file-too-big" in sorted_.mends else None
    recipe = make(file, profile, wishes, change, frozenset(sorted_.mends), size)
    return recipe if isinstance(recipe, Refused) else _Draft(file, sorted_.mends, recipe)


def _named(
    drafts: Sequence[_Draft], profile: Profile, reordered: bool
) -> tuple[tuple[Item, ...], tuple[Ask, ...]]:
    """Items with their names in the copy; where one has not the form that the player asks for, it is asked
    for."""
    shown = [draft for draft in drafts if draft.file.kind in ("video", "still")]
    others = [draft for draft in drafts if draft.file.kind not in ("video", "still")]
    taken = [draft.file.entry.path for draft in others]
    wanted = [Named(d.file.entry.path, _suffix(d), d.file.entry.valid_name) for d in shown]
    paths = names_for(wanted, profile, taken)
    rules: tuple[RuleName, ...] = ("play-order",) if reordered else ()
    items = [_item(draft, path, rules) for draft, path in zip(shown, paths, strict=True)]
    asks = tuple(
        Ask(
            "file-name",
            draft.file.entry.path,
            "No name was found that has the form which this player asks for "
            f"({profile.layout.name_pattern}).",
            "Give this file such a name by hand.",
        )
        for draft, path in zip(shown, paths, strict=True)
        if not has_form(path, profile)
    )
    return (*items, *(_item(draft, draft.file.entry.path, ()) for draft in others)), asks


def _suffix(draft: _Draft) -> str:
    """The ending that the content asks for; "" leaves the one that is there."""
    if draft.recipe is not None:
        return draft.recipe.suffix
    if "file-extension" not in draft.rules or draft.file.media is None:
        return ""
    from mediacheck.media.extensions import extensions_for

    media = draft.file.media
    inside = media.still.format if media.still else media.container.name if media.container else ""
    return next(iter(extensions_for(inside)), "")


def _item(draft: _Draft, path: str, order: tuple[RuleName, ...]) -> Item:
    moved = path != draft.file.entry.path
    steps = _steps(draft, moved, order)
    change: Change = draft.recipe.change if draft.recipe else "move" if moved else "copy"
    return Item(
        source=draft.file,
        path=path,
        change=change,
        steps=steps,
        recipe=draft.recipe,
        expected_bytes=expected_bytes(draft.file, draft.recipe),
        expected_s=expected_s(draft.file, change, draft.recipe),
    )


def _steps(draft: _Draft, moved: bool, order: tuple[RuleName, ...]) -> tuple[Step, ...]:
    """Each change once, with what it does and the rules that ask for it."""
    steps = [Step(MENDS[rule].change, MENDS[rule].what, (rule,)) for rule in draft.rules]
    if draft.recipe is not None:
        steps = [step for step in steps if step.change != "move"] + _greater(draft)
    if moved and not any(step.change == "move" for step in steps):
        steps.append(_renaming(draft, order))
    return tuple(sorted(steps, key=lambda step: CHANGES.index(step.change)))


def _renaming(draft: _Draft, order: tuple[RuleName, ...]) -> Step:
    rules = tuple(rule for rule in draft.rules if MENDS[rule].change == "move")
    if rules:
        return Step("move", MENDS[rules[0]].what, rules)
    if order:
        return Step("move", MENDS[order[0]].what, order)
    return Step("move", "give it the ending of its new container, or a number in the play order", ())


def _greater(draft: _Draft) -> list[Step]:
    """Where the least change cannot work, the greater one and why."""
    asked = max((CHANGES.index(MENDS[rule].change) for rule in draft.rules), default=0)
    recipe = draft.recipe
    if recipe is None or CHANGES.index(recipe.change) <= asked:
        return []
    what = "the sound" if recipe.change == "sound" else "the picture"
    return [Step(recipe.change, f"encode {what} again, which no container of the player carries", ())]


def _notes(
    by_path: Mapping[str | None, Sequence[Finding]],
    items: Sequence[Item],
    profile: Profile,
    wishes: Wishes,
) -> list[str]:
    findings = [finding for some in by_path.values() for finding in some]
    notes = [f"{clause(f.message)}: it was kept." for f in findings if f.rule == "file-duplicate"]
    if profile.screen.turned_degrees == 180 and any(item.change == "picture" for item in items):
        notes.append(UPSIDE_DOWN)
    if wishes.fit == "contain" and any("pad=" in _filters(item) for item in items):
        notes.append(PADDED)
    if any(f.rule in OF_THE_CARD for f in findings):
        notes.append("What is wrong with the card itself ends with a new one: `mediacheck build` makes it.")
    return notes


def _filters(item: Item) -> str:
    return item.recipe.picture.filters if item.recipe and item.recipe.picture else ""


def remade(
    item: Item,
    more: Sequence[RuleName],
    profile: Profile,
    wishes: Wishes,
    size_max_bytes: int | None = None,
    make: MakeRecipe = recipe_for,
) -> Item | Refused:
    """The same item, mended of `more` besides; or encoded so that it takes no more than so many bytes."""
    rules = [rule for step in item.steps for rule in step.rules] + list(more)
    asked: list[Change] = [item.change, *(MENDS[rule].change for rule in more)]
    asked += ["picture"] if size_max_bytes is not None else []
    change = max(asked, key=CHANGES.index)
    recipe = make(item.source, profile, wishes, change, frozenset(rules), size_max_bytes)
    if isinstance(recipe, Refused):
        return recipe
    return replace(
        item,
        change=recipe.change,
        recipe=recipe,
        steps=(*item.steps, *(Step(MENDS[rule].change, MENDS[rule].what, (rule,)) for rule in more)),
        expected_bytes=expected_bytes(item.source, recipe),
        expected_s=expected_s(item.source, recipe.change, recipe),
    )
