"""Filling a mounted card: in order, read back, nothing foreign touched, no name for what is incomplete."""

from __future__ import annotations

import errno
import os
import shutil
from collections.abc import Mapping
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest

from mediacheck.build import fill as filling
from mediacheck.build.fill import STAGING, Filled, fill
from mediacheck.build.plan import Content
from mediacheck.build.tree import FIXED_TIME, Times
from mediacheck.card.model import Card
from mediacheck.card.opening import open_card
from mediacheck.errors import CardError, OutputError
from mediacheck.manifest.model import Manifest, ManifestFile
from mediacheck.manifest.record import manifest_text
from mediacheck.watching import NoByteWatcher
from tests.build import made
from tests.build.test_image import Noted


def files_on(card: Path) -> dict[str, bytes]:
    return {p.relative_to(card).as_posix(): p.read_bytes() for p in sorted(card.rglob("*")) if p.is_file()}


def filled(content: Content, card: Path, earlier: Path | None = None, times: Times = "fixed") -> Filled:
    return fill(content, card, times, earlier, NoByteWatcher())


@pytest.fixture
def card(tmp_path: Path) -> Path:
    place = tmp_path / "card"
    place.mkdir()
    return place


@pytest.fixture
def content(tmp_path: Path) -> Content:
    (tmp_path / "face" / "Autumn").mkdir(parents=True)
    return made.content(made.folder_of(tmp_path / "face"))


def test_a_card_gets_all_files_and_folders(card: Path, content: Content) -> None:
    found = filled(content, card)
    assert files_on(card) == made.FACE
    assert sorted(p.name for p in card.iterdir() if p.is_dir()) == ["Autumn", "Spring"]
    assert (found.order, found.left_by_computers, found.removed) == (None, (), ())
    stamp = FIXED_TIME.replace(tzinfo=UTC).timestamp()
    assert {p.stat().st_mtime for p in card.rglob("*.mp4")} == {stamp}


def test_files_come_to_their_places_in_play_order(
    card: Path, content: Content, monkeypatch: pytest.MonkeyPatch
) -> None:
    moved: list[str] = []
    rename = Path.rename

    def noting(place: Path, target: Path) -> Path:
        moved.append(target.name)
        return rename(place, target)

    monkeypatch.setattr(Path, "rename", noting)
    filled(content, card)
    assert moved == [path.rpartition("/")[2] for path in made.IN_ORDER]


def test_files_may_keep_their_own_times(card: Path, content: Content, tmp_path: Path) -> None:
    stamp = datetime(2024, 5, 6, 7, 8, 10, tzinfo=UTC).timestamp()
    for path in (tmp_path / "face").rglob("*.mp4"):
        os.utime(path, (stamp, stamp))
    filled(content, card, times="files")
    assert {p.stat().st_mtime for p in card.rglob("*.mp4")} == {stamp}


def test_all_that_is_copied_and_read_back_is_told(card: Path, content: Content) -> None:
    noted = Noted()
    fill(content, card, "fixed", None, noted)
    assert noted.done_bytes == noted.total_bytes == 2 * content.size_bytes


def test_what_computers_left_stays_and_is_named(card: Path, content: Content) -> None:
    made.folder_of(card, {"System Volume Information/IndexerVolumeGuid": b"x"})
    found = filled(content, card)
    assert found.left_by_computers == ("System Volume Information/IndexerVolumeGuid",)
    assert files_on(card) == {**made.FACE, "System Volume Information/IndexerVolumeGuid": b"x"}


def test_a_card_that_is_not_empty_is_left_alone(card: Path, content: Content) -> None:
    made.folder_of(card, {"holiday.jpg": b"mine"})
    with pytest.raises(
        OutputError, match=r"is not empty \(holiday\.jpg\): format the card, or use --replace"
    ):
        filled(content, card)
    assert files_on(card) == {"holiday.jpg": b"mine"}


def manifest(tmp_path: Path, files: Mapping[str, bytes], folders: tuple[str, ...] = ()) -> Path:
    """A manifest of a card with these files."""
    listed = tuple(ManifestFile(path, len(data), "0" * 64, "other") for path, data in files.items())
    told = Manifest(
        version="0",
        profile_id="garden",
        profile_title="Garden",
        profile_sha256="0" * 64,
        depth="full",
        verdict="pass",
        even_so=False,
        findings=(),
        file_system=None,
        partition_table=None,
        label=None,
        serial=None,
        capacity_bytes=None,
        cluster_bytes=None,
        play_order=(),
        loop_seconds=None,
        files=listed,
        folders=folders,
        left_out=(),
        image=None,
    )
    place = tmp_path / "card.manifest.json"
    place.write_text(manifest_text(told), "utf-8")
    return place


OLD = {"old.mp4": b"last year", "Winter/snow.mp4": b"snow", "01 Seeds.mp4": b"other seeds"}


def test_what_the_manifest_lists_is_replaced(card: Path, content: Content, tmp_path: Path) -> None:
    made.folder_of(card, OLD)
    found = filled(content, card, manifest(tmp_path, OLD, ("Winter",)))
    assert files_on(card) == made.FACE
    assert not (card / "Winter").exists()
    assert sorted(found.removed) == sorted(OLD)


@pytest.mark.parametrize("foreign", [{"holiday.jpg": b"mine"}, {"old.mp4": b"cut again since"}])
def test_nothing_is_removed_where_anything_is_not_of_the_manifest(
    foreign: dict[str, bytes], card: Path, content: Content, tmp_path: Path
) -> None:
    made.folder_of(card, {**OLD, **foreign})
    before = files_on(card)
    with pytest.raises(OutputError, match=f"does not list, and nothing was removed: {next(iter(foreign))}"):
        filled(content, card, manifest(tmp_path, OLD))
    assert files_on(card) == before


def test_what_a_killed_run_left_unfinished_is_cleared_away(card: Path, content: Content) -> None:
    made.folder_of(card, {f"{STAGING}/00000.partial": b"half"})
    filled(content, card)
    assert files_on(card) == made.FACE


def test_a_card_that_is_too_small_is_refused_with_the_numbers(
    card: Path, content: Content, monkeypatch: pytest.MonkeyPatch
) -> None:
    usage = shutil.disk_usage(card)
    monkeypatch.setattr(shutil, "disk_usage", lambda _: usage._replace(free=9000))
    with pytest.raises(OutputError, match=r"The files take [\d,]+ bytes, and .*card has 9,000 bytes left"):
        filled(content, card)
    assert files_on(card) == {}


def test_a_card_that_gives_back_other_bytes_is_not_called_filled(
    card: Path, content: Content, monkeypatch: pytest.MonkeyPatch
) -> None:
    def lying(file: object, data: memoryview) -> None:
        file.write(bytes(len(data)))  # type: ignore[attr-defined]

    monkeypatch.setattr(filling, "write_all", lying)
    with pytest.raises(
        OutputError, match=r"01 Seeds\.mp4 reads back from the card other than it was written"
    ):
        filled(content, card)
    assert files_on(card) == {}


@pytest.mark.parametrize(
    ("code", "words"), [(errno.ENOSPC, "the disk is full"), (errno.EIO, "does not answer as it should")]
)
def test_a_card_that_fails_is_one_sentence_and_nothing_half_stays(
    code: int, words: str, card: Path, content: Content, monkeypatch: pytest.MonkeyPatch
) -> None:
    written: list[int] = []

    def failing(file: object, data: memoryview) -> None:
        written.append(len(data))
        if len(written) == 3:
            raise OSError(code, os.strerror(code))
        file.write(data)  # type: ignore[attr-defined]

    monkeypatch.setattr(filling, "write_all", failing)
    with pytest.raises(OutputError, match=words):
        filled(content, card)
    assert files_on(card) == {}


def test_a_source_that_changes_is_not_copied(card: Path, content: Content, tmp_path: Path) -> None:
    (tmp_path / "face" / "02 Watering can.mp4").write_bytes(b"cut again")
    with pytest.raises(CardError, match=r"02 Watering can\.mp4 was changed while the card was built"):
        filled(content, card)
    assert files_on(card) == {}


@pytest.mark.parametrize(("turned", "expected"), [(False, True), (True, False)])
def test_the_order_is_read_back_where_that_can_be_done(
    turned: bool, expected: bool, card: Path, content: Content, monkeypatch: pytest.MonkeyPatch
) -> None:
    def opened(place: Path) -> Card:
        found = open_card(place)
        entries = sorted(found.entries, key=lambda e: made.IN_ORDER.index(e.path), reverse=turned)
        return replace(found, entries=tuple(entries), order_known=True)

    monkeypatch.setattr(filling, "open_card", opened)
    assert filled(content, card).order is expected


def test_a_move_that_fails_takes_back_what_was_moved(
    card: Path, content: Content, monkeypatch: pytest.MonkeyPatch
) -> None:
    rename = Path.rename

    def failing(place: Path, target: Path) -> Path:
        if place.name.startswith("00003"):
            raise OSError(errno.EIO, "Input/output error")
        return rename(place, target)

    monkeypatch.setattr(Path, "rename", failing)
    with pytest.raises(OutputError, match="does not answer as it should"):
        filled(content, card)
    assert files_on(card) == {}
