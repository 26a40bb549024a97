"""Loop devices of this computer, made from files of the tests and from nothing else.

It must not touch a device that it did not make itself.
"""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from tests.card.card_programs import found


@contextmanager
def loop_device(file: Path) -> Iterator[str]:
    """A new loop device that shows this file. Skips the test where there are none, or no rights."""
    program = found("losetup")
    if sys.platform != "linux" or program is None:
        pytest.skip("this computer has no loop devices")
    if os.geteuid() != 0:
        pytest.skip("loop devices need the rights of an administrator")
    made = subprocess.run([program, "--find", "--show", file], capture_output=True, text=True, check=False)
    if made.returncode != 0:
        pytest.skip(f"no loop device is to be had here: {made.stderr.strip()}")
    device = made.stdout.strip()
    try:
        yield device
    finally:
        subprocess.run([program, "--detach", device], check=True)


@contextmanager
def mounted(device: str, place: Path) -> Iterator[None]:
    """A loop device with ext4, mounted. Skips the test where this is not possible."""
    made = subprocess.run([found("mkfs.ext4") or "false", "-q", device], capture_output=True, check=False)
    place.mkdir()
    if made.returncode != 0 or subprocess.run(["mount", device, place], check=False).returncode != 0:
        pytest.skip("ext4 cannot be made or mounted here")
    try:
        yield
    finally:
        subprocess.run(["umount", place], check=True)
