"""Lists of checksums: what we write sha256sum takes, what it writes we take, and the other way round."""

from __future__ import annotations

import os
import shutil
import subprocess
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mediacheck.errors import ManifestError
from mediacheck.manifest.sums import sums_of, sums_text
from tests.manifest.make import paths, sha256, sha256s

lists = st.dictionaries(paths, sha256s, min_size=1, max_size=4)
needs_sha256sum = pytest.mark.skipif(not shutil.which("sha256sum"), reason="sha256sum is not installed")

CONTENTS = {
    "1 Watering can.mp4": b"water",
    "Spring/Märzenbecher 🌷.mp4": b"seeds",
    "back\\slash.txt": b"b",
    "new\nline.txt": b"n",
    "carriage\rreturn.txt": b"c",
    "return at the end\r": b"e",
    "all\\n \r\n of \\\\ them": b"a",
    " *leading and trailing ": b"",
    "#hash": b"h",
    "SHA256 (x) = y": b"s",
}
PAIRS = tuple((path, sha256(content)) for path, content in CONTENTS.items())


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A folder with all of these in it."""
    for path, content in CONTENTS.items():
        (tmp_path / path).parent.mkdir(exist_ok=True)
        (tmp_path / path).write_bytes(content)
    return tmp_path


@given(lists)
def test_any_list_comes_back_as_it_was(made: dict[str, str]) -> None:
    pairs = tuple(made.items())
    assert sums_of(sums_text(pairs).encode(), "card.sha256") == pairs


def test_the_lines_are_those_of_the_standard() -> None:
    digest = sha256(b"")
    assert sums_text([("a b.mp4", digest)]) == f"{digest}  a b.mp4\n"
    assert sums_text([("new\nline.txt", digest)]) == f"\\{digest}  new\\nline.txt\n"
    assert sums_text([("back\\slash.txt", digest)]) == f"\\{digest}  back\\\\slash.txt\n"
    assert sums_text([("cr\rfile", digest)]) == f"\\{digest}  cr\\rfile\n"


@needs_sha256sum
def test_sha256sum_finds_every_file_right_by_our_list(folder: Path) -> None:
    command = ["sha256sum", "-c", "--strict", "--quiet", "-"]
    text = sums_text(PAIRS).encode()
    assert subprocess.run(command, cwd=folder, input=text, check=False).returncode == 0
    (folder / "#hash").write_bytes(b"H")
    assert subprocess.run(command, cwd=folder, input=text, capture_output=True, check=False).returncode == 1


@needs_sha256sum
@pytest.mark.parametrize("options", [[], ["--binary"], ["--tag"], ["--zero"], ["--zero", "--tag"]])
def test_every_form_that_sha256sum_writes_is_read(folder: Path, options: list[str]) -> None:
    made = subprocess.run(
        ["sha256sum", *options, "--", *CONTENTS], cwd=folder, capture_output=True, check=True
    )
    assert sums_of(made.stdout, "card.sha256") == PAIRS


@needs_sha256sum
def test_names_that_find_gave_lose_what_it_puts_before_them(folder: Path) -> None:
    made = subprocess.run(
        ["find", ".", "-type", "f", "-exec", "sha256sum", "{}", ";"],
        cwd=folder,
        capture_output=True,
        check=True,
    )
    assert sorted(sums_of(made.stdout, "card.sha256")) == sorted(PAIRS)


@needs_sha256sum
def test_a_name_that_is_not_unicode_is_written_as_the_card_shows_it(tmp_path: Path) -> None:
    if os.name == "nt":
        pytest.skip("Windows has no such names")
    (tmp_path / os.fsdecode(b"fu\xdf.mp4")).write_bytes(b"x")
    made = subprocess.run("sha256sum *.mp4", shell=True, cwd=tmp_path, capture_output=True, check=True)
    assert sums_of(made.stdout, "card.sha256") == (("fu\\xdf.mp4", sha256(b"x")),)


def test_capitals_windows_line_ends_comments_and_empty_lines_are_taken() -> None:
    text = f"\ufeff# made by hand\r\n\r\n  {sha256(b'').upper()} *a.mp4\r\n"
    assert sums_of(text.encode(), "card.sha256") == (("a.mp4", sha256(b"")),)


LINE = f"{sha256(b'')}  "


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("", "card.sha256 is no manifest and no list of SHA-256: there is nothing in it"),
        ("# nothing\n", "card.sha256 is no manifest and no list of SHA-256: there is nothing in it"),
        (f"{LINE}a\nwater\n", "card.sha256 is no manifest and no list of SHA-256: see line 2"),
        (LINE[1:] + "a\n", "card.sha256 is no manifest and no list of SHA-256: see line 1"),
        (f"{LINE}a\n{LINE}a\n", "card.sha256 cannot be used: line 2 names 'a', but it stands there twice"),
        (f"{LINE}-\n", "card.sha256 cannot be used: line 1 tells no file's name"),
        (f"{'0' * 32}  a\n", "card.sha256 is a list of MD5, and SHA-256 is needed"),
        (f"{'0' * 40} *a\r\n", "card.sha256 is a list of SHA-1, and SHA-256 is needed"),
        (f"SHA512 (a) = {'0' * 128}\n", "card.sha256 is a list of SHA-512, and SHA-256 is needed"),
        (f"{'0' * 33}  a\n", "card.sha256 is no manifest and no list of SHA-256: see line 1"),
        (
            f"{LINE}\x1b[2J/../a\n",
            r"card.sha256 cannot be used: line 1 names '\x1b[2J/../a', but it leads out of the card",
        ),
        (
            f"{LINE}/etc/a\n",
            "card.sha256 cannot be used: line 1 names '/etc/a', but it is not relative to the card's root",
        ),
        (
            f"{LINE}a/../../b\n",
            "card.sha256 cannot be used: line 1 names 'a/../../b', but it leads out of the card",
        ),
    ],
)
def test_a_fault_is_told_with_its_line(text: str, told: str) -> None:
    with pytest.raises(ManifestError) as caught:
        sums_of(text.encode(), "card.sha256")
    assert str(caught.value) == told


def test_a_file_named_like_a_pipe_is_told_apart_from_one() -> None:
    assert sums_text([("-", sha256(b""))]) == f"{LINE}./-\n"
    assert sums_of(f"{LINE}./-\n".encode(), "card.sha256") == (("-", sha256(b"")),)


def test_what_to_do_about_a_list_made_elsewhere_is_told() -> None:
    with pytest.raises(ManifestError) as caught:
        sums_of(f"{LINE}/media/card/a.mp4\n".encode(), "card.sha256")
    assert caught.value.advice == (
        "Make the list with `sha256sum` in the folder of the files, of their names as they are there."
    )


@given(st.binary(max_size=200))
def test_any_bytes_end_in_a_list_or_in_our_own_error(content: bytes) -> None:
    try:
        pairs = sums_of(content, "card.sha256")
    except ManifestError:
        return
    assert pairs
