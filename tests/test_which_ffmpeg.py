"""Which ffmpeg is used: the one on PATH if it is of use, else the wheel's; asked once, never left behind."""

from __future__ import annotations

import os
import shutil
import subprocess
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from mediacheck import programs, which_ffmpeg
from mediacheck.errors import ProgramError
from mediacheck.which_ffmpeg import Program, ask_ahead, ask_for_ffmpeg, find_ffmpeg
from tests.outside_programs import ended, posix_only, python_program, stand_in


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
    assert (which_ffmpeg.ffmpeg_version(banner), which_ffmpeg.ffmpeg_new_enough(banner)) == wanted


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
    assert (
        programs.run([found.path, "-version"], time_limit_s=30)
        .checked()
        .stdout.startswith(b"ffmpeg version ")
    )


def test_this_machine_has_a_usable_ffmpeg() -> None:
    found = find_ffmpeg()
    on_path = shutil.which("ffmpeg")
    assert found.path.is_file()
    assert found.origin == "imageio-ffmpeg wheel" or found.path == Path(on_path or "")


def test_who_asks_for_ffmpeg_while_it_is_looked_for_waits_for_that_answer(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    asked: list[str] = []

    def slowly(path: Path, origin: which_ffmpeg.Origin, time_limit_s: float) -> Program:
        asked.append(str(path))
        time.sleep(0.3)
        return Program(path, "7.1", origin)

    monkeypatch.setattr(which_ffmpeg, "_asked", slowly)
    which_ffmpeg._found.cache_clear()
    try:
        ask_for_ffmpeg()
        assert find_ffmpeg().version == "7.1"
        assert len(asked) == 1
    finally:
        which_ffmpeg._found.cache_clear()


ASKS_AND_ENDS = """
import sys, time
from pathlib import Path
from mediacheck.which_ffmpeg import ask_for_ffmpeg
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


ASKS_AHEAD = """
from mediacheck.which_ffmpeg import ask_ahead, find_ffmpeg
ask_ahead()
print(find_ffmpeg().version)
"""


@posix_only
@pytest.mark.parametrize(("said", "told"), [("ffmpeg version 6.1 Copyright", "6.1"), ("no ffmpeg", None)])
def test_who_has_begun_to_answer_is_not_asked_again(
    said: str, told: str | None, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    program, asked = tmp_path / "ffmpeg", tmp_path / "asked"
    program.write_text(f'#!/bin/sh\necho x >> {asked}\necho "{said}"\n')
    program.chmod(0o755)
    monkeypatch.setenv("PATH", f"{tmp_path}{os.pathsep}{os.environ['PATH']}")
    found = programs.run(python_program(ASKS_AHEAD), time_limit_s=30).checked().stdout
    assert asked.read_text() == "x\n"
    assert found.decode().strip() == (told or find_ffmpeg(lambda _: None).version)


def test_without_one_on_path_nothing_begins(monkeypatch: pytest.MonkeyPatch) -> None:
    before = dict(programs._LAUNCHED)
    monkeypatch.setattr("shutil.which", lambda _: None)
    ask_ahead()
    assert before == programs._LAUNCHED
