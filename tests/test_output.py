"""Atomic writing: the old content or the new, never half; a refusal is one sentence, path and reason."""

from __future__ import annotations

import errno
import os
import signal
import subprocess
import sys
import tempfile
from contextlib import suppress
from pathlib import Path
from typing import NoReturn

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mediacheck import output
from mediacheck.errors import OutputError
from mediacheck.output import atomic_writer, partial_writer, place_beside, write_atomically

posix_only = pytest.mark.skipif(os.name != "posix", reason="POSIX files")


def contents(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.iterdir()}


def test_a_new_file_holds_what_was_written(tmp_path: Path) -> None:
    write_atomically(tmp_path / "report.json", b"\x00\xff")
    write_atomically(tmp_path / "gärten.html", "Bewässerung\r\n花\n")
    assert contents(tmp_path) == {
        "report.json": b"\x00\xff",
        "gärten.html": "Bewässerung\r\n花\n".encode(),
    }


def test_an_old_file_is_replaced(tmp_path: Path) -> None:
    (tmp_path / "report.json").write_bytes(b"a much longer old report")
    write_atomically(tmp_path / "report.json", b"new")
    assert contents(tmp_path) == {"report.json": b"new"}


@given(st.binary(max_size=50), st.lists(st.binary(max_size=20_000), max_size=4), st.booleans())
def test_interrupted_writing_leaves_the_old_content(old: bytes, parts: list[bytes], existed: bool) -> None:
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        if existed:
            (folder / "card.csv").write_bytes(old)

        def interrupted() -> NoReturn:
            with atomic_writer(folder / "card.csv") as file:
                for part in parts:
                    file.write(part)
                raise KeyboardInterrupt

        with pytest.raises(KeyboardInterrupt):
            interrupted()
        assert contents(folder) == ({"card.csv": old} if existed else {})


@posix_only
def test_a_program_killed_while_writing_leaves_the_old_content(tmp_path: Path) -> None:
    path = tmp_path / "report.json"
    path.write_bytes(b"old")
    source = (
        "import os, signal, sys; from pathlib import Path; from mediacheck.output import atomic_writer\n"
        "with atomic_writer(Path(sys.argv[1])) as file:\n"
        "    file.write(b'new' * 100000); file.flush(); os.kill(os.getpid(), signal.SIGKILL)"
    )
    killed = subprocess.run([sys.executable, "-c", source, str(path)], check=False)
    assert killed.returncode == -signal.SIGKILL
    assert path.read_bytes() == b"old"
    assert [p.name.startswith(".report.json.") for p in tmp_path.iterdir() if p != path] == [True]


def test_an_exception_of_the_writer_goes_on_as_itself(tmp_path: Path) -> None:
    def fail() -> NoReturn:
        with atomic_writer(tmp_path / "sheet.png") as file:
            file.write(b"half")
            raise FileNotFoundError("the font is missing")

    with pytest.raises(FileNotFoundError, match="font"):
        fail()
    assert contents(tmp_path) == {}


def refused(path: Path) -> str:
    with pytest.raises(OutputError) as caught:
        write_atomically(path, b"new")
    return str(caught.value)


def test_a_missing_folder_is_named(tmp_path: Path) -> None:
    path = tmp_path / "no" / "report.json"
    assert refused(path) == f"{path} cannot be written: its folder does not exist"


def test_a_file_in_place_of_the_folder_is_named(tmp_path: Path) -> None:
    (tmp_path / "notes").write_bytes(b"")
    path = tmp_path / "notes" / "report.json"
    assert refused(path).startswith(f"{path} cannot be written: ")


def test_a_folder_in_the_place_is_named(tmp_path: Path) -> None:
    assert refused(tmp_path) == f"{tmp_path} cannot be written: there is a folder of that name"


def test_a_name_that_is_too_long_is_named(tmp_path: Path) -> None:
    path = tmp_path / ("x" * 300)
    assert refused(path).startswith(f"{path} cannot be written: ")
    assert contents(tmp_path) == {}


def test_a_name_as_long_as_the_system_takes_is_written(tmp_path: Path) -> None:
    write_atomically(tmp_path / ("x" * 255), b"new")
    assert contents(tmp_path) == {"x" * 255: b"new"}


def test_a_zero_byte_in_the_name_is_a_refusal(tmp_path: Path) -> None:
    assert "cannot be written" in refused(tmp_path / "a\0b")


@pytest.mark.parametrize(
    ("number", "reason"),
    [
        (errno.EACCES, "you may not write there, or another program has it open"),
        (errno.EROFS, "that place is write-protected"),
        (errno.ENOSPC, "the disk is full"),
        (errno.ELOOP, os.strerror(errno.ELOOP)),
    ],
)
def test_a_place_that_cannot_be_written_is_told_in_plain_words(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, number: int, reason: str
) -> None:
    def refuse(*_: object) -> NoReturn:
        raise OSError(number, os.strerror(number))

    (tmp_path / "report.json").write_bytes(b"old")
    monkeypatch.setattr(os, "fsync", refuse)
    path = tmp_path / "report.json"
    assert refused(path) == f"{path} cannot be written: {reason}"
    assert contents(tmp_path) == {"report.json": b"old"}


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="POSIX files")
def test_a_pipe_is_neither_opened_nor_replaced(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe")
    path = tmp_path / "pipe"
    assert refused(path) == f"{path} cannot be written: it is a device or pipe, not a file"
    assert path.is_fifo()


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="Linux' full device")
def test_a_disk_that_fills_up_while_writing_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    class Full(output._Target):
        def __init__(self, temporary: Path, mode: str) -> None:
            temporary.write_bytes(b"")
            super().__init__("/dev/full", "wb")

    monkeypatch.setattr(output, "_Target", Full)
    path = tmp_path / "report.json"
    for size in (10, 1_000_000):  # noticed at the end, and noticed in the middle
        with pytest.raises(OutputError) as caught:
            write_atomically(path, b"x" * size)
        assert str(caught.value) == f"{path} cannot be written: the disk is full"
    assert contents(tmp_path) == {}


@posix_only
def test_a_link_stays_a_link_and_permissions_stay(tmp_path: Path) -> None:
    (tmp_path / "real.json").write_bytes(b"old")
    (tmp_path / "real.json").chmod(0o640)
    (tmp_path / "link.json").symlink_to("real.json")
    write_atomically(tmp_path / "link.json", b"new")
    assert (tmp_path / "link.json").is_symlink()
    assert contents(tmp_path) == {"real.json": b"new", "link.json": b"new"}
    assert (tmp_path / "real.json").stat().st_mode & 0o777 == 0o640


@posix_only
def test_a_new_file_has_the_usual_permissions(tmp_path: Path) -> None:
    write_atomically(tmp_path / "ours", b"")
    (tmp_path / "usual").touch()
    assert (tmp_path / "ours").stat().st_mode == (tmp_path / "usual").stat().st_mode


def test_what_is_large_grows_under_a_name_that_people_see(tmp_path: Path) -> None:
    image = tmp_path / "card.img"
    (tmp_path / "card.img.partial").write_bytes(b"left by a run that was killed")
    with partial_writer(image) as file:
        file.write(b"whole")
        assert contents(tmp_path) == {"card.img.partial": b"whole"}
        assert str(file.name) == str(tmp_path / "card.img.partial")
    assert contents(tmp_path) == {"card.img": b"whole"}


@pytest.mark.parametrize("error", [KeyboardInterrupt(), ValueError("x")])
def test_what_is_large_leaves_nothing_when_it_fails(error: BaseException, tmp_path: Path) -> None:
    (tmp_path / "card.img").write_bytes(b"old")

    def failing() -> NoReturn:
        with partial_writer(tmp_path / "card.img") as file:
            file.write(b"half")
            raise error

    with pytest.raises(type(error)):
        failing()
    assert contents(tmp_path) == {"card.img": b"old"}


def test_a_full_disk_is_one_sentence_also_for_what_is_large(tmp_path: Path) -> None:
    with (
        pytest.raises(OutputError, match=r"card\.img cannot be written: the disk is full"),
        partial_writer(tmp_path / "card.img"),
    ):
        raise OSError(errno.ENOSPC, "No space left on device")
    assert contents(tmp_path) == {}


@posix_only
def test_two_runs_do_not_write_the_same_large_file(tmp_path: Path) -> None:
    with partial_writer(tmp_path / "card.img") as file:
        file.write(b"first")
        with (
            pytest.raises(OutputError, match=r"another run is writing card\.img\.partial"),
            partial_writer(tmp_path / "card.img"),
        ):
            pytest.fail("both were let in")
    assert contents(tmp_path) == {"card.img": b"first"}


@posix_only
@pytest.mark.parametrize("fails", [False, True])
def test_no_other_run_gets_in_before_a_large_file_has_its_name(
    fails: bool, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It would empty the file, and the empty one would then get the name."""
    rename = Path.replace

    def late(place: Path, target: Path) -> Path:
        with pytest.raises(OutputError, match="another run"), partial_writer(tmp_path / "card.img"):
            pytest.fail("both were let in")
        if fails:
            raise OSError(errno.EIO, "")
        return rename(place, target)

    monkeypatch.setattr(Path, "replace", late)
    try:
        with partial_writer(tmp_path / "card.img") as file:
            file.write(b"whole")
    except OutputError:
        assert fails
    assert contents(tmp_path) == ({} if fails else {"card.img": b"whole"})


@posix_only
def test_what_another_run_has_begun_stays_when_a_finished_one_is_stopped(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def stopped(_: Path) -> NoReturn:
        (tmp_path / "card.img.partial").write_bytes(b"of the other run")
        raise KeyboardInterrupt

    def finish() -> None:
        with partial_writer(tmp_path / "card.img") as file:
            file.write(b"whole")

    monkeypatch.setattr(output, "sync_folder", stopped)
    with pytest.raises(KeyboardInterrupt):
        finish()
    assert contents(tmp_path) == {"card.img": b"whole", "card.img.partial": b"of the other run"}


@posix_only
def test_a_link_in_the_place_of_what_is_not_complete_is_not_followed(tmp_path: Path) -> None:
    (tmp_path / "mine").write_bytes(b"mine")
    (tmp_path / "card.img.partial").symlink_to("mine")
    with (
        pytest.raises(OutputError, match=r"card\.img cannot be written"),
        partial_writer(tmp_path / "card.img"),
    ):
        pytest.fail("it was opened")
    assert (tmp_path / "mine").read_bytes() == b"mine"
    assert (tmp_path / "card.img.partial").is_symlink()


def test_what_another_program_wrote_takes_its_place_when_it_is_settled(tmp_path: Path) -> None:
    (tmp_path / "loop.mp4").write_bytes(b"old")
    with place_beside(tmp_path / "loop.mp4", ".mp4") as beside:
        assert contents(tmp_path) == {"loop.mp4": b"old"}
        assert (beside.path.parent, beside.path.suffix) == (tmp_path, ".mp4")
        beside.path.write_bytes(b"new")
        assert (tmp_path / "loop.mp4").read_bytes() == b"old"
        beside.settle()
        assert contents(tmp_path) == {"loop.mp4": b"new"}
    assert contents(tmp_path) == {"loop.mp4": b"new"}


@pytest.mark.parametrize("error", [None, KeyboardInterrupt])
def test_what_was_not_settled_is_removed(tmp_path: Path, error: type[BaseException] | None) -> None:
    (tmp_path / "loop.mp4").write_bytes(b"old")
    with suppress(KeyboardInterrupt), place_beside(tmp_path / "loop.mp4", ".mp4") as beside:
        beside.path.write_bytes(b"half")
        if error is not None:
            raise error
    assert contents(tmp_path) == {"loop.mp4": b"old"}


def test_a_place_that_takes_nothing_is_told_before_another_program_tries(tmp_path: Path) -> None:
    with (
        pytest.raises(OutputError, match="its folder does not exist"),
        place_beside(tmp_path / "none" / "loop.mp4", ".mp4"),
    ):
        pytest.fail("the block was entered")


def test_settling_what_nobody_wrote_is_refused(tmp_path: Path) -> None:
    with (
        place_beside(tmp_path / "loop.mp4", ".mp4") as beside,
        pytest.raises(OutputError, match=r"loop\.mp4"),
    ):
        beside.settle()
    assert contents(tmp_path) == {}
