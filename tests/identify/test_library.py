"""A library is made of folders, cards and files, once; it can be carried about, and damage in it is told."""

from __future__ import annotations

import json
import os
import shutil
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from mediacheck.errors import LibraryError
from mediacheck.identify.features import Points
from mediacheck.identify.index import ItemIndex
from mediacheck.identify.indexing import Indexed, index_folder
from mediacheck.identify.library import LIST, open_library
from mediacheck.identify.packing import packed, unpacked
from mediacheck.identify.retrieve import worded
from tests.identify.made import OFFERS, SAMPLES, SEEDS, WATER, item


def indexed(loops: Path, place: Path) -> Indexed:
    with ThreadPoolExecutor(2) as pool:
        return index_folder(loops, open_library(place, create=True), pool)


@pytest.fixture
def loops(tmp_path: Path) -> Path:
    """A folder with a loop of two items, one of one, a file by itself, and what is no loop."""
    folder = tmp_path / "loops"
    (folder / "aisle").mkdir(parents=True)
    (folder / "empty").mkdir()
    shutil.copy(SAMPLES / WATER, folder / "aisle/01.mp4")
    shutil.copy(SAMPLES / "watering.png", folder / "aisle/02.png")
    shutil.copy(SAMPLES / SEEDS, folder / "window.mp4")
    (folder / "notes.txt").write_text("Plant in spring.")
    return folder


def test_folders_and_files_become_loops(loops: Path, tmp_path: Path) -> None:
    found = indexed(loops, tmp_path / "library")
    assert (found.read, found.unchanged, found.refused) == (3, 0, ())
    library = open_library(tmp_path / "library")
    assert [(loop.name, [one.path for one in loop.items]) for loop in library.loops] == [
        ("aisle", ["01.mp4", "02.png"]),
        ("window", ["window.mp4"]),
    ]
    (entry, _) = library.entries(library.loops)
    assert [round(one.seconds) for one in entry.items] == [3, 0]


def test_one_file_becomes_a_loop(loops: Path, tmp_path: Path) -> None:
    found = indexed(loops / "window.mp4", tmp_path / "library")
    assert [(loop.name, len(loop.items)) for loop in found.library.loops] == [("window", 1)]


def test_what_has_not_changed_is_not_read_again(loops: Path, tmp_path: Path) -> None:
    indexed(loops, tmp_path / "library")
    again = indexed(loops, tmp_path / "library")
    assert (again.read, again.unchanged) == (0, 3)
    shutil.copy(SAMPLES / OFFERS, loops / "window.mp4")
    later = indexed(loops, tmp_path / "library")
    assert (later.read, later.unchanged) == (1, 2)
    os.utime(loops / "aisle/01.mp4", (1, 1))
    touched = indexed(loops, tmp_path / "library")
    assert touched.read == 1
    assert [len(loop.items) for loop in touched.library.loops] == [2, 1]


def test_a_library_can_be_carried_about(loops: Path, tmp_path: Path) -> None:
    indexed(loops, tmp_path / "library")
    (tmp_path / "library").rename(tmp_path / "elsewhere")
    shutil.rmtree(loops)
    library = open_library(tmp_path / "elsewhere")
    assert library.entries(library.loops)[0].items[0].keyframes
    assert str(tmp_path) not in (tmp_path / "elsewhere" / LIST).read_text("utf-8")


def test_what_cannot_be_read_is_told_and_the_rest_is_taken(loops: Path, tmp_path: Path) -> None:
    (loops / "broken.mp4").write_bytes(b"no film at all" * 99)
    found = indexed(loops, tmp_path / "library")
    assert [name for name, _ in found.refused] == ["broken.mp4"]
    assert len(found.library.loops) == 2


def same(one: ItemIndex, other: ItemIndex) -> bool:
    pairs = zip(one.keyframes, other.keyframes, strict=True)
    return np.array_equal(one.trace.pictures, other.trace.pictures) and all(
        np.array_equal(a.points.descriptors, b.points.descriptors)
        and np.allclose(a.points.places, b.points.places, atol=0.02)
        and float(np.abs(a.small.astype(int) - b.small.astype(int)).mean()) < 8
        and (a.second, a.until_s, a.size_px) == (b.second, b.until_s, b.size_px)
        for a, b in pairs
    )


@pytest.mark.parametrize("name", [WATER, SEEDS])
def test_an_item_comes_back_as_it_was_packed(name: str) -> None:
    content = packed(item(name))
    assert same(unpacked(content, "it"), item(name))
    assert packed(item(name)) == content, "the same item gives the same bytes"


def kept_of(pictures: list[Points]) -> list[tuple[list[int], list[int]]]:
    """Words and signatures."""
    found = []
    for points in pictures:
        assert points.words is not None
        assert points.signatures is not None
        found.append((points.words.tolist(), points.signatures.tolist()))
    return found


def test_words_are_kept_and_those_of_other_vocabularies_are_looked_up_anew(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    content = packed(item(WATER))
    mine = [frame.points for frame in item(WATER).keyframes]
    there = [frame.points for frame in unpacked(content, "it").keyframes]
    assert kept_of(there) == kept_of(mine)
    monkeypatch.setattr("mediacheck.identify.packing.vocabulary_mark", lambda: b"another")
    later = [frame.points for frame in unpacked(content, "it").keyframes]
    assert all(points.words is None and points.signatures is None for points in later)
    assert kept_of([worded(points) for points in later]) == kept_of(mine)


def test_a_word_that_is_none_is_damage() -> None:
    frames = [
        replace(frame, points=replace(frame.points, words=np.full(len(frame.points), 60_000, np.uint16)))
        for frame in item(WATER).keyframes
    ]
    with pytest.raises(LibraryError, match="damaged"):
        unpacked(packed(replace(item(WATER), keyframes=tuple(frames))), "it")


def test_damage_is_told_in_one_sentence() -> None:
    content = packed(item(WATER))
    for spoiled in (b"", b"PK", content[:500], content[:-200], b"\0" * 5000):
        with pytest.raises(LibraryError) as refused:
            unpacked(spoiled, "it")
        assert "\n" not in str(refused.value)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (None, "holds no library"),
        ("{", "it is no JSON"),
        ("[]", "does not say of itself"),
        (json.dumps({"schema": "mediacheck/library/1"}), "missing or wrong"),
        (
            json.dumps({"schema": "mediacheck/library/1", "seen": {}, "loops": [{"name": "a"}]}),
            "missing or wrong",
        ),
        (
            json.dumps(
                {
                    "schema": "mediacheck/library/1",
                    "seen": {},
                    "loops": [{"name": "a", "items": [{"path": "a", "sha256": "../../x", "seconds": 1}]}],
                }
            ),
            "missing or wrong",
        ),
    ],
)
def test_a_list_that_cannot_be_used_is_told(text: str | None, words: str, tmp_path: Path) -> None:
    if text is not None:
        (tmp_path / LIST).write_text(text)
    with pytest.raises(LibraryError) as refused:
        open_library(tmp_path)
    assert words in str(refused.value)
