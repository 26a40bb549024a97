"""A library is made of folders, cards and files, once; it can be carried about, and damage in it is told."""

from __future__ import annotations

import io
import json
import os
import shutil
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from mediacheck.errors import CardError, LibraryError, OutputError
from mediacheck.identify import indexing
from mediacheck.identify.features import Points
from mediacheck.identify.index import ItemIndex
from mediacheck.identify.indexing import Indexed, index_folder
from mediacheck.identify.library import LIST, open_library
from mediacheck.identify.packing import packed, unpacked
from mediacheck.identify.retrieve import worded
from mediacheck.manifest.model import ManifestFile
from mediacheck.manifest.record import manifest_text
from mediacheck.output import claim
from tests.identify.made import OFFERS, SAMPLES, SEEDS, WATER, item
from tests.manifest.make import MANIFEST


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


def test_the_manifest_beside_a_loop_says_in_which_order_it_plays(loops: Path, tmp_path: Path) -> None:
    files = tuple(ManifestFile(name, 1, "a" * 64, "other") for name in ("02.png", "01.mp4"))
    made = replace(MANIFEST, files=files, play_order=("02.png", "01.mp4"), folders=(), left_out=())
    (loops / "aisle.manifest.json").write_text(manifest_text(made), "utf-8")
    library = indexed(loops, tmp_path / "library").library
    assert [one.path for one in library.loops[0].items] == ["02.png", "01.mp4"]
    alone = indexed(loops / "aisle.manifest.json", tmp_path / "other").library
    assert alone.loops == library.loops[:1]
    (loops / "aisle").rename(tmp_path / "elsewhere")
    with pytest.raises(CardError, match="its card aisle is not beside it"):
        indexed(loops / "aisle.manifest.json", tmp_path / "third")


def test_a_picture_is_kept_at_least_every_two_seconds_and_none_too_close() -> None:
    seconds = [frame.second for frame in item(WATER).keyframes]
    between = [after - before for before, after in pairwise(seconds)]
    assert seconds[0] == 0
    assert between
    assert all(0.5 <= gap <= 2.25 for gap in between)


def names(found: Indexed) -> list[str]:
    return [loop.name for loop in found.library.loops]


def test_of_two_loops_of_one_name_the_second_is_refused(loops: Path, tmp_path: Path) -> None:
    shutil.copy(SAMPLES / OFFERS, loops / "Aisle.mp4")
    found = indexed(loops, tmp_path / "library")
    assert (names(found), [name for name, _ in found.refused]) == (["Aisle", "window"], ["aisle"])


def test_a_loop_that_is_no_longer_there_stays_and_is_told(loops: Path, tmp_path: Path) -> None:
    assert indexed(loops, tmp_path / "library").elsewhere == ()
    (loops / "aisle").rename(loops / "shelf")
    found = indexed(loops, tmp_path / "library")
    assert (names(found), found.elsewhere) == (["aisle", "shelf", "window"], ("aisle",))


def test_a_loop_of_which_a_file_cannot_be_taken_is_left_out(loops: Path, tmp_path: Path) -> None:
    """Also where it was there before: what is kept of it is out of date."""
    indexed(loops, tmp_path / "library")
    (loops / "aisle/03.mp4").write_bytes(b"no film at all" * 99)
    for _ in range(2):
        found = indexed(loops, tmp_path / "library")
        assert names(found) == ["window"]
        assert [name for name, _ in found.refused] == ["aisle/03.mp4", "aisle"]
    (loops / "aisle/03.mp4").unlink()
    (loops / "aisle/03.mp4").symlink_to("/nowhere.mp4")
    assert [name for name, _ in indexed(loops, tmp_path / "library").refused] == ["aisle/03.mp4", "aisle"]
    (loops / "aisle/03.mp4").unlink()
    assert names(indexed(loops, tmp_path / "library")) == ["aisle", "window"]


def test_a_file_that_became_unreadable_is_no_loop_any_more(loops: Path, tmp_path: Path) -> None:
    indexed(loops, tmp_path / "library")
    (loops / "window.mp4").write_bytes(b"no film at all" * 99)
    assert names(indexed(loops, tmp_path / "library")) == ["aisle"]


def test_links_to_nothing_and_pipes_are_told(loops: Path, tmp_path: Path) -> None:
    (loops / "link.mp4").symlink_to("nowhere")
    os.mkfifo(loops / "pipe.mp4")
    found = indexed(loops, tmp_path / "library")
    assert [name for name, _ in found.refused] == ["link.mp4", "pipe.mp4"]
    assert names(found) == ["aisle", "window"]


def test_where_there_is_no_loop_no_library_is_made(tmp_path: Path) -> None:
    (tmp_path / "folder").mkdir()
    for place in ("folder", "nowhere", "nowhere.mp4"):
        with pytest.raises(CardError):
            indexed(tmp_path / place, tmp_path / "library")
    assert not (tmp_path / "library").exists()


def test_what_was_damaged_is_read_again(loops: Path, tmp_path: Path) -> None:
    library = indexed(loops, tmp_path / "library").library
    place = library.item_path(library.loops[0].items[0].sha256)
    place.write_bytes(place.read_bytes()[:-2000])
    with pytest.raises(LibraryError, match="index its loop again"):
        library.entries(library.loops)
    assert indexed(loops, tmp_path / "library").read == 1
    assert library.entries(library.loops)


def test_what_another_run_took_meanwhile_stays(loops: Path, tmp_path: Path) -> None:
    before = open_library(tmp_path / "library", create=True)
    indexed(loops / "window.mp4", tmp_path / "library")
    with ThreadPoolExecutor(2) as pool:
        found = index_folder(loops / "aisle", before, pool)
    assert "window" in names(found)


def test_two_runs_do_not_write_one_library_at_once(loops: Path, tmp_path: Path) -> None:
    (tmp_path / "library").mkdir()
    with claim(tmp_path / "library", LIST), pytest.raises(OutputError, match="another run"):
        indexed(loops, tmp_path / "library")


def test_what_a_stopped_run_has_done_is_kept(
    loops: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(indexing, "WRITTEN_EVERY_S", 0.0)

    def stop(name: str) -> None:
        if name == "window.mp4":
            raise KeyboardInterrupt

    with ThreadPoolExecutor(2) as pool, pytest.raises(KeyboardInterrupt):
        index_folder(loops, open_library(tmp_path / "library", create=True), pool, stop)
    assert indexed(loops, tmp_path / "library").read == 1


def test_a_place_that_cannot_be_a_library_is_told(loops: Path, tmp_path: Path) -> None:
    (tmp_path / "file").write_text("a letter")
    with pytest.raises(OutputError):
        indexed(loops, tmp_path / "file")


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


def spoiled(**parts: object) -> bytes:
    """What is kept of an item, with other parts in place of its own."""
    with np.load(io.BytesIO(packed(item(WATER)))) as kept:
        arrays = {name: kept[name] for name in kept.files}
    for name, change in parts.items():
        arrays[name] = change(arrays[name]) if callable(change) else change
    made = io.BytesIO()
    np.savez_compressed(made, **arrays)
    return made.getvalue()


@pytest.mark.parametrize(
    "parts",
    [
        {"trace": np.array([{}], object)},
        {"descriptors": lambda kept: kept[:, :64]},
        {"descriptors": lambda kept: kept[:5]},
        {"places": lambda kept: kept[:, :1]},
        {"strength": lambda kept: kept * np.nan},
        {"counts": lambda kept: -kept},
        {"counts": lambda kept: kept[:0]},
        {"sizes": lambda kept: kept * 0},
        {"times": lambda kept: kept * np.nan},
        {"seconds": np.array([np.nan])},
        {"lengths": lambda kept: kept * 0},
        {"jpeg": lambda kept: kept[::-1]},
        {"trace": lambda kept: kept.astype(complex)},
        {"other": np.zeros(500_000_000, np.uint8)},
    ],
)
def test_an_item_of_which_a_part_is_wrong_is_refused(parts: dict[str, object]) -> None:
    """Whoever sent the library: nothing is run, unpacked without bound, or handed on."""
    assert unpacked(spoiled(), "it")
    with pytest.raises(LibraryError, match="it is damaged"):
        unpacked(spoiled(**parts), "it")


ITEM = {"path": "a", "sha256": "a" * 64, "seconds": 1}


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (json.dumps({"schema": "mediacheck/library/2"}), "made by another version"),
        (
            json.dumps(
                {
                    "schema": "mediacheck/library/1",
                    "seen": {},
                    "loops": [{"name": "a", "items": [ITEM | {"seconds": float("nan")}]}],
                }
            ),
            "missing or wrong",
        ),
        (
            json.dumps(
                {"schema": "mediacheck/library/1", "seen": {}, "loops": [{"name": "a", "items": []}] * 2}
            ),
            "missing or wrong",
        ),
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
