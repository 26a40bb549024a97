"""`mediacheck build`, called as a person does."""

from __future__ import annotations

from pathlib import Path

from mediacheck.cli.app import run


def names(folder: Path) -> list[str]:
    """Of all that is in it."""
    return sorted(path.name for path in folder.iterdir())


def build(*arguments: str | Path) -> int:
    """The exit code."""
    return run(["build", "--jobs", "1", *map(str, arguments)])
