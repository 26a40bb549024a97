"""Tells what was found out about a card's capacity and speed, in words for the person who holds it.

It must not decide anything.
"""

from __future__ import annotations

from collections.abc import Iterator

from rich.console import Console
from rich.text import Text

from mediacheck.capacity.examination import Capacity
from mediacheck.capacity.pace import JUDGED_S_MIN, Pace
from mediacheck.capacity.stream import SECTOR_BYTES
from mediacheck.capacity.verdict import Outcome
from mediacheck.report.terminal import TONES, heading, say, say_about
from mediacheck.report.words import counted
from mediacheck.rules.wording import exact, size, told_apart

BRAKE = (
    "The reader, its cable or the port may be the brake, not the card. And a speed class promises a speed of "
    "writing only, while a player reads."
)
FROM_MEMORY = (
    "This computer does not tell whether what was read back came from the card or from its own memory: "
    "{certain} of it came certainly from the card."
)
EMPTY = "The card is empty now and not formatted: format it, or write an image to it, before it is used."
SO_FAR = "AS IT CLAIMS, as far as was tested"
KINDS = (
    ("worn", "with bits that do not keep their value"),
    ("misplaced", "with what was written for another place"),
    ("blank", "with nothing in them"),
    ("other", "with something that was not written in this test"),
    ("unreadable", "that cannot be read"),
    ("unread", "that were not tried, since too much before them cannot be read"),
)


def print_outcome(outcome: Outcome, console: Console) -> None:
    """The verdict, the numbers, and what to know and do."""
    headline, rest = headline_of(outcome)
    say(console, Text.assemble((f"{headline}:", TONES[outcome.verdict]), " ", (rest, "bold")))
    say_about(console, list(_about(outcome)))
    notes = list(_notes(outcome))
    if notes:
        heading(console, "What to know")
        for note in notes:
            say(console, Text(note), "- ")
    heading(console, "What to do next")
    say(console, Text(_next(outcome)))


def headline_of(outcome: Outcome) -> tuple[str, str]:
    """The verdict in one line: its name, and a sentence."""
    capacity = outcome.capacity
    if capacity.is_false:
        claimed, true = told_apart(capacity.claimed_bytes, capacity.true_bytes)
        bound = "at most " if capacity.is_upper_bound else ""
        return "FALSE CAPACITY", f"It claims {claimed} and holds {bound}{true}."
    if capacity.kept.bad:
        bad, of = capacity.kept.bad, capacity.written.size_bytes // SECTOR_BYTES
        keep = "does not keep what is written to it" if bad == 1 else "do not keep what is written to them"
        return "BAD SECTORS", f"{bad:,} of {counted(of, 'sector')} {keep}."
    if capacity.written.stopped is not None:
        held = size(capacity.written.size_bytes)
        return "FAILS", f"After {held} nothing more could be written to it ({capacity.written.stopped})."
    if outcome.verdict == "incomplete":
        claimed = size(capacity.claimed_bytes)
        return "NOT SURE", f"It claims {claimed}, and no fault was found, but not all could be tested."
    if outcome.is_slow and outcome.promised:
        return "SLOW", f"{_holds(outcome)}, but it was written slower than {outcome.promised.name} promises."
    return SO_FAR if outcome.is_partly_tested else "AS IT CLAIMS", f"{_holds(outcome)}."


def _holds(outcome: Outcome) -> str:
    """What a card without faults holds, a clause."""
    claimed = size(outcome.capacity.claimed_bytes)
    if not outcome.is_partly_tested:
        return f"It holds the {claimed} that it claims"
    free = size(outcome.capacity.written.size_bytes)
    return f"It claims {claimed}, and the {free} of it that were free hold what is written to them"


def _about(outcome: Outcome) -> Iterator[tuple[str, str]]:
    capacity = outcome.capacity
    yield "card", outcome.shown
    yield "tested", _tested_words(capacity)
    if capacity.kept.bad:
        yield "bad", _bad_words(capacity)
    for kind, words in KINDS:
        sectors = getattr(capacity.kept, kind)
        if sectors:
            yield "", f"{counted(sectors, 'sector')} {words}"
    if capacity.kept.first_bad_byte is not None:
        place = f", in {capacity.first_bad_file}" if capacity.first_bad_file else ""
        yield "first bad", f"at byte {capacity.kept.first_bad_byte:,} of what was written{place}"
    yield "writing", _pace_words(capacity.written.pace)
    yield "reading", _pace_words(capacity.read) if capacity.from_medium else "not known"
    if outcome.promised:
        yield "class", _class_words(outcome)


def _tested_words(capacity: Capacity) -> str:
    done_bytes, spared_bytes = capacity.written.size_bytes, capacity.claimed_bytes - capacity.room_bytes
    spared = f"; {size(spared_bytes)} in use or kept free were not tested" if spared_bytes else ""
    return f"{size(done_bytes)} ({exact(done_bytes)}), written and read back{spared}"


def _bad_words(capacity: Capacity) -> str:
    bad = capacity.kept.bad
    return f"{counted(bad, 'sector')} of {SECTOR_BYTES} bytes, {size(bad * SECTOR_BYTES)}"


def _pace_words(pace: Pace) -> str:
    if pace.mb_s is None or pace.slowest_mb_s is None:
        return "not known"
    whole = (
        f"{pace.mb_s:,.1f} MB/s on the whole, {pace.slowest_mb_s:,.1f} MB/s in the slowest {_stretch(pace)}"
    )
    return whole if pace.judged else f"{whole} (too little was tested to judge the speed)"


def _stretch(pace: Pace) -> str:
    return f"{pace.stretch_s:.0f} s" if pace.seconds >= JUDGED_S_MIN else "tenth"


def _class_words(outcome: Outcome) -> str:
    assert outcome.promised
    promise = f"{outcome.promised.name} promises {outcome.promised.write_mb_s} MB/s of writing"
    if not outcome.capacity.written.pace.judged:
        return f"{promise}: not judged, since at least 1 GiB and {JUDGED_S_MIN:.0f} s of writing are needed"
    return f"{promise}: {'slower than that' if outcome.is_slow else 'kept'}"


def _notes(outcome: Outcome) -> Iterator[str]:
    capacity = outcome.capacity
    if capacity.written.stopped is not None:
        yield f"After {size(capacity.written.size_bytes)} it took no more: {capacity.written.stopped}."
    if not capacity.from_medium:
        yield FROM_MEMORY.format(certain=size(outcome.certain_bytes) if outcome.certain_bytes else "nothing")
    if not outcome.is_full_enough:
        wanted, done = size(capacity.room_bytes), size(capacity.written.size_bytes)
        yield f"It was full after {done}, although it had {wanted} free: the rest was not tested."
    if capacity.is_upper_bound:
        yield f"The {size(capacity.used_bytes)} in use are counted as held, though they were not tested."
    if not capacity.is_sound and not outcome.erased:
        yield "Files that were on it before may be damaged: what a bad card is given can land anywhere on it."
    if outcome.is_slow:
        yield BRAKE
    if outcome.left_behind:
        yield f"Not all is tidied up: {outcome.left_behind}."
    elif outcome.erased:
        yield EMPTY


def _next(outcome: Outcome) -> str:
    capacity = outcome.capacity
    if capacity.is_false and (capacity.kept.unreadable + capacity.kept.unread) * 2 > capacity.kept.lost:
        return "Test it once more in another reader. If it fails there too, do not use it, and give it back."
    if capacity.is_false:
        return "Do not use this card, and give it back: what is written beyond its true size is lost."
    if not capacity.is_sound:
        return "Test it once more in another reader. If it fails there too, do not use this card."
    if not outcome.is_full_enough:
        return "Format the card, or remove its files, and test it again."
    if not capacity.from_medium:
        return "Test it on a computer that can tell what it reads: one with Linux, the card in a reader."
    if outcome.is_unjudged:
        return "For its speed to be judged, remove files from the card, and test it again."
    if outcome.is_slow:
        return "Test it in another reader and another port before you judge the card."
    if outcome.left_behind and not outcome.erased:
        return "Run the same command again, or remove the folder yourself."
    return "The card can be used." if not outcome.erased else "Format the card, or write an image to it."
