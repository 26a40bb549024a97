"""`mediacheck write` as a person calls it: what is shown and asked, what goes where, and the exit codes.

Its devices are ordinary files; which ones, and what they are said to be, is invented.
"""

from __future__ import annotations

import errno
import io
import os
import shutil
import signal
import sys
import threading
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

import pytest

from mediacheck.build.proven_image import prove_image
from mediacheck.build.written import FROM_MEMORY
from mediacheck.card.model import Card
from mediacheck.card.opening import open_card
from mediacheck.card.raw import open_raw
from mediacheck.cli.app import run
from mediacheck.device.chosen import Machine
from mediacheck.device.drive import Drive, no_drive
from mediacheck.device.raw_device import Device, RawDevice
from mediacheck.errors import CardError
from mediacheck.manifest.sums import sums_text
from mediacheck.watching import NoByteWatcher
from tests.card.filled import FILES, MIB, fat_card, overwrite, sized
from tests.device.ending import listens as listens
from tests.device.false_devices import FalseDevice, fails, filled_with

Capture = pytest.CaptureFixture[str]

IMAGE_BYTES = 9 * MIB
DEVICE_BYTES = 12 * MIB
ALL = ("/dev/sdb", "/dev/sdc", "/dev/sdd")
EXPECTED = ("--yes", "--expect-size", "12.6MB")
HINT = "See `mediacheck --help`."


class Forgetting(RawDevice):
    """Whatever the system says of the file that stands for it."""

    def forget(self) -> bool:
        return True


@dataclass
class Invented:
    """A computer with three readers, in which there are cards that are files."""

    place: Path
    drives: dict[str, Drive] = field(default_factory=dict)
    devices: dict[str, Device] = field(default_factory=dict)
    """In place of files."""
    opened: list[str] = field(default_factory=list)
    on_describe: Callable[[int], None] = lambda count: None
    described: int = 0

    def __post_init__(self) -> None:
        for name in ALL:
            self.file(name).write_bytes(b"\xff" * DEVICE_BYTES)
            self.drives[name] = Drive(name, "Generic Reader", "usb", DEVICE_BYTES, 512, True, False)

    def file(self, name: str) -> Path:
        """What stands for the card."""
        return self.place / name.rpartition("/")[2]

    def machine(self) -> Machine:
        return Machine(self._describe, self._look, self._open)

    def change(self, name: str, **values: object) -> None:
        self.drives[name] = replace(self.drives[name], **values)  # type: ignore[arg-type]

    def _describe(self, path: str) -> Drive:
        self.described += 1
        self.on_describe(self.described)
        if path not in self.drives:
            raise no_drive(f"there is no device {path}")
        return self.drives[path]

    def _look(self, path: Path) -> Card:
        name = str(path)
        return open_raw(str(self.file(name)), name, "device") if name in ALL else open_card(path)

    def _open(self, drive: Drive) -> Device:
        self.opened.append(drive.path)
        if drive.path in self.devices:
            return self.devices[drive.path]
        return Forgetting(self.file(drive.path).open("r+b", buffering=0), DEVICE_BYTES, 512)


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return fat_card(tmp_path_factory.mktemp("made") / "face-a.img", IMAGE_BYTES, FILES, "-F", "16")


@pytest.fixture
def image(made: Path, tmp_path: Path) -> Path:
    return Path(shutil.copy(made, tmp_path))


@pytest.fixture
def computer(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Invented:
    (tmp_path / "devices").mkdir()
    invented = Invented(tmp_path / "devices")
    monkeypatch.setattr("mediacheck.cli.write.machine", invented.machine)
    return invented


class Terminal(io.StringIO):
    """A person who types these lines."""

    def isatty(self) -> bool:
        return True


@pytest.fixture
def typed(monkeypatch: pytest.MonkeyPatch) -> Callable[..., Terminal]:
    def types(*lines: str) -> Terminal:
        terminal = Terminal("".join(f"{line}\n" for line in lines))
        monkeypatch.setattr(sys, "stdin", terminal)
        return terminal

    monkeypatch.setattr(sys, "stdin", io.StringIO())
    return types


def write(*words: str | Path) -> int:
    return run(["write", *map(str, words)])


def refused(capsys: Capture, computer: Invented) -> str:
    """The last line of what was said; nothing may have been opened or written."""
    out, err = capsys.readouterr()
    assert out == ""
    assert computer.opened == []
    assert all(computer.file(name).read_bytes() == b"\xff" * DEVICE_BYTES for name in ALL)
    return err.splitlines()[-1] if err else ""


def shown_card(name: str) -> str:
    return f"{name} (Generic Reader, 12.6 MB)"


def test_what_would_be_lost_is_shown_then_the_size_is_asked_and_the_image_written(
    image: Path, computer: Invented, typed: Callable[..., Terminal], capsys: Capture
) -> None:
    fat_card(computer.file("/dev/sdb"), DEVICE_BYTES, {"HOLIDAY.JPG": b"beach"}, "-F", "16")
    typed("12.6 MB", "12582912")
    assert write(image, "/dev/sdb", "/dev/sdc") == 0
    out, err = capsys.readouterr()
    sha256 = prove_image(image, NoByteWatcher()).sha256
    assert err.splitlines() == [
        f"{image}, 9.4 MB",
        "  holds FAT16, 9.4 MB, label GARDEN; 4 files: Watering Can 1.mp4, B.MP4, A.MP4, Spring/Seed "
        "Range.mp4",
        f"  SHA-256 {sha256}, which was compared with nothing: no list of checksums stands beside it",
        f"{shown_card('/dev/sdb')}, on USB",
        "  now on it: FAT16, 12.6 MB, label GARDEN; 1 file: HOLIDAY.JPG",
        f"{shown_card('/dev/sdc')}, on USB",
        "  now on it: nothing that can be listed: it is not formatted",
        "All that is on these devices will be lost.",
        "To write over /dev/sdb, type its size (12.6 MB, or 12582912 bytes): "
        "To write over /dev/sdc, type its size (12.6 MB, or 12582912 bytes): ",
    ]
    assert out.splitlines() == [
        f"{shown_card(name)}: written and proven" for name in ("/dev/sdb", "/dev/sdc")
    ]
    for name in ("/dev/sdb", "/dev/sdc"):
        assert computer.file(name).read_bytes()[:IMAGE_BYTES] == image.read_bytes()


def test_an_unformatted_card_in_a_slot(
    image: Path, computer: Invented, typed: Callable[..., Terminal], capsys: Capture
) -> None:
    sized(computer.file("/dev/sdb"), 0)
    sized(computer.file("/dev/sdb"), DEVICE_BYTES)
    computer.change("/dev/sdb", bus="sd")
    typed("12.6 MB")
    assert write(image, "/dev/sdb") == 0
    assert capsys.readouterr().err.splitlines()[3:6] == [
        f"{shown_card('/dev/sdb')}, in a slot for cards",
        "  now on it: nothing that can be listed: it is not formatted",
        "All that is on this device will be lost.",
    ]


@pytest.mark.parametrize("answers", [(), ("",), ("y",), ("12.6",), ("12.6 MB", "12.5 MB"), ("12.6 MB",)])
def test_any_other_answer_writes_nothing_to_any(
    image: Path, computer: Invented, typed: Callable[..., Terminal], capsys: Capture, answers: Sequence[str]
) -> None:
    typed(*answers)
    assert write(image, "/dev/sdb", "/dev/sdc") == 2
    asked_last = "/dev/sdc" if answers[:1] == ("12.6 MB",) else "/dev/sdb"
    assert refused(capsys, computer).endswith(
        f"mediacheck: This is not the size of {shown_card(asked_last)}. Nothing was written."
    )


def test_the_expected_size_stands_for_the_answer(
    image: Path, computer: Invented, typed: Callable[..., Terminal], capsys: Capture
) -> None:
    image.with_name("face-a.img.sha256").write_text(
        sums_text([(image.name, prove_image(image, NoByteWatcher()).sha256)])
    )
    assert write(image, *ALL, *EXPECTED) == 0
    out, err = capsys.readouterr()
    assert out.splitlines() == [f"{shown_card(name)}: written and proven" for name in ALL]
    assert err.splitlines()[2].endswith(", as the list of checksums beside it says")
    assert err.splitlines()[-1] == "All that is on these devices will be lost."
    assert write(image, *ALL, *EXPECTED) == 0
    assert capsys.readouterr().out.splitlines() == [
        f"{shown_card(name)}: already right: nothing was written" for name in ALL
    ]


def test_the_expected_size_must_be_that_of_all(
    image: Path, computer: Invented, typed: Callable[..., Terminal], capsys: Capture
) -> None:
    computer.change("/dev/sdc", size_bytes=16 * MIB)
    assert write(image, *ALL, *EXPECTED) == 2
    assert refused(capsys, computer) == (
        "mediacheck: /dev/sdc (Generic Reader, 16.8 MB) holds 16,777,216 bytes, not 12.6MB. Nothing was "
        "written."
    )


def test_the_expected_size_does_not_stand_for_consent_without_yes(
    image: Path, computer: Invented, typed: Callable[..., Terminal], capsys: Capture
) -> None:
    typed("no")
    assert write(image, "/dev/sdb", "--expect-size", "12.6MB") == 2
    assert refused(capsys, computer).endswith("Nothing was written.")


WRONG = {
    ("--yes",): (
        "--yes writes without asking, and so needs --expect-size with the size of the card. " + HINT
    ),
    (): "There is nobody to ask here: give --yes and --expect-size with the size of the card. " + HINT,
    ("--expect-size", "12.6MB"): (
        "There is nobody to ask here: give --yes and --expect-size with the size of the card. " + HINT
    ),
    ("--yes", "--expect-size", "large"): (
        '"large" is not a size: give one such as 8GB, 512MiB or a number of whole bytes. ' + HINT
    ),
    (*EXPECTED, "--max-size", "8G"): (
        '"8G" is not a size: give one such as 8GB, 512MiB or a number of whole bytes. ' + HINT
    ),
    (*EXPECTED, "--max-size", "10MB"): (
        f"{shown_card('/dev/sdb')} holds 12,582,912 bytes, which is more than the 10,000,000 bytes that are "
        "allowed: if it is a card all the same, allow its size with --max-size. Nothing was written."
    ),
}


@pytest.mark.parametrize("words", WRONG)
def test_wrong_use_writes_nothing(
    image: Path,
    computer: Invented,
    typed: Callable[..., Terminal],
    capsys: Capture,
    words: tuple[str, ...],
) -> None:
    assert write(image, "/dev/sdb", *words) == 2
    assert refused(capsys, computer) == f"mediacheck: {WRONG[words]}"


def test_one_device_that_must_not_be_written_over_stops_all_with_each_reason(
    image: Path, computer: Invented, typed: Callable[..., Terminal], capsys: Capture
) -> None:
    computer.change("/dev/sdb", mounts=("/",))
    computer.change("/dev/sdc", removable=False)
    assert write(image, *ALL, "/dev/sdd", *EXPECTED) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert err.splitlines() == [
        f"mediacheck: {shown_card('/dev/sdb')} is what this computer works from, and is never written over.",
        f"{shown_card('/dev/sdc')} is a fixed drive in a case of its own, such as a hard disk or SSD on "
        "USB, and only cards and sticks that can be taken out are written: choose the device of the card.",
        "/dev/sdd was given more than once.",
        "Nothing was written.",
    ]
    assert computer.opened == []


def test_no_device(image: Path, computer: Invented, typed: Callable[..., Terminal], capsys: Capture) -> None:
    assert write(image, "/dev/sdb", "/dev/sdx", *EXPECTED) == 2
    assert refused(capsys, computer) == (
        "mediacheck: there is no device /dev/sdx. Give the device of the whole card, such as /dev/sdb, "
        "/dev/mmcblk0 or /dev/disk4."
    )


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (
            {"mounts": ("/media/b",)},
            "is mounted (/media/b): close what works with it, then run `umount /media/b`.",
        ),
        ({"insertion": "2"}, "changed after it was shown: leave the card in, and run the command again."),
    ],
)
def test_what_happens_while_the_person_types_is_seen(
    image: Path,
    computer: Invented,
    typed: Callable[..., Terminal],
    capsys: Capture,
    change: dict[str, object],
    said: str,
) -> None:
    """The last description is the one after the answer."""
    computer.on_describe = lambda count: computer.change("/dev/sdb", **change) if count == 5 else None
    assert write(image, "/dev/sdb", *EXPECTED) == 2
    assert refused(capsys, computer) == f"mediacheck: {shown_card('/dev/sdb')} {said} Nothing was written."


def test_a_device_that_cannot_be_opened_stops_all_and_the_others_are_closed(
    image: Path,
    computer: Invented,
    typed: Callable[..., Terminal],
    capsys: Capture,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    first = FalseDevice(filled_with(0xFF, DEVICE_BYTES))
    computer.devices["/dev/sdb"] = first

    def opens(drive: Drive) -> Device:
        if drive.path == "/dev/sdc":
            raise CardError(f"{drive.path} is in use by this computer")
        return first

    monkeypatch.setattr("mediacheck.cli.write.machine", lambda: replace(computer.machine(), open=opens))
    assert write(image, "/dev/sdb", "/dev/sdc", *EXPECTED) == 2
    assert refused(capsys, computer).startswith("mediacheck: /dev/sdc is in use by this computer.")
    assert (first.is_closed, first.log) == (True, [])


def test_a_card_that_lies_gives_code_1_and_a_card_that_fails_code_2(
    image: Path, computer: Invented, typed: Callable[..., Terminal], capsys: Capture
) -> None:
    liar, broken = filled_with(0xFF, DEVICE_BYTES), filled_with(0xFF, DEVICE_BYTES)
    liar.stuck = {8 * MIB: 1}
    computer.devices["/dev/sdc"] = FalseDevice(liar)
    assert write(image, "/dev/sdb", "/dev/sdc", *EXPECTED) == 1
    assert capsys.readouterr().out.splitlines() == [
        f"{shown_card('/dev/sdb')}: written and proven",
        f"{shown_card('/dev/sdc')}: FAILED at byte 8,388,608: 1 of 3 blocks of 4 MiB read back otherwise "
        "than they were written: the card is bad, or smaller than it claims; do not use it",
    ]
    computer.devices["/dev/sdd"] = FalseDevice(broken, fails(errno.EIO, "write", 4 * MIB))
    computer.devices["/dev/sdc"] = FalseDevice(liar)
    assert write(image, "/dev/sdc", "/dev/sdd", *EXPECTED) == 2
    assert [line.partition(": ")[2][:26] for line in capsys.readouterr().out.splitlines()] == [
        "FAILED at byte 8,388,608: ",
        "FAILED at byte 4,194,304: ",
    ]


@pytest.mark.skipif(os.name != "posix", reason="signals as POSIX has them")
@pytest.mark.parametrize("ending", [signal.SIGINT, signal.SIGTERM])
def test_what_became_of_each_card_is_told_when_it_is_stopped(
    image: Path,
    computer: Invented,
    typed: Callable[..., Terminal],
    capsys: Capture,
    monkeypatch: pytest.MonkeyPatch,
    listens: None,
    ending: signal.Signals,
) -> None:
    stop = threading.Event()
    monkeypatch.setattr("mediacheck.build.write.Event", lambda: stop)

    def ends(what: str, place: int) -> None:
        if (what, place) == ("write", 4 * MIB):
            signal.pthread_kill(threading.main_thread().ident or 0, ending)
            assert stop.wait(20)

    medium = filled_with(0xFF, DEVICE_BYTES)
    computer.devices["/dev/sdb"] = FalseDevice(medium, ends)
    assert write(image, "/dev/sdb", *EXPECTED) == 130
    out, err = capsys.readouterr()
    assert out == (
        f"{shown_card('/dev/sdb')}: FAILED at byte 4,194,304: it was stopped, and has to be written again\n"
    )
    assert err.endswith("Stopped.\n")
    assert medium.read(0, 4096) == bytes(4096)


def test_what_is_typed_and_is_no_text_writes_nothing(
    image: Path, computer: Invented, capsys: Capture, monkeypatch: pytest.MonkeyPatch
) -> None:
    terminal = io.TextIOWrapper(io.BytesIO(b"12.6 MB\xff\n"), "utf-8")
    terminal.isatty = lambda: True  # type: ignore[method-assign]
    monkeypatch.setattr(sys, "stdin", terminal)
    assert write(image, "/dev/sdb") == 2
    assert refused(capsys, computer).endswith(
        f"mediacheck: This is not the size of {shown_card('/dev/sdb')}. Nothing was written."
    )


def test_what_may_have_come_from_memory_gives_code_3(
    image: Path, computer: Invented, typed: Callable[..., Terminal], capsys: Capture
) -> None:
    computer.devices["/dev/sdb"] = FalseDevice(filled_with(0xFF, DEVICE_BYTES), forgets=False)
    assert write(image, "/dev/sdb", "/dev/sdc", *EXPECTED) == 3
    assert capsys.readouterr().out.splitlines() == [
        f"{shown_card('/dev/sdb')}: written, and the same when it was read back{FROM_MEMORY}",
        f"{shown_card('/dev/sdc')}: written and proven",
    ]


def test_a_damaged_image_is_written_only_if_that_is_said(
    image: Path, computer: Invented, typed: Callable[..., Terminal], capsys: Capture
) -> None:
    second_fat = next(at for at in range(512, IMAGE_BYTES, 512) if _is_fat(image, at) and at > 4096)
    overwrite(image, second_fat + 100, b"other")
    assert write(image, "/dev/sdb", *EXPECTED) == 2
    said = refused(capsys, computer)
    assert said.startswith(
        f"mediacheck: {image} is not fit to be written: copy 2 of the table of clusters differs"
    )
    assert said.endswith(". Build it again, or write it as it is with --even-so.")
    assert write(image, "/dev/sdb", *EXPECTED, "--even-so") == 0
    assert "; but copy 2 of the table of clusters differs" in capsys.readouterr().err.splitlines()[1]


def _is_fat(image: Path, at: int) -> bool:
    return image.read_bytes()[at : at + 4] == b"\xf8\xff\xff\xff"


def test_an_image_that_was_cut_short_is_refused(
    image: Path, computer: Invented, typed: Callable[..., Terminal], capsys: Capture
) -> None:
    with image.open("r+b") as file:
        file.truncate(5 * MIB)
    assert write(image, "/dev/sdb", *EXPECTED) == 2
    assert "its file system claims 9,437,184 bytes, and there are 5,242,880 bytes" in refused(
        capsys, computer
    )


def test_an_image_without_files_of_ours_is_written_only_if_that_is_said(
    tmp_path: Path, computer: Invented, typed: Callable[..., Terminal], capsys: Capture
) -> None:
    blank = sized(tmp_path / "blank.img", MIB)
    assert write(blank, "/dev/sdb", *EXPECTED) == 2
    assert refused(capsys, computer) == (
        f"mediacheck: {blank} is not fit to be written: its files could not be listed (it is not formatted). "
        "Build it again, or write it as it is with --even-so."
    )
    assert write(blank, "/dev/sdb", *EXPECTED, "--even-so") == 0
    assert computer.file("/dev/sdb").read_bytes() == bytes(MIB) + b"\xff" * (DEVICE_BYTES - MIB)


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ("none.img", "none.img cannot be read: No such file or directory."),
        ("devices", "devices is no image: give the file of an image, such as card.img."),
        (
            "text.img",
            "text.img is a file that holds no card: neither partition table nor file system was found.",
        ),
    ],
)
def test_what_is_no_image(
    tmp_path: Path, computer: Invented, typed: Callable[..., Terminal], capsys: Capture, given: str, said: str
) -> None:
    (tmp_path / "text.img").write_text("a list of seeds")
    assert write(tmp_path / given, "/dev/sdb", *EXPECTED) == 2
    assert refused(capsys, computer).startswith(f"mediacheck: {tmp_path}/{said}")


def test_an_image_that_is_not_what_its_list_names(
    image: Path, computer: Invented, typed: Callable[..., Terminal], capsys: Capture
) -> None:
    image.with_name("face-a.img.sha256").write_text(sums_text([(image.name, "0" * 64)]))
    assert write(image, "/dev/sdb", *EXPECTED) == 2
    assert refused(capsys, computer) == (
        f"mediacheck: {image} is not the image that face-a.img.sha256 names: its bytes are others. Build it "
        "or copy it again."
    )


def test_no_ordinary_file_is_written_over(image: Path, tmp_path: Path, capsys: Capture) -> None:
    """With this computer, not an invented one."""
    other = sized(tmp_path / "other.img", DEVICE_BYTES)
    assert write(image, other, *EXPECTED) == 2
    assert capsys.readouterr().err.startswith(
        f"mediacheck: {other} is an ordinary file, and only raw devices are written."
    )
    assert other.read_bytes() == bytes(DEVICE_BYTES)
