"""Outside programs: each way of failing is one sentence, within the time limit, with nothing left running."""

from __future__ import annotations

import re
import sys
import time
from pathlib import Path

import pytest

from mediacheck import programs
from mediacheck.errors import ProgramError
from mediacheck.programs import PIPE_BYTES, Finished, launch, run, start
from tests.outside_programs import ended, posix_only, python_program, stand_in

ECHO = (sys.executable, "-c", "import sys; sys.stdout.buffer.write(sys.stdin.buffer.read())")


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


COUNTS = "import os, sys; open(sys.argv[1], 'a').write('x'); print(os.getpid())"


def test_a_program_launched_ahead_is_the_one_that_runs_then_and_once(tmp_path: Path) -> None:
    counted = tmp_path / "counted"
    command = python_program(COUNTS, str(counted))
    launch(command)
    launch(command)
    first = run(command, time_limit_s=10).checked().stdout
    assert counted.read_text() == "x"
    assert run(command, time_limit_s=10).stdout != first
    assert counted.read_text() == "xx"


def test_a_program_launched_ahead_is_under_the_time_limit_of_who_asks_for_it() -> None:
    launch(stand_in("hangs"))
    with pytest.raises(ProgramError, match=r"went over 0\.5 s"):
        run(stand_in("hangs"), time_limit_s=0.5)


def test_what_is_given_to_a_program_goes_to_one_that_reads() -> None:
    """One that was launched ahead has no input."""
    launch(ECHO)
    assert run(ECHO, time_limit_s=10, input=b"given").stdout == b"given"
    assert run(ECHO, time_limit_s=10).stdout == b"", "the launched one"


def test_a_program_that_is_not_there_cannot_be_launched() -> None:
    with pytest.raises(ProgramError, match="there is no program nowhere"):
        launch(["nowhere"])


LEAVES = """
import sys, time
from pathlib import Path
from mediacheck.programs import launch
launch((sys.executable, "-c", sys.argv[1], *sys.argv[2:]))
while not Path(sys.argv[2]).is_file():
    time.sleep(0.01)
"""
HAS_A_CHILD = """
import os, subprocess, sys
child = subprocess.Popen([sys.executable, "-c", "import time; time.sleep(60)"])
with open(sys.argv[1] + ".new", "w") as file:
    file.write(f"{os.getpid()} {child.pid}")
os.rename(sys.argv[1] + ".new", sys.argv[1])
child.wait()
"""


def test_a_program_that_nobody_asks_for_does_not_outlive_us_nor_does_its_child(tmp_path: Path) -> None:
    pids = tmp_path / "pids"
    run(python_program(LEAVES, HAS_A_CHILD, str(pids)), time_limit_s=30).checked()
    assert [ended(int(pid), 2) for pid in pids.read_text().split()] == [True, True]


COPIES = """
import os, sys
from mediacheck.programs import launch, run
command = (sys.executable, "-c", "import os; print(os.getpid())")
launch(command)
copy = os.fork()
print(run(command, time_limit_s=10).checked().stdout.decode().strip(), flush=True)
if copy:
    os.waitpid(copy, 0)
else:
    os._exit(0)
"""


@posix_only
def test_a_copy_of_this_process_does_not_take_what_this_one_has_launched() -> None:
    said = run(python_program(COPIES), time_limit_s=30).checked().stdout.split()
    assert len(said) == len(set(said)) == 2
