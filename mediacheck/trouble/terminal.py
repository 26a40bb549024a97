"""Symptoms and causes for a terminal of any width.

It must not decide: the order and the states come from `ranking`. Nothing is said by colour alone.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from rich.console import Console
from rich.text import Text

from mediacheck.profile import Profile
from mediacheck.report.model import Finding, Report
from mediacheck.report.terminal import NARROW, SEVERITY_STYLES, heading, say
from mediacheck.report.words import SEVERITY_WORDS, counted, listed, moment_words, safe
from mediacheck.trouble.evidence import State
from mediacheck.trouble.model import Symptom
from mediacheck.trouble.ranking import RankedCause, Ranking

STATE_WORDS: dict[State, str] = {
    "found": "FOUND",
    "not checked": "NOT CHECKED",
    "ruled out": "RULED OUT",
    "unknown": "",
}
STATE_STYLES: dict[State, str] = {
    "found": "bold red",
    "not checked": "bold magenta",
    "ruled out": "bold green",
    "unknown": "",
}
CAUSE_FOUND = "the check of this card found a cause"
MESSAGES_MAX = 3
PATHS_MAX = 3


def print_symptoms(all_symptoms: Sequence[Symptom], found: frozenset[str], console: Console) -> None:
    """List what may be seen. `found` has the ids of those for which the check of a card found a cause."""
    say(console, Text("What do you see?", "bold"))
    say(console, Text(""))
    width = max(len(symptom.id) for symptom in all_symptoms)
    for symptom in all_symptoms:
        _row(symptom, symptom.id in found, width, console)
    say(console, Text(""))
    say(console, Text("For the likely causes: mediacheck trouble NUMBER, or the short name, or words of it."))


def _row(symptom: Symptom, found: bool, width: int, console: Console) -> None:
    mark = (f" ({CAUSE_FOUND})", STATE_STYLES["found"]) if found else ""
    title = Text.assemble(symptom.title, mark)
    if console.width < NARROW:
        say(console, title, f"{symptom.number:>2}. ")
        say(console, Text(symptom.id, "dim"), "    ")
    else:
        say(console, title, f"{symptom.number:>2}  {symptom.id:<{width}}  ")


def about_lines(profile: Profile | None, report: Report | None) -> tuple[str, ...]:
    """What the answer rests on, as sentences."""
    return tuple(map(safe, _about(profile, report)))


def _about(profile: Profile | None, report: Report | None) -> Iterator[str]:
    if profile:
        title = f" ({profile.title})" if profile.title else ""
        yield f"Player and screen as in the profile {profile.id}{title}."
    if report:
        label = report.volume.label if report.volume else None
        named = f"{report.source}, labelled {label}" if label else report.source
        yield (
            f"Card as it was checked on {moment_words(report.checked_at)} ({named}): this tells nothing of "
            "another card."
        )


def print_ranking(ranking: Ranking, about: Sequence[str], console: Console) -> None:
    """Print the causes of one symptom: found ones, those to try, and in short those that are ruled out."""
    symptom = ranking.symptom
    say(console, Text(f"{symptom.number}. {symptom.title}", "bold"))
    for line in about:
        say(console, Text(line, "dim"))
    if symptom.cautions:
        heading(console, "Before you touch anything")
        for caution in symptom.cautions:
            say(console, Text(caution), "! ")
    heading(console, "Likely causes, in the order in which to try them")
    say(console, Text(symptom.why_this_order, "dim"))
    tried = ranking.in_state("found", "unknown", "not checked")
    if not tried:
        say(
            console,
            Text("None is left: all that are known here were ruled out for the card that was checked."),
        )
    for number, known in enumerate(tried, 1):
        _cause(number, known, console)
    _struck(ranking.in_state("ruled out"), console)
    say(console, Text(""))
    say(
        console,
        Text("In command lines, words in capitals stand for your own card, profile and files.", "dim"),
    )


def _cause(number: int, known: RankedCause, console: Console) -> None:
    cause, lead = known.cause, f"{number}. "
    rest = " " * len(lead)
    state = STATE_WORDS[known.state]
    mark = Text(f"{state}: ", STATE_STYLES[known.state]) if state else Text("")
    say(console, Text(""))
    say(console, mark + Text(cause.what, "bold"), lead)
    for finding_lines in _findings(known.findings):
        say(console, finding_lines, rest)
    for label, words in (
        ("Why not: ", safe(known.why) if known.state == "not checked" else ""),
        ("Tell it apart: ", cause.tell_apart),
        ("What to do: ", cause.do),
        *(("The profile: ", safe(point)) for point in known.points),
        *(
            ("To set: ", safe(_setting_words(setting.name, setting.value, setting.why)))
            for setting in known.settings
        ),
        ("Checked by: ", cause.command),
    ):
        if words:
            say(console, Text.assemble((label, "bold"), words), rest)
    say(console, Text(f"Source: {cause.source}.", "dim"), rest)


def _setting_words(name: str, value: str, why: str) -> str:
    return f"{name}: {value}." + (f" {why}" if why else "")


def _findings(findings: Sequence[Finding]) -> Iterator[Text]:
    """What the check said, in its own words; the same words once for all files."""
    places: dict[tuple[str, str], list[Finding]] = {}
    for finding in findings:
        places.setdefault((finding.message, finding.action), []).append(finding)
    for (message, action), same in list(places.items())[:MESSAGES_MAX]:
        severity = same[0].severity
        paths = tuple(dict.fromkeys(safe(finding.path) for finding in same if finding.path))
        where = f"{listed(paths, PATHS_MAX)}: " if paths else ""
        yield Text.assemble(
            (f"{SEVERITY_WORDS[severity]}  ", SEVERITY_STYLES[severity]), (where, "bold"), safe(message)
        )
        yield Text.assemble(("To repair it: ", "bold"), safe(action))
    if len(places) > MESSAGES_MAX:
        more = counted(len(places) - MESSAGES_MAX, "more finding")
        yield Text(f"and {more} of this kind, which the report lists.")


def _struck(struck: Sequence[RankedCause], console: Console) -> None:
    if not struck:
        return
    heading(console, "Ruled out for the card that was checked")
    for known in struck:
        say(console, Text(f"{known.cause.what} ({', '.join(known.cause.rules)})", "dim"), "- ")
