"""Outside programs: each way of failing is one sentence, within the time limit, with nothing left running."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import psutil
import pytest

from mediacheck import programs
from mediacheck.errors import ProgramError
from mediacheck.programs import PIPE_BYTES, Finished, Program, ask_for_ffmpeg, find_ffmpeg, run, start

STAND_INS = Path(__file__).parent / "broken_programs"
ECHO = (sys.executable, "-c", "import sys; sys.stdout.buffer.write(sys.stdin.buffer.read())")
posix_only = pytest.mark.skipif(os.name != "posix", reason="POSIX signals")


def python_program(source: str, *arguments: str) -> tuple[str, ...]:
    return (sys.executable, "-c", source, *arguments)


def stand_in(name: str) -> tuple[str, ...]:
    return (sys.executable, str(STAND_INS / f"{name}.py"))


@pytest.fixture
def installed(tmp_path: Path) -> Callable[[str], Path]:
    """Makes a stand-in into a program called ffmpeg in a folder of its own."""

    def install(name: str) -> Path:
        folder = tmp_path / name
        folder.mkdir()
        python, script = stand_in(name)
        if os.name == "posix":
            program = folder / "ffmpeg"
            program.write_text(f'#!/bin/sh\nexec "{python}" "{script}" "$@"\n')
            program.chmod(0o755)
        else:
            program = folder / "ffmpeg.cmd"
            program.write_text(f'@"{python}" "{script}" %*\n')
        return program

    return install


def ended(pid: int, limit_s: float = 5) -> bool:
    deadline_s = time.monotonic() + limit_s
    while time.monotonic() < deadline_s:
        try:
            if psutil.Process(pid).status() == psutil.STATUS_ZOMBIE:
                return True
        except psutil.NoSuchProcess:
            return True
        time.sleep(0.02)
    return False


# run


def test_output_input_and_exit_code_come_back() -> None:
    data = bytes(range(256)) * 4096
    assert run(ECHO, time_limit_s=30, input=data) == Finished(ECHO, 0, data, "")


def test_without_input_a_program_reads_nothing_rather_than_the_terminal() -> None:
    assert run(ECHO, time_limit_s=30) == Finished(ECHO, 0, b"", "")


def test_a_program_that_does_not_want_its_input_may_end() -> None:
    assert run(python_program("pass"), time_limit_s=30, input=b"x" * 1_000_000).exit_code == 0


def test_a_failure_keeps_exit_code_output_and_last_words() -> None:
    command = stand_in("exits_nonzero")
    finished = run(command, time_limit_s=30)
    assert finished == Finished(command, 7, finished.stdout, "clip.mp4: no such stream")
    assert finished.stdout.split() == b"something came out first".split()
    with pytest.raises(ProgramError) as caught:
        finished.checked()
    assert str(caught.value) == (
        f"{Path(sys.executable).name} ended with exit code 7 (the command was: {programs.shown(command)});"
        ' its last words were "clip.mp4: no such stream"'
    )


def test_success_is_checked_without_complaint() -> None:
    finished = run(ECHO, time_limit_s=30)
    assert finished.checked() is finished


@posix_only
def test_a_crash_is_told_as_a_crash() -> None:
    with pytest.raises(ProgramError, match=r"crashed \(SIGSEGV\)"):
        run(stand_in("dies_by_signal"), time_limit_s=30).checked()


def test_a_program_over_its_time_is_ended_with_its_child_and_its_last_words_kept() -> None:
    begun_s = time.monotonic()
    with pytest.raises(ProgramError, match=r"went over 1\.5 s and was ended") as caught:
        run(stand_in("hangs"), time_limit_s=1.5)
    assert time.monotonic() - begun_s < 6
    said = re.search(r'last words were "waiting for (\d+)"', str(caught.value))
    assert said is not None
    assert ended(int(said[1]))


@posix_only
def test_a_child_left_behind_does_not_keep_us_waiting_for_ever() -> None:
    begun_s = time.monotonic()
    assert run(stand_in("leaves_a_child_behind"), time_limit_s=1).exit_code == 0
    assert time.monotonic() - begun_s < 8


def test_of_a_flood_only_the_end_is_kept() -> None:
    finished = run(stand_in("floods_stderr"), time_limit_s=60)
    assert finished.stdout.split() == [b"done"]
    assert finished.last_words.splitlines() == [f"error in frame {n}" for n in range(4980, 5000)]


def test_last_words_stay_under_64000_characters_whatever_a_program_says() -> None:
    finished = run(python_program("import sys; sys.stderr.write('y' * 3_000_000)"), time_limit_s=60)
    assert 0 < len(finished.last_words) <= 64_000


@pytest.mark.parametrize("name", ["no_such_program", "no/such/folder/program"])
def test_a_missing_program_is_one_sentence(name: str) -> None:
    with pytest.raises(ProgramError, match=rf"^there is no program {re.escape(name)}$"):
        run([name, "-version"], time_limit_s=5)


@posix_only
def test_a_file_that_is_no_program_is_one_sentence(tmp_path: Path) -> None:
    tmp_path.joinpath("notes.txt").write_text("not a program")
    with pytest.raises(ProgramError, match=r"notes\.txt cannot be started \(Permission denied\)$"):
        run([tmp_path / "notes.txt"], time_limit_s=5)


def test_a_name_with_a_zero_byte_is_one_sentence() -> None:
    with pytest.raises(ProgramError, match=r"cannot be started \(embedded null byte\)"):
        run(["program\0"], time_limit_s=5)


def test_variables_that_make_ffmpeg_write_files_do_not_reach_it(monkeypatch: pytest.MonkeyPatch) -> None:
    for name in ("FFREPORT", "AV_LOG_FORCE_COLOR", "MEDIACHECK_OTHER"):
        monkeypatch.setenv(name, "set")
    names = "FFREPORT AV_LOG_FORCE_COLOR MEDIACHECK_OTHER"
    source = f"import os; print([n for n in '{names}'.split() if n in os.environ])"
    assert run(python_program(source), time_limit_s=30).stdout.split() == [b"['MEDIACHECK_OTHER']"]


def test_only_windows_needs_a_flag_against_console_windows() -> None:
    flags = {platform: programs.window_flags(platform) for platform in ("win32", "darwin", "linux")}
    assert flags == {"win32": 0x08000000, "darwin": 0, "linux": 0}


# start


def test_output_is_read_as_it_comes_and_complaints_are_heard_meanwhile() -> None:
    source = (
        "import sys\nfor n in range(3):\n"
        "    print('frame', n, file=sys.stderr, end='\\r', flush=True)\n"
        "    sys.stdout.write(str(n)); sys.stdout.flush(); sys.stdin.read(1)"
    )
    heard: list[str] = []
    with start(python_program(source), time_limit_s=30, on_line=heard.append) as running:
        assert [running.stdout.read(1) for _ in range(3)] == [b"0", b"1", b"2"]
        assert running.stdout.read() == b""
        assert running.wait() == 0
        assert running.last_words == "frame 0\nframe 1\nframe 2"
    assert heard == ["frame 0", "frame 1", "frame 2"]


def test_leaving_early_ends_the_program() -> None:
    with start(stand_in("hangs"), time_limit_s=30) as running:
        pid = running.pid
    assert ended(pid)


@pytest.mark.parametrize("error", [ValueError("mine"), KeyboardInterrupt()])
def test_an_exception_ends_the_program_and_its_child_and_goes_on(error: BaseException) -> None:
    heard: list[str] = []

    def read_then_fail() -> None:
        with start(stand_in("hangs"), time_limit_s=30, on_line=heard.append):
            deadline_s = time.monotonic() + 20
            while not heard and time.monotonic() < deadline_s:
                time.sleep(0.01)
            raise error

    with pytest.raises(type(error)) as caught:
        read_then_fail()
    assert caught.value is error
    assert ended(int(heard[0].split()[-1]))


def test_a_reader_cut_short_by_the_time_limit_is_told_so() -> None:
    def read_a_frame() -> None:
        with start(stand_in("hangs"), time_limit_s=0.5) as running:
            if len(running.stdout.read(100)) < 100:
                raise ValueError("half a frame")

    with pytest.raises(ProgramError, match=r"went over 0\.5 s"):
        read_a_frame()


def test_a_reader_that_does_not_ask_is_told_of_the_time_limit_all_the_same() -> None:
    def read_what_there_is() -> bytes:
        with start(stand_in("hangs"), time_limit_s=0.5) as running:
            return running.stdout.read()

    with pytest.raises(ProgramError, match=r"went over 0\.5 s"):
        read_what_there_is()


def test_a_mistake_in_the_listener_comes_out_and_does_not_block_the_program() -> None:
    def listen(line: str) -> None:
        raise LookupError(line)

    def run_it() -> None:
        with start(stand_in("floods_stderr"), time_limit_s=60, on_line=listen) as running:
            assert running.stdout.read().split() == [b"done"]

    with pytest.raises(LookupError, match=r"^'?x+'?$"):
        run_it()


# find_ffmpeg


def no_wheel() -> None:
    return None


BANNERS = {
    "ffmpeg version 5.1.9-0+deb12u1 Copyright (c) 2000-2026": ("5.1.9-0+deb12u1", True),
    "ffmpeg version 5.0.3 Copyright": ("5.0.3", False),
    "ffmpeg version 4.4.2-0ubuntu0.22.04.1 Copyright": ("4.4.2-0ubuntu0.22.04.1", False),
    "ffmpeg version 10.0 Copyright": ("10.0", True),
    "ffmpeg version 7.1-essentials_build-www.example.org Copyright": (
        "7.1-essentials_build-www.example.org",
        True,
    ),
    "ffmpeg version n9.0.2-17-g2a571b6068-20260930 Copyright": ("n9.0.2-17-g2a571b6068-20260930", True),
    "ffmpeg version n4.3-dev-1-gabc Copyright": ("n4.3-dev-1-gabc", False),
    "ffmpeg version N-12345-gabcdef Copyright\nlibavutil      57. 28.100 / 57. 28.100": (
        "N-12345-gabcdef",
        True,
    ),
    "ffmpeg version N-12345-gabcdef Copyright\nlibavutil      57. 27.100 / 57. 27.100": (
        "N-12345-gabcdef",
        False,
    ),
    "ffmpeg version 2024-01-01-git-e1c1dc8347-full Copyright\nlibavutil      58. 36.100 / 58. 36.100": (
        "2024-01-01-git-e1c1dc8347-full",
        True,
    ),
    "ffmpeg version 2019-01-01-git-e1c1dc8347 Copyright\nlibavutil      56. 24.101 / 56. 24.101": (
        "2019-01-01-git-e1c1dc8347",
        False,
    ),
    "ffmpeg version N-12345-gabcdef Copyright": ("N-12345-gabcdef", False),
    "avconv version 12": (None, False),
    "": (None, False),
}


@pytest.mark.parametrize(("banner", "wanted"), BANNERS.items())
def test_versions_are_read_from_every_kind_of_build(banner: str, wanted: tuple[str | None, bool]) -> None:
    assert (programs.ffmpeg_version(banner), programs.ffmpeg_new_enough(banner)) == wanted


def test_the_one_on_path_is_taken_if_new_enough(installed: Callable[[str], Path]) -> None:
    path = installed("prints_new_version")
    assert find_ffmpeg(lambda _: str(path), no_wheel) == Program(path, "6.0", "PATH")


@pytest.mark.parametrize(
    "broken",
    [
        "prints_old_version",
        "hangs",
        "exits_nonzero",
        "prints_garbage",
        pytest.param("dies_by_signal", marks=posix_only),
    ],
)
def test_one_that_is_of_no_use_gives_way_to_the_wheels(installed: Callable[[str], Path], broken: str) -> None:
    bad, good = installed(broken), installed("prints_new_version")
    limit_s = 1.0 if broken == "hangs" else 30.0
    found = find_ffmpeg(lambda _: str(bad), lambda: good, limit_s)
    assert found == Program(good, "6.0", "imageio-ffmpeg wheel")


@pytest.mark.parametrize("nowhere", [None, "ffmpeg.exe", "./ffmpeg"])
def test_one_in_the_current_folder_does_not_count_as_on_path(
    installed: Callable[[str], Path], nowhere: str | None
) -> None:
    good = installed("prints_new_version")
    assert find_ffmpeg(lambda _: nowhere, lambda: good).origin == "imageio-ffmpeg wheel"


def test_with_neither_of_use_both_reasons_are_one_sentence(installed: Callable[[str], Path]) -> None:
    old = installed("prints_old_version")
    with pytest.raises(ProgramError) as caught:
        find_ffmpeg(lambda _: str(old), no_wheel)
    assert str(caught.value) == (
        f"no ffmpeg of use was found: on PATH, {old} is version 4.4.2-0ubuntu0.22.04.1, and 5.1 or newer is"
        " needed; in the imageio-ffmpeg wheel, there is none for this machine"
    )


def test_the_answer_is_asked_for_once(installed: Callable[[str], Path]) -> None:
    asked: list[str] = []
    path = str(installed("prints_new_version"))

    def lookup(name: str) -> str:
        asked.append(name)
        return path

    assert find_ffmpeg(lookup, no_wheel) is find_ffmpeg(lookup, no_wheel)
    assert asked == ["ffmpeg"]


def test_the_wheel_alone_is_enough() -> None:
    found = find_ffmpeg(lambda _: None)
    assert found.origin == "imageio-ffmpeg wheel"
    assert found.path.is_absolute()
    assert run([found.path, "-version"], time_limit_s=30).checked().stdout.startswith(b"ffmpeg version ")


def test_this_machine_has_a_usable_ffmpeg() -> None:
    found = find_ffmpeg()
    on_path = shutil.which("ffmpeg")
    assert found.path.is_file()
    assert found.origin == "imageio-ffmpeg wheel" or found.path == Path(on_path or "")


@pytest.mark.skipif(sys.platform != "linux", reason="a pipe's size can be asked for on Linux")
def test_a_program_can_write_a_megabyte_ahead_of_its_reader() -> None:
    import fcntl

    with start(python_program("print('x' * 1_000_000)"), time_limit_s=10) as running:
        assert fcntl.fcntl(running.stdout, fcntl.F_GETPIPE_SZ) == PIPE_BYTES
        assert running.wait() == 0, "it has ended before anything is read"
        assert len(running.stdout.read()) == 1_000_001


@pytest.mark.skipif(sys.platform != "linux", reason="a pipe's size can be asked for on Linux")
def test_where_a_wider_pipe_is_refused_the_usual_one_serves(monkeypatch: pytest.MonkeyPatch) -> None:
    def refuses(*arguments: object) -> int:
        raise PermissionError("too many pages are in use")

    monkeypatch.setattr("fcntl.fcntl", refuses)
    assert run(python_program("print('x' * 200_000)"), time_limit_s=10).stdout == b"x" * 200_000 + b"\n"


def test_who_asks_for_ffmpeg_while_it_is_looked_for_waits_for_that_answer(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    asked: list[str] = []

    def slowly(path: Path, origin: programs.Origin, time_limit_s: float) -> Program:
        asked.append(str(path))
        time.sleep(0.3)
        return Program(path, "7.1", origin)

    monkeypatch.setattr(programs, "_asked", slowly)
    programs._found.cache_clear()
    try:
        ask_for_ffmpeg()
        assert find_ffmpeg().version == "7.1"
        assert len(asked) == 1
    finally:
        programs._found.cache_clear()


ASKS_AND_ENDS = """
import sys, time
from pathlib import Path
from mediacheck.programs import ask_for_ffmpeg
ask_for_ffmpeg()
while not Path(sys.argv[1]).is_file():
    time.sleep(0.01)
"""


@posix_only
def test_an_ffmpeg_that_is_being_asked_does_not_outlive_us(tmp_path: Path) -> None:
    """Where the command line was wrong, nobody waits for its answer, and its clock ends with us."""
    pid_file, program = tmp_path / "pid", tmp_path / "ffmpeg"
    program.write_text(f"#!/bin/sh\necho $$ > {pid_file}.new\nmv {pid_file}.new {pid_file}\nexec sleep 60\n")
    program.chmod(0o755)
    environment = {**os.environ, "PATH": f"{tmp_path}{os.pathsep}{os.environ['PATH']}"}
    begun_s = time.monotonic()
    subprocess.run(python_program(ASKS_AND_ENDS, str(pid_file)), env=environment, check=True, timeout=30)
    assert time.monotonic() - begun_s < 8, "its time limit is not waited for"
    assert ended(int(pid_file.read_text()), 1)


def test_where_none_is_of_use_they_are_asked_once(installed: Callable[[str], Path]) -> None:
    """One that hangs takes ten seconds to say so."""
    hangs = installed("hangs")
    asked: list[str] = []

    def lookup(name: str) -> str:
        asked.append(name)
        return str(hangs)

    for _ in range(2):
        with pytest.raises(ProgramError, match=r"on PATH, .* went over 0\.5 s"):
            find_ffmpeg(lookup, no_wheel, 0.5)
    assert asked == ["ffmpeg"]
