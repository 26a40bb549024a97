"""A card held against its manifest: what is right, and each thing that can be wrong with it."""

from __future__ import annotations

import errno
import os
import shutil
import unicodedata
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from mediacheck.build import verify as verify_module
from mediacheck.build.matching import put_side_by_side
from mediacheck.build.verify import verify
from mediacheck.build.verify_model import Changed, LeftBehind, NotRead, NotVerified, Verified
from mediacheck.card.blocks import Blocks
from mediacheck.card.medium import FileMedium
from mediacheck.card.opening import open_card
from mediacheck.card.within import Within
from mediacheck.errors import CardError, ManifestError
from mediacheck.manifest.expected import Expected, ExpectedFile, ExpectedImage, expected_of
from mediacheck.manifest.model import ImageName, Manifest
from tests.card.filled import FILES, MIB, fat_card, overwrite, sized
from tests.manifest.make import manifest_of, sha256
from tests.rules import make

DISK_ORDER = ("Watering Can 1.mp4", "B.MP4", "A.MP4", "Spring/Seed Range.mp4")
SIZE = 40 * MIB


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """An image that no test changes."""
    return fat_card(tmp_path_factory.mktemp("made") / "card.img")


@pytest.fixture
def image(made: Path, tmp_path: Path) -> Path:
    """A copy of it."""
    return Path(shutil.copy(made, tmp_path / "card.img"))


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """The same files in a plain folder."""
    for path, content in FILES.items():
        (tmp_path / "card" / path).parent.mkdir(exist_ok=True, parents=True)
        (tmp_path / "card" / path).write_bytes(content)
    return tmp_path / "card"


def manifest(image: Path | None = None, files: dict[str, bytes] | None = None) -> Manifest:
    """Of these files, and of this image as it is."""
    named = ImageName("card.img", image.stat().st_size, sha256(image.read_bytes())) if image else None
    return manifest_of(dict(files or FILES), image=named)


def found(card: Path, wanted: Manifest | Expected) -> Verified:
    """What holding them against each other finds, without what differs from run to run."""
    expected = expected_of(wanted) if isinstance(wanted, Manifest) else wanted
    verified = verify(card, expected)
    assert verified.seconds > 0
    assert abs(datetime.now(UTC) - verified.verified_at) < timedelta(minutes=5)
    return replace(verified, version="", verified_at=NEVER, source="", seconds=0.0, past_cache=None)


NEVER = datetime(2026, 1, 31, tzinfo=UTC)
RIGHT = Verified(
    version="",
    verified_at=NEVER,
    source="",
    kind="image",
    manifest="",
    manifest_sha256="",
    is_another_card=False,
    right=DISK_ORDER,
    missing=(),
    changed=(),
    extra=(),
    not_read=(),
    left_behind=(),
    warnings=(),
    not_verified=(),
    by_files=True,
    image_right=True,
    past_cache=None,
    files_read=4,
    bytes_read=SIZE,
    seconds=0.0,
)
NO_IMAGE = replace(RIGHT, image_right=None, bytes_read=4 * MIB)
ORDER_UNKNOWN = NotVerified(
    "the order of the files on the card", "what was given does not tell it", expected=True
)
IN_FOLDER = replace(
    NO_IMAGE,
    kind="folder",
    right=("A.MP4", "B.MP4", "Watering Can 1.mp4", "Spring/Seed Range.mp4"),
    not_verified=(ORDER_UNKNOWN,),
    bytes_read=sum(map(len, FILES.values())),
)
OUTSIDE = (
    "The bytes outside the files differ from those of the image that was built, as when the card was put "
    "into a computer that may write to it."
)


WITH_THE_FILES = NotVerified(
    "the bytes outside the files",
    "their sum is known only together with the files, and not all of these are right",
    expected=True,
)


def place_of(image: Path, path: str) -> int:
    """Where a file's bytes begin."""
    entry = next(entry for entry in open_card(image).entries if entry.path == path)
    assert isinstance(entry.location, Within)
    return entry.location.runs[0].start_byte


def test_an_image_that_is_as_it_was_built_is_right(image: Path) -> None:
    assert found(image, manifest(image)) == RIGHT
    assert RIGHT.verdict == "pass"


def test_files_are_compared_where_the_manifest_knows_no_image(image: Path) -> None:
    assert found(image, manifest()) == NO_IMAGE


def test_one_changed_byte_of_a_file_is_found(image: Path) -> None:
    wanted = manifest(image)
    content = FILES["Spring/Seed Range.mp4"]
    overwrite(image, place_of(image, "Spring/Seed Range.mp4") + len(content) - 1, b"E")
    changed = Changed("Spring/Seed Range.mp4", "contents", sha256(content[:-1] + b"E"), sha256(content))
    verified = found(image, wanted)
    assert verified == replace(
        RIGHT, right=DISK_ORDER[:3], changed=(changed,), not_verified=(WITH_THE_FILES,), image_right=False
    )
    assert verified.verdict == "fail"


def test_one_changed_byte_outside_the_files_is_a_warning(image: Path) -> None:
    wanted = manifest(image)
    overwrite(image, SIZE - 1, b"x")
    verified = found(image, wanted)
    assert verified == replace(RIGHT, warnings=(OUTSIDE,), image_right=False)
    assert verified.verdict == "warn"


def test_what_is_missing_extra_and_of_another_size_is_named(folder: Path) -> None:
    files = {**FILES, "Autumn/Bulbs.mp4": b"bulbs", "B.MP4": b"more"}
    del files["A.MP4"]
    assert found(folder, manifest(files=files)) == replace(
        IN_FOLDER,
        right=("Watering Can 1.mp4", "Spring/Seed Range.mp4"),
        missing=("Autumn/Bulbs.mp4",),
        changed=(Changed("B.MP4", "size", "0 bytes", "4 bytes"),),
        extra=("A.MP4",),
        files_read=2,
        bytes_read=len(FILES["Watering Can 1.mp4"] + FILES["Spring/Seed Range.mp4"]),
    )


def test_empty_folders_are_missing_or_extra_too(folder: Path) -> None:
    (folder / "Seeds" / "Old").mkdir(parents=True)
    wanted = replace(manifest(), folders=("Spring", "Later"))
    verified = found(folder, wanted)
    assert (verified.missing, verified.extra) == (("Later/",), ("Seeds/Old/",))
    assert verified.verdict == "fail"


def test_folders_go_without_saying_where_the_manifest_lists_a_file_in_them(folder: Path) -> None:
    assert found(folder, replace(manifest(), folders=())) == IN_FOLDER


def test_what_computers_leave_is_told_apart_and_is_a_warning(folder: Path) -> None:
    (folder / "System Volume Information").mkdir()
    (folder / "System Volume Information" / "WPSettings.dat").write_bytes(b"w")
    (folder / ".Trashes").mkdir()
    (folder / "Spring" / ".DS_Store").write_bytes(b"m")
    verified = found(folder, manifest())
    assert verified == replace(
        IN_FOLDER,
        left_behind=(
            LeftBehind(
                "Spring/.DS_Store", "macOS leaves this file in each folder that was opened in a window"
            ),
            LeftBehind(
                "System Volume Information/WPSettings.dat", "Windows keeps its own notes about a drive here"
            ),
            LeftBehind(".Trashes/", "macOS keeps deleted files here"),
        ),
    )
    assert verified.verdict == "warn"


def test_a_left_over_that_the_player_would_try_to_play_is_extra(folder: Path) -> None:
    (folder / "._A.MP4").write_bytes(b"m")
    verified = found(folder, manifest())
    assert (verified.extra, verified.left_behind) == (("._A.MP4",), ())


def test_names_that_fat_cannot_tell_apart_are_the_same(image: Path) -> None:
    files = {path.upper(): content for path, content in FILES.items()}
    assert found(image, manifest(image, files)) == RIGHT


def test_accents_that_a_mac_took_apart_are_the_same(tmp_path: Path) -> None:
    name = unicodedata.normalize("NFD", "Märzenbecher.mp4")
    (tmp_path / name).write_bytes(b"m")
    verified = found(tmp_path, manifest(files={"Märzenbecher.mp4": b"m"}))
    assert (verified.right, verified.verdict) == ((name,), "pass")


def test_a_plain_list_of_checksums_serves_for_files(folder: Path) -> None:
    listed = Expected(tuple(ExpectedFile(path, sha256(content), None) for path, content in FILES.items()))
    (folder / "empty").mkdir()
    verified = found(folder, listed)
    unknown = NotVerified(
        "sizes, empty folders and the order of the files",
        "a plain list of checksums does not tell them",
        expected=True,
    )
    assert verified == replace(IN_FOLDER, not_verified=(unknown,))
    (folder / "A.MP4").write_bytes(b"longer")
    changed = Changed("A.MP4", "contents", sha256(b"longer"), sha256(b"seeds"))
    assert found(folder, listed).changed == (changed,)


def test_a_plain_list_of_one_image_serves_for_the_whole_card(image: Path, folder: Path) -> None:
    listed = Expected((ExpectedFile("card.img", sha256(image.read_bytes()), None),))
    whole = replace(RIGHT, right=(), by_files=False, files_read=0)
    assert found(image, listed) == whole
    overwrite(image, 5 * MIB, b"x")
    verified = found(image, listed)
    assert verified == replace(whole, image_right=False)
    assert verified.verdict == "fail"
    with pytest.raises(ManifestError) as caught:
        verify(folder, listed)
    assert "tells nothing of the files on a card" in str(caught.value)
    assert caught.value.advice == "Give the manifest (.manifest.json) that stands beside it."


def test_a_longer_image_is_right_as_far_as_it_goes(image: Path) -> None:
    wanted = manifest(image)
    with image.open("ab") as file:
        file.write(bytes(512))
    told = (
        "The image is longer than the one that was built: 512 bytes follow, which were not compared with "
        "anything."
    )
    assert found(image, wanted) == replace(RIGHT, warnings=(told,))


def test_a_card_that_is_too_small_for_the_image_is_told(image: Path) -> None:
    smaller = replace(manifest(), image=ImageName("card.img", SIZE + 512, sha256(b"")))
    told = f"The card holds {SIZE:,} bytes, less than the image that was built."
    assert found(image, smaller) == replace(
        RIGHT, warnings=(told,), image_right=False, bytes_read=NO_IMAGE.bytes_read
    )


def test_another_order_than_that_of_playing_is_a_warning(image: Path) -> None:
    wanted = replace(manifest(image), play_order=("A.MP4", "Watering Can 1.mp4", "Spring/Seed Range.mp4"))
    told = (
        "The files stand on the card in another order than the one they are to play in: "
        '"Watering Can 1.mp4" comes at place 1, where "A.MP4" belongs; a player that goes by the order of '
        "copying plays them so."
    )
    assert found(image, wanted) == replace(RIGHT, warnings=(told,))


def test_the_order_is_nothing_to_a_player_that_goes_by_names(image: Path, folder: Path) -> None:
    wanted = replace(manifest(image), play_order=("A.MP4", "B.MP4"), player_order="name")
    assert found(image, wanted) == RIGHT
    assert found(folder, replace(wanted, image=None)) == replace(IN_FOLDER, not_verified=())
    by_disk = replace(wanted, player_order="disk")
    assert len(found(image, by_disk).warnings) == 1
    assert found(folder, replace(by_disk, image=None)) == IN_FOLDER


def test_a_card_that_was_built_in_spite_of_its_check_is_told(image: Path) -> None:
    told = (
        "The card of this manifest was built although its check had failed; under passed_over it lists "
        "with what."
    )
    verified = found(image, replace(manifest(image), even_so=True, verdict="fail"))
    assert (verified, verified.verdict) == (replace(RIGHT, warnings=(told,)), "warn")


def test_the_card_of_another_face_is_known_as_such(folder: Path) -> None:
    verified = found(folder, manifest(files={"1.mp4": b"1", "B.MP4": b"22"}))
    assert verified.is_another_card
    assert (verified.right, verified.missing, verified.verdict) == ((), ("1.mp4",), "fail")
    assert not found(folder, manifest(files={"1.mp4": b"1", "A.MP4": FILES["A.MP4"]})).is_another_card


def test_damage_that_the_image_does_not_rule_out_is_told(image: Path) -> None:
    wanted = manifest(image)
    overwrite(image, 512 + 488, (7).to_bytes(4, "little"))  # FSInfo's count of free clusters
    verified = found(image, wanted)
    assert verified.verdict == "warn"
    assert [told.partition(":")[0] for told in verified.warnings] == [
        OUTSIDE,
        "The card's own records are damaged",
    ]


def unformatted(path: Path) -> Path:
    """A card with nothing on it, so that no file can be listed."""
    return sized(path, MIB)


def test_a_card_that_cannot_be_listed_is_proven_by_the_image_alone(tmp_path: Path) -> None:
    card = unformatted(tmp_path / "card.img")
    names = NotVerified(
        "the names of the files on the card", "they could not be listed: it is not formatted", expected=True
    )
    expected = replace(
        RIGHT, right=tuple(FILES), not_verified=(names,), by_files=False, files_read=0, bytes_read=MIB
    )
    wanted = manifest(card)
    assert found(card, wanted) == expected
    verified = found(card, replace(wanted, image=ImageName("card.img", MIB, sha256(b"another"))))
    assert (verified.right, verified.image_right, verified.verdict) == ((), False, "fail")


def test_a_card_that_cannot_be_listed_without_an_image_is_not_sure(tmp_path: Path) -> None:
    verified = found(unformatted(tmp_path / "card.img"), manifest())
    assert (verified.right, verified.missing, verified.verdict) == ((), (), "incomplete")
    assert [gap.expected for gap in verified.not_verified] == [False]


def test_what_is_no_file_any_more_is_not_read(folder: Path) -> None:
    (folder / "A.MP4").unlink()
    (folder / "A.MP4").symlink_to("nothing")
    verified = found(folder, manifest())
    assert verified.not_read == (NotRead("A.MP4", "a link to nothing"),)
    assert verified.verdict == "fail"


def test_a_file_that_breaks_off_on_the_medium_is_not_read(
    image: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    card = open_card(image)
    short = tuple(
        replace(entry, location=replace(entry.location, runs=()))
        if entry.path == "A.MP4" and isinstance(entry.location, Within)
        else entry
        for entry in card.entries
    )
    monkeypatch.setattr(verify_module, "open_card", lambda _: replace(card, entries=short))
    verified = found(image, manifest(image))
    assert verified.not_read == (NotRead("A.MP4", "it ends after 0 of 5 bytes"),)
    assert verified.right == ("Watering Can 1.mp4", "B.MP4", "Spring/Seed Range.mp4")


def broken_at(place: int) -> Callable[[FileMedium, int, int], bytes]:
    """A medium one place of which cannot be read."""
    read = FileMedium.read

    def broken(self: FileMedium, offset: int, length: int) -> bytes:
        if offset <= place < offset + length:
            raise OSError(errno.EIO, "Input/output error")
        return read(self, offset, length)

    return broken


def cannot_be_read(self: Blocks, offset: int, room: memoryview) -> int:
    raise OSError(errno.EIO, "Input/output error")


def test_one_bad_sector_costs_one_file(image: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    wanted = manifest(image)
    monkeypatch.setattr(FileMedium, "read", broken_at(place_of(image, "A.MP4")))
    monkeypatch.setattr(Blocks, "read_into", cannot_be_read)
    verified = found(image, wanted)
    outside = NotVerified(
        "the bytes outside the files", "they could not be read (Input/output error)", expected=False
    )
    assert verified == replace(
        RIGHT,
        right=("Watering Can 1.mp4", "B.MP4", "Spring/Seed Range.mp4"),
        not_read=(NotRead("A.MP4", "Input/output error"),),
        not_verified=(outside,),
        image_right=None,
        files_read=3,
        bytes_read=len(FILES["Watering Can 1.mp4"] + FILES["Spring/Seed Range.mp4"]),
    )


def test_a_bad_sector_outside_the_files_is_not_sure(image: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    wanted = manifest(image)
    monkeypatch.setattr(Blocks, "read_into", cannot_be_read)
    verified = found(image, wanted)
    assert (verified.right, verified.image_right, verified.verdict) == (DISK_ORDER, None, "incomplete")


class Told:
    """A watcher that notes what it is told."""

    def __init__(self) -> None:
        self.begun: list[tuple[int, str]] = []
        self.done_bytes = 0
        self.ended = 0

    def begin(self, total_bytes: int, what: str) -> None:
        self.begun.append((total_bytes, what))

    def advanced(self, count_bytes: int) -> None:
        self.done_bytes += count_bytes

    def end(self) -> None:
        self.ended += 1


@pytest.mark.parametrize("kind", ["image", "folder"])
def test_the_watcher_hears_of_every_byte(kind: str, image: Path, folder: Path) -> None:
    told = Told()
    verify(image if kind == "image" else folder, expected_of(manifest(image)), told)
    total = SIZE if kind == "image" else sum(map(len, FILES.values()))
    assert (told.begun, told.done_bytes, told.ended) == ([(total, "reading")], total, 1)


@pytest.mark.parametrize("proven", [True, False])
def test_it_says_whether_the_computers_memory_was_passed_by(
    proven: bool, image: Path, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("mediacheck.build.verify_reading.forget", lambda *_: proven)
    monkeypatch.setattr(Blocks, "forget", lambda _: proven)
    assert verify(image, expected_of(manifest(image))).past_cache is proven
    assert verify(folder, expected_of(manifest())).past_cache is proven


def test_one_file_that_may_come_from_memory_is_enough(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    answers = iter([True, False, True, True])
    monkeypatch.setattr("mediacheck.build.verify_reading.forget", lambda *_: next(answers))
    assert verify(folder, expected_of(manifest())).past_cache is False


def test_nothing_is_said_of_memory_where_nothing_was_read(tmp_path: Path) -> None:
    assert verify(tmp_path, expected_of(manifest())).past_cache is None


def test_one_part_of_a_drive_is_not_held_against_the_whole_image(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("mediacheck.build.matching.whole_device", lambda _: "/dev/sdb")
    card = make.card(make.video_file("a.mp4"), kind="device")
    held = put_side_by_side(
        card, Expected((), image=ExpectedImage("card.img", sha256(b""), 512)), Path("/dev/sdb1")
    )
    assert (held.image_bytes, held.no_image) == (None, "only one part of the card was given")


def test_a_whole_drive_is_held_against_as_much_as_the_image_has(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("mediacheck.build.matching.whole_device", lambda _: None)
    card = make.card(make.video_file("a.mp4"), kind="device")
    held = put_side_by_side(
        card, Expected((), image=ExpectedImage("card.img", sha256(b""), 512)), Path("/dev/sdb")
    )
    assert (held.image_bytes, held.no_image) == (512, None)


def test_a_mounted_card_is_compared_by_its_files_and_says_so(folder: Path) -> None:
    card = replace(open_card(folder), kind="volume", raw_reason="you may not read /dev/sdb1 directly")
    held = put_side_by_side(card, expected_of(manifest()), folder)
    assert held.no_image is None
    with_image = replace(manifest(), image=ImageName("card.img", SIZE, sha256(b"")))
    held = put_side_by_side(card, expected_of(with_image), folder)
    assert (held.image_bytes, held.no_image) == (None, "only a raw device or the image of a card shows them")


def test_the_bytes_before_the_part_of_a_card_are_compared_too(tmp_path: Path) -> None:
    card = fat_card(tmp_path / "part.img")
    whole = tmp_path / "card.img"
    sized(whole, SIZE + MIB)
    with whole.open("r+b") as file:
        file.write(b"\0" * 446 + bytes([0, 1, 1, 0, 0x0C, 1, 1, 1]) + (2048).to_bytes(4, "little"))
        file.write((SIZE // 512).to_bytes(4, "little") + bytes(48) + b"\x55\xaa")
        file.seek(MIB)
        file.write(card.read_bytes())
    wanted = manifest(whole)
    assert found(whole, wanted) == replace(RIGHT, bytes_read=SIZE + MIB)
    overwrite(whole, 440, b"disk")
    assert found(whole, wanted) == replace(
        RIGHT, bytes_read=SIZE + MIB, warnings=(OUTSIDE,), image_right=False
    )


def test_there_must_be_a_card(tmp_path: Path) -> None:
    with pytest.raises(CardError):
        verify(tmp_path / "nothing", expected_of(manifest()))
    if hasattr(os, "mkfifo"):
        os.mkfifo(tmp_path / "pipe")
        with pytest.raises(CardError):
            verify(tmp_path / "pipe", expected_of(manifest()))
