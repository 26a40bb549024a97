"""CPU time of `mediacheck --help`, beside that of an empty Python: heavy libraries are imported late."""

from __future__ import annotations

import os
import subprocess
import sys

from side_by_side import finish, in_turn, small


def cpu_s(command: list[str]) -> float | None:
    """User and system seconds of one command and its children."""
    before = os.times()
    done = subprocess.run(command, capture_output=True, check=False)
    after = os.times()
    used = after.children_user + after.children_system - before.children_user - before.children_system
    return used if done.returncode == 0 else None


def main() -> None:
    """Run both in turn and print the result."""
    figures = in_turn(
        {
            "help_cpu_s": lambda: cpu_s([sys.executable, "-m", "mediacheck", "--help"]),
            "python_cpu_s": lambda: cpu_s([sys.executable, "-c", "pass"]),
        },
        rounds=3 if small() else 15,
    )
    finish("startup", figures, [], {"help_cpu_s": 0.3})


if __name__ == "__main__":
    main()
