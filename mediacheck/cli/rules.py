"""`mediacheck rules`: prints the catalogue of rules."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from mediacheck.rules.model import AnyRule

EXAMPLE = "Example: mediacheck rules video-level"


def rules_command(
    names: Annotated[
        list[str] | None, typer.Argument(help="Only these rules.", metavar="[RULE]...", show_default=False)
    ] = None,
) -> None:
    """Print the catalogue of rules: name, severity, depth, what it means, source."""
    from mediacheck.errors import WrongUse
    from mediacheck.rules.catalogue import RULES

    known: dict[str, AnyRule] = {rule.name: rule for rule in RULES}
    chosen = dict(known) if not names else {}
    for name in names or ():
        if name not in known:
            raise WrongUse(f"There is no rule named '{name}'.{_nearest(name, tuple(known))}")
        chosen[name] = known[name]
    for rule in chosen.values():
        _print(rule)


def _nearest(name: str, known: tuple[str, ...]) -> str:
    from difflib import get_close_matches

    near = get_close_matches(name, known, 1)
    return f" Did you mean '{near[0]}'?" if near else ""


def _print(rule: AnyRule) -> None:
    from rich.console import Console
    from rich.padding import Padding
    from rich.text import Text

    console = Console()
    console.print(Text.assemble((rule.name, "bold"), f"  {rule.severity}, {rule.depth}"))
    console.print(Padding(Text(rule.meaning), (0, 0, 0, 4)))
    console.print(Padding(Text(f"Source: {rule.source}.", style="dim"), (0, 0, 1, 4)))
