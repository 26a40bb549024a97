"""The rules that cards which play do not keep: the profile tells of them, and no longer warns.

It must not make light of a hazard, of damage or of a limit: see `meaning`.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from mediacheck.learn.card_values import seen_on
from mediacheck.learn.evidence import Sighting, joined, seen_in
from mediacheck.learn.meaning import OF_THE_MATERIAL, OF_THE_PLAYER
from mediacheck.learn.model import Value
from mediacheck.names import RULE_NAMES, RuleName
from mediacheck.report.model import Report

NAMES_OF_ANOTHER_KIND: RuleName = "file-name"
"""What a card of one kind can hold and one of another cannot, where the player reads both."""
RELAXED = OF_THE_PLAYER | OF_THE_MATERIAL | {NAMES_OF_ANOTHER_KIND}
MATERIAL = "a matter of the material: take this line out to be warned of it"


def relaxed_rules(reports: Sequence[Report], files: Sequence[Sighting]) -> Iterator[Value]:
    """A note for each rule that warns of one of these cards; `reports` are theirs, in order.

    Findings about files that teach nothing, which are not among `files`, count for nothing.
    """
    there = {(each.card, each.file.entry.path): each for each in files}
    found: dict[str, set[tuple[int, str | None]]] = {}
    for card, report in enumerate(reports):
        for finding in report.findings:
            known = finding.path is None or (card, finding.path) in there
            if known and finding.severity != "note" and finding.rule in RELAXED:
                found.setdefault(finding.rule, set()).add((card, finding.path))
    for rule in sorted(found, key=RULE_NAMES.index):
        of = [there[card, path] for card, path in found[rule] if path is not None]
        where = (
            seen_in(of, len(reports)) if of else seen_on(len({card for card, _ in found[rule]}), len(reports))
        )
        yield Value(("rules", rule), "note", joined(where, MATERIAL if rule in OF_THE_MATERIAL else ""))
