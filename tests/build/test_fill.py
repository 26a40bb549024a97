"""Filling a mounted card: in order, read back, nothing foreign touched, no name for what is incomplete."""

from __future__ import annotations

import errno
import os
import shutil
import stat
import sys
import unicodedata
from collections.abc import Mapping
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest

from mediacheck.build import fill as filling
from mediacheck.build import there
from mediacheck.build.build import filled_with
from mediacheck.build.fill import Filled, fill
from mediacheck.build.plan import Content
from mediacheck.build.there import STAGING, There
from mediacheck.build.tree import FIXED_TIME, Times
from mediacheck.card.model import Card, Volume
from mediacheck.card.opening import open_card
from mediacheck.card.uncached import forget
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
    with pytest.raises(OutputError, match=r"card is not empty \(holiday\.jpg\)$") as caught:
        filled(content, card)
    assert caught.value.advice == "Format the card, or use --replace to remove what its manifest lists."
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


@pytest.mark.parametrize(
    "foreign",
    [
        {"holiday.jpg": b"mine"},
        {"old.mp4": b"cut again since"},
        {"Winter/mine.jpg": b"mine"},
        {"._old.mp4": b"a player would try to play it"},
    ],
)
def test_nothing_is_removed_where_anything_is_not_of_the_manifest(
    foreign: dict[str, bytes], card: Path, content: Content, tmp_path: Path
) -> None:
    made.folder_of(card, {**OLD, **foreign})
    before = files_on(card)
    with pytest.raises(OutputError, match=f"does not list, and nothing was removed: {next(iter(foreign))}"):
        filled(content, card, manifest(tmp_path, OLD))
    assert files_on(card) == before


@pytest.mark.parametrize("earlier", [None, "manifest"])
def test_an_empty_folder_of_somebody_is_not_left_on_the_card(
    earlier: str | None, card: Path, content: Content, tmp_path: Path
) -> None:
    """`verify` would call it extra."""
    (card / "Mine" / "Inner").mkdir(parents=True)
    with pytest.raises(OutputError, match="Mine/Inner/"):
        filled(content, card, manifest(tmp_path, OLD) if earlier else None)
    assert sorted(p.name for p in card.rglob("*")) == ["Inner", "Mine"]


@pytest.mark.skipif(os.name == "nt", reason="links")
def test_a_link_is_no_file_of_the_manifest(card: Path, content: Content, tmp_path: Path) -> None:
    (tmp_path / "mine.mp4").write_bytes(b"")
    (card / "old.mp4").symlink_to(tmp_path / "mine.mp4")
    with pytest.raises(OutputError, match=r"nothing was removed: old\.mp4"):
        filled(content, card, manifest(tmp_path, {"old.mp4": b""}))
    assert (card / "old.mp4").is_symlink()


def test_what_goes_makes_room(
    card: Path, content: Content, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    old = {"old.mp4": bytes(1 << 20)}
    made.folder_of(card, old)
    usage = shutil.disk_usage(card)
    monkeypatch.setattr(shutil, "disk_usage", lambda _: usage._replace(free=0))
    filled(content, card, manifest(tmp_path, old))
    assert files_on(card) == made.FACE


def test_one_file_that_may_come_from_memory_is_enough(
    card: Path, content: Content, monkeypatch: pytest.MonkeyPatch
) -> None:
    answers = iter([True, False, True, True, True])
    monkeypatch.setattr(filling, "forget", lambda *_: next(answers))
    assert filled(content, card).past_cache is False


@pytest.mark.parametrize(
    ("text", "words"),
    [(None, "there is nothing of that name"), ("{", "it is not JSON, or was cut off")],
)
def test_a_manifest_that_cannot_be_used_removes_nothing(
    text: str | None, words: str, card: Path, content: Content, tmp_path: Path
) -> None:
    made.folder_of(card, OLD)
    if text is not None:
        (tmp_path / "m.json").write_text(text)
    with pytest.raises(OutputError, match=rf"is not empty \(.*\), and .*{words}$") as caught:
        filled(content, card, tmp_path / "m.json")
    assert caught.value.advice == "Format the card, or name its own manifest with --manifest."
    assert files_on(card) == OLD


def test_an_empty_card_needs_no_manifest(card: Path, content: Content, tmp_path: Path) -> None:
    assert filled(content, card, tmp_path / "none.json").removed == ()
    assert files_on(card) == made.FACE


@pytest.mark.skipif(sys.platform != "linux", reason="names in bytes")
def test_names_may_come_back_with_accents_apart(card: Path, content: Content, tmp_path: Path) -> None:
    apart = {unicodedata.normalize("NFD", path): data for path, data in made.FACE.items()}
    made.folder_of(card, apart)
    found = filled(content, card, manifest(tmp_path, made.FACE, ("Spring",)))
    assert sorted(found.removed) == sorted(apart)
    assert files_on(card) == made.FACE


def test_what_appears_while_the_card_is_filled_is_not_called_right(
    card: Path, content: Content, monkeypatch: pytest.MonkeyPatch
) -> None:
    rename = Path.rename

    def busy(place: Path, target: Path) -> Path:
        (card / f"._{target.name}").write_bytes(b"of the computer")
        return rename(place, target)

    monkeypatch.setattr(Path, "rename", busy)
    with pytest.raises(OutputError, match=r"lists other files than were written to it: \._01 Seeds\.mp4"):
        filled(content, card)
    assert not set(files_on(card)) & set(made.FACE)


@pytest.mark.parametrize("step", ["rename", "mkdir", "rmdir", "listing"])
def test_a_run_that_is_stopped_leaves_an_empty_card(
    step: str, card: Path, content: Content, monkeypatch: pytest.MonkeyPatch
) -> None:
    """With Ctrl-C, at the last moments: the next run must not find half a card."""
    calls: list[object] = []
    owner, name = (filling, "opened_card") if step == "listing" else (Path, step)
    real = getattr(owner, name)

    def stopped(*arguments: object, **options: object) -> object:
        calls.append(arguments)
        done = real(*arguments, **options)
        if len(calls) == (3 if step in ("rename", "mkdir") else 1):
            raise KeyboardInterrupt
        return done

    monkeypatch.setattr(owner, name, stopped)
    with pytest.raises(KeyboardInterrupt):
        filled(content, card)
    assert list(card.rglob("*")) == []


def test_what_a_killed_run_left_unfinished_is_cleared_away(card: Path, content: Content) -> None:
    made.folder_of(card, {f"{STAGING}/00000.partial": b"half"})
    filled(content, card)
    assert files_on(card) == made.FACE


def test_what_is_not_ours_in_our_folder_stays(card: Path, content: Content) -> None:
    made.folder_of(card, {f"{STAGING}/mine.jpg": b"mine", f"{STAGING}/00000.partial": b"half"})
    with pytest.raises(OutputError, match="cannot be written"):
        filled(content, card)
    assert files_on(card) == {f"{STAGING}/mine.jpg": b"mine"}


def test_every_file_is_on_the_card_before_it_is_read_back(
    card: Path, content: Content, monkeypatch: pytest.MonkeyPatch
) -> None:
    done: list[str] = []
    sync = os.fsync

    def synced(descriptor: int) -> None:
        if stat.S_ISREG(os.fstat(descriptor).st_mode):
            done.append("written")
        sync(descriptor)

    def forgotten(descriptor: int, size_bytes: int) -> bool:
        done.append("read")
        return forget(descriptor, size_bytes)

    monkeypatch.setattr(os, "fsync", synced)
    monkeypatch.setattr(filling, "forget", forgotten)
    filled(content, card)
    assert done == ["written"] * len(made.FACE) + ["read"] * len(made.FACE)


def test_what_goes_is_not_counted_against_the_card(card: Path, content: Content) -> None:
    before = There(Card(str(card), "volume", (), (), Volume(used_bytes=900, free_bytes=100)), old_bytes=900)
    after = filled_with(before, content).volume
    assert after is not None
    assert (after.used_bytes, after.free_bytes) == (content.size_bytes, max(0, 1000 - content.size_bytes))


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

    monkeypatch.setattr(there, "open_card", opened)
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
