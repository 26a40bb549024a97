"""`mediacheck capacity` as a person calls it: exit codes, what is said, and that nothing stays."""

from __future__ import annotations

import errno
import io
import os
import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from mediacheck.capacity import files, mounted_drive
from mediacheck.capacity.files import Calls
from mediacheck.capacity.folder import FOLDER
from mediacheck.capacity.stream import new_stream
from mediacheck.card.model import Card, Volume
from mediacheck.cli.app import run
from mediacheck.device import chosen
from mediacheck.device.chosen import Machine
from mediacheck.device.drive import Drive
from tests.capacity.drives import MIB, Told, computer_with, everything, with_loops
from tests.capacity.invented_device import Invented
from tests.device.false_media import FALSE, Whole

Capture = pytest.CaptureFixture[str]
Patch = pytest.MonkeyPatch


@pytest.fixture
def card(tmp_path: Path, monkeypatch: Patch) -> Path:
    """A folder that stands for a mounted card, on a computer that can tell what it reads from it."""
    root = tmp_path / "card"
    with_loops(root)
    monkeypatch.setattr(mounted_drive, "Computer", lambda: computer_with(root))
    calling(monkeypatch, forget=lambda *_: True)
    return root


def calling(monkeypatch: Patch, **calls: Callable[..., object]) -> None:
    """Have the system answer in this way."""
    merged: dict[str, Any] = {"forget": lambda *_: True, **calls}
    monkeypatch.setattr(files, "Calls", lambda: Calls(**merged))


def test_a_good_card_is_as_it_claims_and_nothing_stays(card: Path, capsys: Capture) -> None:
    before = everything(card)
    assert run(["capacity", str(card)]) == 0
    out, err = capsys.readouterr()
    said = " ".join(out.split())
    assert said.startswith(
        "AS IT CLAIMS, as far as was tested: It claims 8.39 MB, and the 3.15 MB of it that were free hold "
    )
    assert (
        "3.15 MB (3,145,728 bytes), written and read back; 5.24 MB in use or kept free were not tested"
        in said
    )
    assert out.endswith("The card can be used.\n")
    assert err == ""
    assert everything(card) == before


def test_a_card_of_false_capacity_gives_code_1(card: Path, monkeypatch: Patch, capsys: Capture) -> None:
    def read(descriptor: int, length: int) -> bytes:
        at = os.lseek(descriptor, 0, os.SEEK_CUR)
        content = os.read(descriptor, length)
        return content if at < MIB else bytes(len(content))

    before = everything(card)
    calling(monkeypatch, read=read)
    assert run(["capacity", str(card)]) == 1
    out = capsys.readouterr().out
    assert out.startswith("FALSE CAPACITY: It claims 8.39 MB and holds at most 2.1 MB.\n")
    assert f"at byte 1,048,576 of what was written, in {FOLDER}-000.tmp\n" in out
    assert everything(card) == before


def test_what_may_have_come_from_memory_gives_code_3(card: Path, monkeypatch: Patch, capsys: Capture) -> None:
    calling(monkeypatch, forget=lambda *_: False)
    assert run(["capacity", str(card)]) == 3
    assert capsys.readouterr().out.startswith("NOT SURE: ")


def test_a_speed_that_cannot_be_judged_gives_code_3(card: Path, capsys: Capture) -> None:
    assert run(["capacity", str(card), "--class", "v30"]) == 3
    assert "V30 promises 30 MB/s of writing: not judged" in " ".join(capsys.readouterr().out.split())


def test_what_cannot_be_removed_is_a_warning(card: Path, monkeypatch: Patch, capsys: Capture) -> None:
    def unlink(path: Path) -> None:
        raise OSError(errno.EROFS, "Read-only file system")

    calling(monkeypatch, unlink=unlink)
    assert run(["capacity", str(card)]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert (
        f"Not all is tidied up: {FOLDER} could not be removed from the card (Read-only file system)." in said
    )
    assert run(["capacity", str(card), "--strict"]) == 1  # the files were those of a run of ours


def test_leftovers_are_told_on_standard_error(card: Path, capsys: Capture) -> None:
    (card / FOLDER).mkdir()
    (card / FOLDER / f"{FOLDER}-000.tmp").write_bytes(new_stream().block(0).tobytes())
    assert run(["capacity", str(card)]) == 0
    assert capsys.readouterr().err == (
        f"mediacheck: An earlier test of {card} was ended before it could tidy up. "
        "Of it was removed now: 1 file (1.05 MB).\n"
    )


@pytest.mark.parametrize("error", [errno.ENODEV, errno.EROFS])
def test_a_card_that_goes_away_or_takes_nothing_is_one_sentence(
    card: Path, monkeypatch: Patch, capsys: Capture, error: int
) -> None:
    def write(*_: object) -> int:
        raise OSError(error, os.strerror(error))

    before = everything(card)
    calling(monkeypatch, write=write)
    assert run(["capacity", str(card)]) == 2
    out, err = capsys.readouterr()
    assert (out, err.count("\n"), err.startswith("mediacheck: ")) == ("", 1, True)
    assert str(card) in err
    assert everything(card) == before


def test_ctrl_c_leaves_nothing(card: Path, monkeypatch: Patch, capsys: Capture) -> None:
    def write(*_: object) -> int:
        raise KeyboardInterrupt

    before = everything(card)
    calling(monkeypatch, write=write)
    assert run(["capacity", str(card)]) == 130
    assert capsys.readouterr().err == "Stopped.\n"
    assert everything(card) == before


@pytest.mark.parametrize("options", [["--class", "V31"], ["--class", ""], ["--max-size", "big"]])
def test_wrong_options_are_refused_before_anything_is_written(
    card: Path, options: list[str], capsys: Capture
) -> None:
    before = everything(card)
    assert run(["capacity", str(card), *options]) == 2
    out, err = capsys.readouterr()
    assert (out, err.count("\n")) == ("", 1)
    assert everything(card) == before


def test_a_write_protected_card_is_refused(card: Path, monkeypatch: Patch, capsys: Capture) -> None:
    told = Told(str(card), opts="ro")
    monkeypatch.setattr(mounted_drive, "Computer", lambda: computer_with(card, told=told))
    assert run(["capacity", str(card)]) == 2
    assert f"{card} is write-protected. Move the little slider" in capsys.readouterr().err


@pytest.mark.parametrize("place", ["/", "~", "."])
def test_this_computer_itself_is_never_filled(place: str, capsys: Capture) -> None:
    assert run(["capacity", str(Path(place).expanduser())]) == 2
    out, err = capsys.readouterr()
    assert (out, err.count("\n")) == ("", 1)


DRIVE = Drive(
    "/dev/sdq", "Generic SD reader", "usb", 6 * MIB, 512, removable=True, read_only=False, number=2064
)


class Reader:
    """A reader with an invented card in it, as a device."""

    def __init__(self, monkeypatch: Patch, medium: Whole) -> None:
        self.drive, self.device, self.opened = DRIVE, Invented(medium), 0
        machine = Machine(lambda _: self.drive, self.look, self.open)
        monkeypatch.setattr(chosen, "Machine", lambda: machine)
        monkeypatch.setattr(sys, "stdin", io.StringIO())

    def look(self, path: Path) -> Card:
        """What is on it."""
        return Card(str(path), "device", (), volume=Volume("FAT32", "MBR", "GARDEN-A"))

    def open(self, drive: Drive) -> Invented:
        """For writing."""
        assert drive == self.drive
        self.opened += 1
        return self.device

    def asked(self, monkeypatch: Patch, answer: str) -> None:
        """Somebody is there to answer."""
        typed = io.StringIO(answer)
        typed.isatty = lambda: True  # type: ignore[method-assign]
        monkeypatch.setattr(sys, "stdin", typed)


ERASE = ["capacity", "/dev/sdq", "--erase"]
SURE = ["--yes", "--expect-size", "6291456"]


def test_a_good_device_is_left_empty(monkeypatch: Patch, capsys: Capture) -> None:
    reader = Reader(monkeypatch, Whole(6 * MIB))
    assert run([*ERASE, *SURE]) == 0
    out, err = capsys.readouterr()
    assert out.startswith("AS IT CLAIMS: It holds the 6.29 MB that it claims.\n")
    assert "card     /dev/sdq (Generic SD reader, 6.3 MB)\n" in out
    assert "- The card is empty now and not formatted: format it, or write an image to it," in out
    assert err == (
        "/dev/sdq (Generic SD reader, 6.3 MB), on USB\n"
        "  now on it: FAT32 in MBR, label GARDEN-A; no files\n"
        "All that is on this device will be lost.\n"
    )
    assert reader.device.medium.read(0, MIB) == bytes(MIB)
    assert reader.device.medium.read(MIB, MIB) != bytes(MIB)
    assert reader.device.calls[-1] == "close"


@pytest.mark.parametrize("kind", FALSE)
def test_a_device_of_false_capacity_gives_code_1(
    kind: type[Whole], monkeypatch: Patch, capsys: Capture
) -> None:
    Reader(monkeypatch, kind(6 * MIB, 2 * MIB))
    assert run([*ERASE, *SURE]) == 1
    assert capsys.readouterr().out.startswith("FALSE CAPACITY: It claims 6.29 MB and holds 2.1 MB.\n")


def test_the_size_can_be_typed(monkeypatch: Patch, capsys: Capture) -> None:
    reader = Reader(monkeypatch, Whole(6 * MIB))
    reader.asked(monkeypatch, "6.3 MB\n")
    assert run(ERASE) == 0
    said = "To write over /dev/sdq, type its size (6.3 MB, or 6291456 bytes): "
    assert capsys.readouterr().err.endswith(said)


@pytest.mark.parametrize("answer", ["", "\n", "yes\n", "6 MB\n", "6.3\n"])
def test_another_answer_leaves_the_device_alone(answer: str, monkeypatch: Patch, capsys: Capture) -> None:
    reader = Reader(monkeypatch, Whole(6 * MIB))
    reader.asked(monkeypatch, answer)
    assert run(ERASE) == 2
    assert capsys.readouterr().err.endswith(
        "mediacheck: This is not the size of /dev/sdq (Generic SD reader, 6.3 MB). Nothing was written.\n"
    )
    assert (reader.opened, reader.device.calls) == (0, [])


@pytest.mark.parametrize(
    ("options", "why"),
    [
        (["--erase"], "There is nobody to ask here"),
        (["--erase", "--yes"], "--yes writes without asking, and so needs --expect-size"),
        (["--erase", "--expect-size", "6291456"], "There is nobody to ask here"),
        (["--erase", "--yes", "--expect-size", "8GB"], "holds 6,291,456 bytes, not 8GB"),
        (["--erase", "--yes", "--expect-size", "big"], '"big" is not a size'),
        (
            ["--erase", *SURE, "--max-size", "6MB"],
            "holds 6,291,456 bytes, which is more than the 6,000,000 bytes that are allowed",
        ),
        (["--yes"], "--yes and --expect-size are for raw devices"),
        (["--expect-size", "8GB"], "--yes and --expect-size are for raw devices"),
    ],
)
def test_without_consent_nothing_is_written(
    options: list[str], why: str, monkeypatch: Patch, capsys: Capture
) -> None:
    reader = Reader(monkeypatch, Whole(6 * MIB))
    assert run(["capacity", "/dev/sdq", *options]) == 2
    assert why in capsys.readouterr().err
    assert (reader.opened, reader.device.calls) == (0, [])


@pytest.mark.parametrize(
    ("changes", "why"),
    [
        ({"removable": False}, "is a fixed drive in a case of its own"),
        ({"bus": "nvme", "removable": False}, "is built into this computer"),
        ({"mounts": ("/media/card",)}, "is mounted (/media/card)"),
        ({"mounts": ("/",)}, "is what this computer works from, and is never written over"),
        ({"read_only": True}, "is write-protected"),
        ({"size_bytes": 0}, "there is no card in it"),
    ],
)
def test_the_guard_is_that_of_writing(
    changes: dict[str, object], why: str, monkeypatch: Patch, capsys: Capture
) -> None:
    reader = Reader(monkeypatch, Whole(6 * MIB))
    reader.drive = replace(DRIVE, **changes)  # type: ignore[arg-type]
    assert run([*ERASE, *SURE]) == 2
    assert why in capsys.readouterr().err
    assert (reader.opened, reader.device.calls) == (0, [])


def test_a_card_that_was_changed_while_asking_is_left_alone(monkeypatch: Patch, capsys: Capture) -> None:
    reader = Reader(monkeypatch, Whole(6 * MIB))
    drives = [DRIVE, DRIVE, replace(DRIVE, insertion="2")]
    machine = Machine(lambda _: drives.pop(0), reader.look, reader.open)
    monkeypatch.setattr(chosen, "Machine", lambda: machine)
    assert run([*ERASE, *SURE]) == 2
    assert "changed after it was shown" in capsys.readouterr().err
    assert (reader.opened, reader.device.calls) == (0, [])


def test_a_card_that_is_taken_out_is_one_sentence(monkeypatch: Patch, capsys: Capture) -> None:
    reader = Reader(monkeypatch, Whole(6 * MIB))

    def read(offset: int, length: int) -> bytes:
        reader.drive = replace(DRIVE, size_bytes=0)
        raise OSError(errno.EIO, "Input/output error")

    reader.device.medium.read = read  # type: ignore[method-assign]
    assert run([*ERASE, *SURE]) == 2
    assert capsys.readouterr().err.endswith(
        "mediacheck: /dev/sdq (Generic SD reader, 6.3 MB) went away in the middle: it was taken out, or its "
        "reader failed. Put it in again and run the same command again.\n"
    )


@pytest.mark.skipif(not Path("/dev/null").is_char_device(), reason="needs a device that anybody has")
def test_a_device_is_not_tested_without_erase(capsys: Capture) -> None:
    assert run(["capacity", "/dev/null"]) == 2
    assert capsys.readouterr().err == (
        "mediacheck: /dev/null is a raw device, and its test destroys all that is on it. Add --erase if that "
        "is wanted, or give the root of the mounted card.\n"
    )


def test_a_folder_cannot_be_erased(card: Path, capsys: Capture) -> None:
    before = everything(card)
    assert run(["capacity", str(card), "--erase", *SURE]) == 2
    assert everything(card) == before


def test_no_card_at_all_is_one_sentence(capsys: Capture) -> None:
    assert run(["capacity", " "]) == 2
    assert capsys.readouterr().err.startswith(
        "mediacheck: No card was given: name the root of a mounted card"
    )
