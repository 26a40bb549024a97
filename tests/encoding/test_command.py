"""A line is the same in POSIX shells and in Windows' cmd: nothing in it means anything else there."""

from __future__ import annotations

import shlex
import subprocess
import sys

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mediacheck.encoding.command import TREACHEROUS, typed

SAFE = st.text(st.characters(min_codepoint=32, max_codepoint=126, exclude_characters="\"'`$!%^"), min_size=1)


@given(st.lists(SAFE.filter(lambda text: not text.endswith("\\") and "\\\\" not in text), max_size=5))
def test_what_is_typed_comes_out_again(arguments: list[str]) -> None:
    assert shlex.split(typed(arguments)) == ["ffmpeg", *arguments]


def test_a_shell_hands_over_the_very_arguments() -> None:
    arguments = [
        "-map",
        "0:a:0?",
        "-vf",
        "scale=w=min(1920\\,2*round(1080*dar/2)):h=-2,pad=2:2",
        "~/*[a]{b}#&|;<>",
    ]
    line = typed(["-c", "import sys; print(sys.argv[1:])", *arguments], program=shlex.quote(sys.executable))
    done = subprocess.run(["sh", "-c", line], capture_output=True, text=True, check=True, timeout=30)
    assert done.stdout.strip() == str(arguments)


@pytest.mark.parametrize("bad", [*sorted(TREACHEROUS), "a\\", "\\\\a"])
def test_what_no_quoting_makes_safe_is_refused(bad: str) -> None:
    with pytest.raises(ValueError, match="no quoting"):
        typed([f"a {bad}"])
