"""Files that go on a card, read once more, and what is said where that does not work."""

from __future__ import annotations

import hashlib
from dataclasses import replace
from pathlib import Path

import pytest

from mediacheck.build.source import fill_view, hashed, opened
from mediacheck.errors import CardError
from tests.build import made


def test_a_file_whose_inspection_did_not_end_well_is_hashed(tmp_path: Path) -> None:
    whole = made.surveyed(made.folder_of(tmp_path)).files[0]
    assert hashed(replace(whole, sha256=None)) == whole
    assert hashed(replace(whole, sha256="known")).sha256 == "known"


def test_a_file_that_is_gone_is_named(tmp_path: Path) -> None:
    gone = replace(made.surveyed(made.folder_of(tmp_path)).files[0], sha256=None)
    (tmp_path / gone.entry.path).unlink()
    with pytest.raises(CardError, match=r"^01 Seeds\.mp4 cannot be read any more \(No such file") as caught:
        hashed(gone)
    assert caught.value.advice == "See whether the disk that holds it is still there."


def test_a_file_that_is_shorter_than_it_was_is_named(tmp_path: Path) -> None:
    file = made.surveyed(made.folder_of(tmp_path)).files[0]
    room = memoryview(bytearray(20_000))
    with opened(file) as source:
        assert fill_view(source, room, file, least=12_000) == 12_000
        assert hashlib.sha256(room[:12_000]).hexdigest() == file.sha256
        source.seek(0)
        with pytest.raises(CardError, match=r"^01 Seeds\.mp4 was changed while the card was built"):
            fill_view(source, room, file)
        source.seek(0)
        with pytest.raises(CardError, match="was changed"):
            fill_view(source, room, file, least=12_001)
