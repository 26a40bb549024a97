"""What was converted before is known again, exactly; what is wrong with that costs only the conversion."""

from __future__ import annotations

import errno
import hashlib
import json
import os
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from mediacheck.cache import ENTRY_MAX_BYTES, canonical
from mediacheck.repair.kept import Kept, Key, usual_kept
from mediacheck.repair.model import Likeness, Made, Same

KEY = Key("a" * 64, "b" * 64, "5.1.9", 90.0)
CONTENT = b"a file that took long to make"


def made_of(content: bytes, **others: object) -> Made:
    made = Made(hashlib.sha256(content).hexdigest(), len(content), (("ffmpeg", "-i", "MASTER", "NEW"),))
    return replace(made, **others)  # type: ignore[arg-type]


MADE = made_of(
    CONTENT,
    same=(Same("sound", "packets", "c" * 64),),
    likeness=Likeness("SSIM", 0.98765432101, 0.9, 0.95, 27, 5),
    loudness_lufs=-16.1,
    notes=("Its sound stays as it is.",),
)
numbers = st.floats(allow_nan=False, allow_infinity=False)
likenesses = st.builds(
    Likeness, st.sampled_from(("VMAF", "SSIM")), numbers, numbers, numbers, st.integers(0), st.integers(1)
)
sames = st.builds(
    Same, st.sampled_from(("picture", "sound")), st.sampled_from(("packets", "decoded")), st.text(max_size=9)
)
words = st.lists(st.lists(st.text(max_size=9), max_size=3).map(tuple), max_size=3).map(tuple)


@pytest.fixture
def kept(tmp_path: Path) -> Kept:
    """Nothing is kept yet, and its folder is not there."""
    return Kept(tmp_path / "new" / "kept")


@pytest.fixture
def file(tmp_path: Path) -> Path:
    """The file that was made."""
    place = tmp_path / "copy" / "beds.mp4"
    place.parent.mkdir()
    place.write_bytes(CONTENT)
    return place


@pytest.fixture
def out(tmp_path: Path) -> Path:
    """Where it is wanted now."""
    (tmp_path / "out").mkdir()
    return tmp_path / "out" / "again.mp4"


def entry(kept: Kept) -> Path:
    """The file of the only entry."""
    (found,) = kept.folder.iterdir()
    return found


def assert_not_known(kept: Kept, out: Path, key: Key = KEY) -> None:
    """And nothing is left of the attempt."""
    before = sorted(out.parent.iterdir())
    assert kept.bring(key, out) is None
    assert sorted(out.parent.iterdir()) == before


@given(st.lists(sames, max_size=2).map(tuple), st.none() | likenesses, st.none() | numbers, words)
@settings(max_examples=40, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_what_is_brought_is_exactly_what_was_kept(
    kept: Kept,
    file: Path,
    out: Path,
    same: tuple[Same, ...],
    like: Likeness | None,
    level: float | None,
    commands: tuple[tuple[str, ...], ...],
) -> None:
    made = made_of(CONTENT, same=same, likeness=like, true_peak_dbtp=level, commands=commands)
    kept.keep(KEY, file, made)
    assert repr(kept.bring(KEY, out)) == repr(made)
    assert out.read_bytes() == CONTENT
    assert [path.name for path in out.parent.iterdir()] == [out.name]


@pytest.mark.parametrize(
    "other",
    [
        replace(KEY, master_sha256="c" * 64),
        replace(KEY, recipe="c" * 64),
        replace(KEY, ffmpeg="7.1"),
        replace(KEY, quality_floor=80.0),
        replace(KEY, quality_floor=None),
        replace(KEY, version=KEY.version + 1),
    ],
)
def test_another_key_is_another_file(kept: Kept, file: Path, out: Path, other: Key) -> None:
    kept.keep(KEY, file, MADE)
    assert_not_known(kept, out, other)
    entry(kept).rename(kept.folder / f"{hashlib.sha256(canonical(vars_of(other))).hexdigest()}.json")
    assert_not_known(kept, out, other)


def vars_of(key: Key) -> dict[str, object]:
    return {name: getattr(key, name) for name in Key.__slots__}


def test_nothing_is_known_where_nothing_was_kept(kept: Kept, out: Path) -> None:
    assert_not_known(kept, out)
    assert not kept.folder.exists()


@pytest.mark.parametrize("wrong", ["changed", "longer", "gone", "a folder", "a link"])
def test_a_file_that_is_not_the_same_by_now_is_not_believed(
    kept: Kept, file: Path, out: Path, wrong: str
) -> None:
    kept.keep(KEY, file, MADE)
    content = {"changed": CONTENT[::-1], "longer": CONTENT + b"!"}.get(wrong)
    file.unlink()
    if content is not None:
        file.write_bytes(content)
    elif wrong == "a folder":
        file.mkdir()
    elif wrong == "a link":
        other = file.with_name("other")
        other.write_bytes(CONTENT)
        file.symlink_to(other)
    assert_not_known(kept, out)


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="POSIX pipes")
@pytest.mark.parametrize("place", ["file", "entry"])
def test_a_pipe_is_not_waited_for(kept: Kept, file: Path, out: Path, place: str) -> None:
    kept.keep(KEY, file, MADE)
    pipe = file if place == "file" else entry(kept)
    pipe.unlink()
    os.mkfifo(pipe)
    assert_not_known(kept, out)


@given(st.binary(max_size=60), st.integers(0, 2000))
@settings(max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_a_damaged_entry_is_not_believed(kept: Kept, file: Path, out: Path, junk: bytes, at: int) -> None:
    kept.keep(KEY, file, MADE)
    place = entry(kept)
    whole = place.read_bytes()
    damaged = whole[: at % len(whole)] + junk + whole[at % len(whole) + len(junk) :]
    place.write_bytes(damaged)
    if damaged != whole:
        assert_not_known(kept, out)
    place.write_bytes(junk)
    assert_not_known(kept, out)


@pytest.mark.parametrize(
    "change",
    [
        {"file": 7},
        {"file": None},
        {"made": {}},
        {"made": [[1]]},
        {"key": {}},
        {"check": "0" * 64},
        {"more": 1},
    ],
)
def test_an_entry_of_another_shape_is_not_believed(
    kept: Kept, file: Path, out: Path, change: dict[str, object]
) -> None:
    kept.keep(KEY, file, MADE)
    place = entry(kept)
    record = json.loads(place.read_bytes()) | change
    if "check" not in change:
        bare = {name: value for name, value in record.items() if name != "check"}
        record["check"] = hashlib.sha256(canonical(bare)).hexdigest()
    place.write_bytes(canonical(record))
    assert_not_known(kept, out)


def test_an_entry_that_is_too_large_is_not_read(kept: Kept, file: Path, out: Path) -> None:
    kept.keep(KEY, file, replace(MADE, notes=("x" * ENTRY_MAX_BYTES,)))
    assert not kept.folder.exists()
    kept.keep(KEY, file, MADE)
    entry(kept).write_bytes(b" " * (ENTRY_MAX_BYTES + 1))
    assert_not_known(kept, out)


def test_on_one_disk_it_is_the_very_same_file(kept: Kept, file: Path, out: Path) -> None:
    kept.keep(KEY, file, MADE)
    kept.bring(KEY, out)
    assert out.samefile(file)


def test_on_another_disk_it_is_a_copy(
    kept: Kept, file: Path, out: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(*_: object, **__: object) -> None:
        raise OSError(errno.EXDEV, "Invalid cross-device link")

    kept.keep(KEY, file, MADE)
    monkeypatch.setattr(os, "link", refuse)
    assert kept.bring(KEY, out) == MADE
    assert not out.samefile(file)
    assert out.read_bytes() == CONTENT


def test_what_stood_there_is_replaced_only_by_what_was_proved(kept: Kept, file: Path, out: Path) -> None:
    out.write_bytes(b"old")
    kept.keep(KEY, file, MADE)
    file.write_bytes(b"changed")
    assert_not_known(kept, out)
    assert out.read_bytes() == b"old"
    file.write_bytes(CONTENT)
    assert kept.bring(KEY, out) == MADE
    assert out.read_bytes() == CONTENT


def test_a_place_that_takes_nothing_is_no_error(kept: Kept, file: Path, tmp_path: Path) -> None:
    kept.keep(KEY, file, MADE)
    assert kept.bring(KEY, tmp_path / "none" / "new.mp4") is None
    (tmp_path / "plain").touch()
    nowhere = Kept(tmp_path / "plain" / "kept")
    nowhere.keep(KEY, file, MADE)
    assert nowhere.bring(KEY, tmp_path / "new.mp4") is None


def test_a_number_that_json_does_not_have_is_not_kept(kept: Kept, file: Path) -> None:
    kept.keep(KEY, file, replace(MADE, loudness_lufs=float("nan")))
    assert not kept.folder.exists()


def test_the_entries_used_longest_ago_go_first(tmp_path: Path, file: Path, out: Path) -> None:
    kept = Kept(tmp_path / "kept", entries_max=2)
    keys = [replace(KEY, ffmpeg=str(number)) for number in range(3)]
    for age, key in enumerate(keys[:2]):
        kept.keep(key, file, MADE)
        newest = max(kept.folder.iterdir(), key=lambda path: path.stat().st_mtime_ns)
        os.utime(newest, (1000 + age, 1000 + age))
    assert kept.bring(keys[0], out) == MADE
    kept.keep(keys[2], file, MADE)
    assert [kept.bring(key, out) is not None for key in keys] == [True, False, True]


def test_it_lies_beside_the_other_caches(own_cache: Path) -> None:
    assert usual_kept().folder == own_cache / "converted"
