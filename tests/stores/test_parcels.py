"""Files, folders and archives: what is in them comes out, within limits, and nothing is ever written."""

from __future__ import annotations

import io
import os
import zipfile
import zlib
from pathlib import Path
from typing import Any

import pytest

from mediacheck.stores import parcels as room
from mediacheck.stores.parcels import Parcel, parcels


def archive(place: Path, files: dict[str, bytes], how: int = zipfile.ZIP_DEFLATED) -> Path:
    with zipfile.ZipFile(place, "w", how) as made:
        for name, content in files.items():
            made.writestr(name, content)
    return place


def found(*places: Path) -> dict[str, Parcel]:
    return {parcel.shown: parcel for parcel in parcels(places)}


def test_files_folders_and_archives_are_unpacked_in_a_fixed_order(tmp_path: Path) -> None:
    (tmp_path / "in/0117").mkdir(parents=True)
    (tmp_path / "in/0117/b.json").write_bytes(b"b")
    (tmp_path / "in/a.json").write_bytes(b"a")
    (tmp_path / "in/.hidden").write_bytes(b"x")
    (tmp_path / "in/Thumbs.db").write_bytes(b"x")
    mailed = archive(
        tmp_path / "in/mailed.ZIP",
        {"0118/c.json": b"c", "__MACOSX/._c.json": b"x", "0118/._c.json": b"x", ".DS_Store": b"x"},
    )
    shown = [(parcel.shown, parcel.content) for parcel in parcels([tmp_path / "in"])]
    assert shown == [
        (str(tmp_path / "in/0117/b.json"), b"b"),
        (str(tmp_path / "in/a.json"), b"a"),
        (f"{mailed}/0118/c.json", b"c"),
    ]


def test_what_cannot_be_read_is_told_and_the_rest_comes(tmp_path: Path) -> None:
    (tmp_path / "good.json").write_bytes(b"good")
    (tmp_path / "torn.zip").write_bytes(archive(tmp_path / "a.zip", {"a.json": b"a" * 999}).read_bytes()[:60])
    told = found(tmp_path / "missing.json", tmp_path / "torn.zip", tmp_path / "good.json")
    assert [parcel.content for parcel in told.values()] == [None, None, b"good"]
    assert all(bool(parcel.refused) is (parcel.content is None) for parcel in told.values())


def test_a_member_that_is_damaged_costs_no_other(tmp_path: Path) -> None:
    place = archive(tmp_path / "a.zip", {"a.json": b"a" * 500, "b.json": b"b" * 500}, zipfile.ZIP_STORED)
    data = place.read_bytes()
    place.write_bytes(data.replace(b"a" * 500, b"a" * 499 + b"x"))
    first, second = parcels([place])
    assert (first.content, "unpacked" in first.refused) == (None, True)
    assert second.content == b"b" * 500


def test_a_locked_archive_is_told(tmp_path: Path) -> None:
    place = archive(tmp_path / "a.zip", {"a.json": b"secret"})
    data = bytearray(place.read_bytes())
    for mark in (b"PK\x03\x04", b"PK\x01\x02"):
        at = data.index(mark) + (6 if mark == b"PK\x03\x04" else 8)
        data[at] |= 1  # general purpose bit 0: encrypted (APPNOTE 4.4.4)
    place.write_bytes(bytes(data))
    (parcel,) = parcels([place])
    assert (parcel.content, "password" in parcel.refused) == (None, True)


def test_paths_that_lead_out_are_names_and_no_more(tmp_path: Path) -> None:
    (tmp_path / "in").mkdir()
    names = ("../out.json", "/etc/out.json", "C:\\out.json", "a/../../../out.json")
    place = archive(tmp_path / "in/a.zip", dict.fromkeys(names, b"x"))
    before = sorted(tmp_path.rglob("*"))
    assert [parcel.content for parcel in parcels([place])] == [b"x"] * len(names)
    assert sorted(tmp_path.rglob("*")) == before


def test_a_file_that_unpacks_to_a_gigabyte_is_refused_by_what_comes_out(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whatever size the archive claims for it."""
    monkeypatch.setattr(room, "FILE_MAX_BYTES", 100_000)
    place = archive(tmp_path / "bomb.zip", {"a.json": bytes(5_000_000), "b.json": b"fine"})
    honest = place.read_bytes()
    size = (5_000_000).to_bytes(4, "little")
    assert honest.count(size) == 2
    place.write_bytes(honest.replace(size, (90_000).to_bytes(4, "little")))
    for parcel in (found(place)[f"{place}/a.json"],):
        assert parcel.content is None or len(parcel.content) <= 100_000
    place.write_bytes(honest)
    told = found(place)
    assert "larger than" in told[f"{place}/a.json"].refused
    assert told[f"{place}/b.json"].content == b"fine"


def test_an_archive_of_many_large_files_is_cut_off(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(room, "ARCHIVE_MAX_BYTES", 250_000)
    place = archive(tmp_path / "a.zip", {f"{n}.json": bytes(100_000) for n in range(5)})
    contents = [parcel.content is not None for parcel in parcels([place])]
    assert contents == [True, True, False, False, False]


def test_an_archive_of_very_many_files_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(room, "ARCHIVE_MAX_FILES", 10)
    place = archive(tmp_path / "a.zip", {f"{n}.json": b"x" for n in range(11)})
    (parcel,) = parcels([place])
    assert "more than 10 files" in parcel.refused


def test_an_archive_in_an_archive_is_a_file_like_others(tmp_path: Path) -> None:
    inner = io.BytesIO()
    with zipfile.ZipFile(inner, "w") as made:
        made.writestr("a.json", b"x")
    place = archive(tmp_path / "a.zip", {"inner.zip": inner.getvalue()})
    (parcel,) = parcels([place])
    assert parcel.content == inner.getvalue()


def test_a_large_file_is_not_read(tmp_path: Path) -> None:
    with (tmp_path / "large.json").open("wb") as file:
        file.truncate(1_000_000_000)
    (parcel,) = parcels([tmp_path / "large.json"])
    assert parcel.content is None
    assert "64 MB" in parcel.refused


def test_times_are_those_of_the_files(tmp_path: Path) -> None:
    (tmp_path / "a.json").write_bytes(b"x")
    os.utime(tmp_path / "a.json", (1_700_000_000, 1_700_000_000))
    (parcel,) = parcels([tmp_path / "a.json"])
    assert parcel.changed_at is not None
    assert parcel.changed_at.timestamp() == 1_700_000_000


def test_damage_in_any_way_of_packing_costs_one_file(tmp_path: Path) -> None:
    for how in (zipfile.ZIP_DEFLATED, zipfile.ZIP_BZIP2, zipfile.ZIP_LZMA):
        place = tmp_path / f"{how}.zip"
        with zipfile.ZipFile(place, "w", how) as made:
            made.writestr("a.json", os.urandom(3000))
            made.writestr("b.json", b"fine")
        data = bytearray(place.read_bytes())
        data[60:90] = bytes(0x5A ^ byte for byte in data[60:90])
        place.write_bytes(data)
        first, second = parcels([place])
        assert (first.content, "unpacked" in first.refused, second.content) == (None, True, b"fine")


def test_damaged_files_of_an_archive_count_too(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """They are unpacked to the end before that is found: a small archive of many would keep us for hours."""
    monkeypatch.setattr(room, "ARCHIVE_MAX_BYTES", 250_000)
    place = archive(tmp_path / "a.zip", {f"{n}.json": bytes(100_000) for n in range(5)})
    data = place.read_bytes()
    mark = zlib.crc32(bytes(100_000)).to_bytes(4, "little")
    place.write_bytes(data.replace(mark, bytes(4)))
    told = [parcel.refused for parcel in parcels([place])]
    assert ["unpacked:" in one for one in told] == [True, True, False, False, False]
    assert all("more than is ever sent" in one for one in told[2:])


def test_devices_and_pipes_are_not_read(tmp_path: Path) -> None:
    """A pipe would keep us for ever, and a device has no end."""
    folder = tmp_path / "in"
    folder.mkdir()
    os.mkfifo(folder / "0117.json")
    (folder / "0118.json").symlink_to("/dev/zero")
    (folder / "0119.json").write_bytes(b"good")
    *refused, good = parcels([folder])
    assert [parcel.refused for parcel in refused] == ["it is a device or pipe, not a file"] * 2
    assert good.content == b"good"


def test_folders_that_are_not_looked_into_are_told_of(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "in/closed").mkdir(parents=True)
    (tmp_path / "in/a.json").write_bytes(b"a")
    (tmp_path / "in/linked").symlink_to(tmp_path)
    scan = os.scandir

    def scandir(path: str) -> Any:
        if os.fspath(path).endswith("closed"):
            raise PermissionError(13, "Permission denied", os.fspath(path))
        return scan(path)

    monkeypatch.setattr(os, "scandir", scandir)
    told = {Path(parcel.shown).name: parcel.refused for parcel in parcels([tmp_path / "in"])}
    assert told == {
        "closed": "it cannot be read: Permission denied",
        "linked": "it is a link to a folder, which is not followed",
        "a.json": "",
    }


def test_times_that_are_none_are_left_out(tmp_path: Path) -> None:
    """A packer that knew no day, and a file system with a day in no calendar."""
    with zipfile.ZipFile(tmp_path / "a.zip", "w") as made:
        made.writestr(zipfile.ZipInfo("a.json"), b"x")
    (parcel,) = parcels([tmp_path / "a.zip"])
    assert (parcel.content, parcel.changed_at) == (b"x", None)
    assert room._changed_at(1e15) is None
