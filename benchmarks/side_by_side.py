"""Runs what a benchmark compares in turn (A B A B ...) and prints its table and its line of JSON.

It must not know what is compared.
"""

from __future__ import annotations

import compileall
import json
import statistics
import subprocess
import sys
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import mediacheck

Timed = Callable[[], float | None]
"""Does the work once and gives its seconds; None where it could not be measured."""


@dataclass(frozen=True, slots=True)
class Goal:
    """A ratio of two figures, and the greatest value that is good enough."""

    above: str
    below: str
    at_most: float

    @property
    def name(self) -> str:
        """As in the result: "ours/other"."""
        return f"{self.above}/{self.below}"


def small() -> bool:
    """Whether the reduced form was asked for."""
    return "--small" in sys.argv[1:]


def seconds_of(command: Sequence[str], **options: object) -> float | None:
    """Wall time of one command in seconds; None if it failed (codes 0, 1 and 3 are answers)."""
    import time

    start = time.perf_counter()
    done = subprocess.run(command, capture_output=True, check=False, **options)  # type: ignore[call-overload]
    return time.perf_counter() - start if done.returncode in (0, 1, 3) else None


def in_turn(contenders: Mapping[str, Timed], rounds: int = 3) -> dict[str, float | None]:
    """Median seconds of each contender over `rounds` rounds after a warm-up.

    Every other round goes backwards: what ran before leaves the machine in a state (a decode after a decode
    takes 4 % longer than one after a check, seen on a virtual machine), and nobody shall always inherit the
    same one.
    """
    _as_installed()
    times: dict[str, list[float | None]] = {name: [] for name in contenders}
    for number in range(rounds + 1):
        for name in tuple(contenders)[:: -1 if number % 2 else 1]:
            taken = contenders[name]()
            if number:
                times[name].append(taken)
    return {name: _median(taken) for name, taken in times.items()}


def _as_installed() -> None:
    """With PYTHONDONTWRITEBYTECODE each start would compile our source anew; an installation compiles it."""
    compileall.compile_dir(Path(mediacheck.__file__).parent, quiet=1)


def _median(taken: Sequence[float | None]) -> float | None:
    known = [one for one in taken if one is not None]
    return statistics.median(known) if known and len(known) == len(taken) else None


def finish(
    benchmark: str,
    figures: Mapping[str, float | None],
    ratios: Sequence[Goal],
    limits: Mapping[str, float] | None = None,
) -> None:
    """Print the table and the closing line; `limits` are goals for figures by themselves."""
    found = {goal.name: _ratio(figures.get(goal.above), figures.get(goal.below)) for goal in ratios}
    goals = {goal.name: goal.at_most for goal in ratios} | dict(limits or {})
    measured = {**figures, **found}
    for name, value in measured.items():
        goal = goals.get(name)
        shown = "not measured" if value is None else f"{value:.4g}"
        print(f"{name:<40} {shown:>14}" + (f"   goal: at most {goal:g}" if goal is not None else ""))
    holds = all(value is not None for value in figures.values()) and all(
        (value := measured.get(name)) is not None and value <= goal for name, goal in goals.items()
    )
    result = {
        "benchmark": benchmark,
        "figures": dict(figures),
        "ratios": found,
        "goals": goals,
        "holds": holds,
    }
    print(json.dumps(result))


def _ratio(above: float | None, below: float | None) -> float | None:
    return None if above is None or not below else above / below
