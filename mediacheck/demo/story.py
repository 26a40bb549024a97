"""What the demo says when it is done: where things are, how each face fares, and what to try next.

It must not print or colour anything: it gives lines of plain text.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from mediacheck.demo.run import CheckedFace
from mediacheck.demo.scenes import CHAIN
from mediacheck.programs import shown
from mediacheck.report.verdict import verdict_line


def story(out: Path, faces: Sequence[CheckedFace], program: tuple[str, ...]) -> tuple[str, ...]:
    """All lines. `program` is how a person starts mediacheck, as the words of a command."""
    return (
        f"The invented display of {CHAIN} is in {out}",
        *(line for face in faces for line in ("", *_told(face))),
        "",
        "To try next:",
        *(line for words, command in _next(faces, program) for line in ("", f"  {words}", f"    {command}")),
    )


def _told(face: CheckedFace) -> tuple[str, ...]:
    return (
        f"{face.face.name} ({_flaws(face)})",
        f"  {verdict_line(face.report)}",
        f"  card      {face.card}",
        f"  report    {face.html}",
        f"  pictures  {face.sheet}",
        f"  record    {face.json}",
    )


def _flaws(face: CheckedFace) -> str:
    spoilt = {path for _, path in face.face.flaws}
    if not spoilt:
        return "its card was made without a flaw"
    return f"{len(spoilt)} of the {len(face.face.files)} files on its card were spoilt on purpose"


def _next(faces: Sequence[CheckedFace], program: tuple[str, ...]) -> tuple[tuple[str, str], ...]:
    """Pairs of what a command is good for and the command, as it can be typed on this system."""
    spoilt = next(face for face in faces if face.face.flaws)
    rule = next(rule for item in spoilt.face.items for rule in item.breaks)
    check = (*program, "check", str(spoilt.card), "--profile", spoilt.face.profile)
    pairs = (
        ("Read the whole report here, with what to do about each file:", check),
        (
            "Delete a spoilt file from that card, and see how a quick check changes:",
            (*check, "--depth", "quick"),
        ),
        (f"Read what one rule looks for ({rule}), or all rules without a name:", (*program, "rules", rule)),
        ("See what the player of that face can take:", (*program, "profile", "show", spoilt.face.profile)),
    )
    return tuple((words, shown(command)) for words, command in pairs)
