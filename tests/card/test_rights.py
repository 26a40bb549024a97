"""A person who may not read a device gets one sentence with what to run, in the way of the system."""

from __future__ import annotations

import pytest

from mediacheck.card.rights import how_to_read, not_allowed


@pytest.mark.parametrize(
    ("platform", "source", "instead"),
    [
        (
            "linux",
            "/dev/sdb",
            "run the same command with sudo or as a member of the group disk, or copy the card with "
            "`sudo dd if=/dev/sdb of=card.img bs=4M` and check card.img",
        ),
        (
            "darwin",
            "/dev/disk4",
            "run the same command with sudo on /dev/rdisk4, or copy the card with "
            "`sudo dd if=/dev/rdisk4 of=card.img bs=4m` and check card.img",
        ),
        (
            "darwin",
            "/dev/rdisk4",
            "run the same command with sudo on /dev/rdisk4, or copy the card with "
            "`sudo dd if=/dev/rdisk4 of=card.img bs=4m` and check card.img",
        ),
        (
            "darwin",
            "/dev/disk4s1",
            "run the same command with sudo on /dev/rdisk4s1, or copy the card with "
            "`sudo dd if=/dev/rdisk4 of=card.img bs=4m` and check card.img",
        ),
        (
            "win32",
            r"\\.\E:",
            r"open a terminal as administrator and run the same command on \\.\E:",
        ),
    ],
)
def test_what_to_run_instead_is_one_clause(platform: str, source: str, instead: str) -> None:
    assert how_to_read(source, platform) == instead
    error = not_allowed("the card", source, platform)
    assert (str(error), error.exit_code) == ("you may not read the card directly", 2)
    assert error.advice == f"{instead[0].upper()}{instead[1:]}."
