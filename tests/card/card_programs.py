"""The outside programs that make cards and judge them: where they are, and one way to run them.

It must not know what a card is.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

PACKAGES = {"sgdisk": "gdisk", "mkfs.fat": "dosfstools", "mkfs.exfat": "exfatprogs", "mcopy": "mtools"}
PACKAGES |= dict.fromkeys(("pdffonts", "pdfinfo", "pdftoppm", "pdftotext"), "poppler-utils")
ADMINISTRATORS_PLACES = ("/usr/sbin", "/sbin")
"""Debian keeps programs here that are not on everybody's PATH."""


def found(name: str) -> str | None:
    """Where the program is, if it is installed."""
    return shutil.which(name, path=os.pathsep.join((os.environ.get("PATH", ""), *ADMINISTRATORS_PLACES)))


def run(name: str, *arguments: str | Path) -> str:
    """Run a program that these tests need and give what it printed. It must succeed.

    Where it is missing the test fails on Linux, and is skipped elsewhere.
    """
    program = found(name)
    if program is None and sys.platform != "linux":
        pytest.skip(f"{name} is not installed")
    assert program, f"These tests need {name}: Debian's package {PACKAGES.get(name, name)} has it."
    done = subprocess.run([program, *map(str, arguments)], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout + done.stderr
