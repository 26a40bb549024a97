"""What was decoded once is known again, exactly; whatever is wrong with the cache costs only the decode."""

from __future__ import annotations

import json
import multiprocessing
import os
from collections.abc import Callable
from concurrent.futures import Executor, ProcessPoolExecutor, ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path
from shutil import copyfile
from tempfile import TemporaryDirectory

import pytest
from hypothesis import given, settings

from mediacheck.cache import ENTRY_MAX_BYTES, Cache, Key, digest_of, usual_cache, worth_keeping
from mediacheck.card.within import Within
from mediacheck.check import check
from mediacheck.cli.app import run
from mediacheck.inspection import Inspection, Wanted, inspect
from mediacheck.measure import decode
from mediacheck.measure.model import DecodeError, Measurements, Sound, Span
from mediacheck.names import Depth
from mediacheck.profile_files import LoadedProfile
from mediacheck.survey import Options
from mediacheck.which_ffmpeg import find_ffmpeg
from tests.report.strategies import decodes
from tests.rules import make

SAMPLES = Path(__file__).parent.parent / "sample_media"
KEY = Key("a" * 64, "full", "b" * 64, "5.1.9")
SOUND = Sound(10.0, -23.1, None, (-3.25, None), 0.1, 0.0, 0.3333333333333333, (Span(0.0, 1.5),))
NUMBERS = Measurements(300, 10.0, black=(Span(0.0, 0.1),), frozen=(), sound=SOUND, fingerprint="0f")


@pytest.fixture
def cache(tmp_path: Path) -> Cache:
    """An empty cache, whose folder is not there yet."""
    return Cache(tmp_path / "new" / "cache", "5.1.9")


def entry(cache: Cache) -> Path:
    """The file of the only entry."""
    (found,) = cache.folder.iterdir()
    return found


def entry_of(cache: Cache, key: Key) -> Path:
    """The entry of the file with this key's hash."""
    (place,) = (path for path in cache.folder.glob("*.json") if key.sha256.encode() in path.read_bytes())
    return place


def keys(count: int) -> list[Key]:
    """Keys of different files."""
    return [replace(KEY, sha256=f"{number:064x}") for number in range(count)]


@given(decodes)
@settings(max_examples=40, deadline=None)
def test_what_is_found_is_exactly_what_was_kept(numbers: Measurements) -> None:
    with TemporaryDirectory() as folder:
        cache = Cache(Path(folder), "5.1.9")
        quiet = replace(numbers, decode_errors=(), decode_error_count=0, sound_errors=(), sound_error_count=0)
        clean = replace(quiet, frames=numbers.frames + 1)
        cache.keep(KEY, clean)
        assert repr(cache.find(KEY)) == repr(clean)


@pytest.mark.parametrize(
    "other",
    [
        replace(KEY, sha256="c" * 64),
        replace(KEY, depth="quick"),
        replace(KEY, facts="c" * 64),
        replace(KEY, ffmpeg="7.1"),
        replace(KEY, version=KEY.version + 1),
    ],
)
def test_any_other_key_finds_nothing(cache: Cache, other: Key) -> None:
    cache.keep(KEY, NUMBERS)
    assert cache.find(KEY) == NUMBERS
    assert cache.find(other) is None
    entry(cache).rename(cache.folder / "kept")
    cache.keep(other, NUMBERS)
    (cache.folder / "kept").replace(entry_of(cache, other))
    assert cache.find(other) is None, "an entry under a wrong name is not taken for the right one"


@pytest.mark.parametrize(
    "numbers",
    [
        Measurements(0, 0.0),
        replace(NUMBERS, decode_error_count=1),
        replace(NUMBERS, decode_errors=(DecodeError("error while decoding"),)),
        replace(NUMBERS, sound_error_count=1),
        replace(NUMBERS, sound_errors=(DecodeError("error while decoding"),)),
    ],
)
def test_a_decode_that_saw_nothing_or_had_complaints_is_not_kept(cache: Cache, numbers: Measurements) -> None:
    cache.keep(KEY, numbers)
    assert not worth_keeping(numbers)
    assert not cache.folder.exists()


def test_a_number_that_json_does_not_have_is_not_kept(cache: Cache) -> None:
    cache.keep(KEY, replace(NUMBERS, seconds=float("nan")))
    assert not cache.folder.exists()


def _without(name: str) -> Callable[[bytes], bytes]:
    def changed(content: bytes) -> bytes:
        record = json.loads(content)
        del record[name]
        return json.dumps(record).encode()

    return changed


@pytest.mark.parametrize(
    "spoil",
    [
        lambda content: b"",
        lambda content: content[:-20],
        lambda content: content.replace(b'"frames":300', b'"frames":301'),
        lambda content: content + b"\n",
        lambda content: b"\x80\x04K\x01.",
        lambda content: b"[]",
        lambda content: b"null",
        lambda content: b"[" * 500_000,
        lambda content: b" " * (ENTRY_MAX_BYTES + 1),
        _without("check"),
        _without("measurements"),
    ],
    ids=[
        "empty",
        "cut off",
        "digit",
        "longer",
        "pickle",
        "list",
        "null",
        "deep",
        "huge",
        "no check",
        "no numbers",
    ],
)
def test_a_broken_or_foreign_entry_is_ignored_and_replaced(
    cache: Cache, spoil: Callable[[bytes], bytes]
) -> None:
    cache.keep(KEY, NUMBERS)
    good = entry(cache).read_bytes()
    entry(cache).write_bytes(spoil(good))
    assert cache.find(KEY) is None
    cache.keep(KEY, NUMBERS)
    assert entry(cache).read_bytes() == good
    assert cache.find(KEY) == NUMBERS


def test_a_folder_in_place_of_an_entry_is_let_be(cache: Cache) -> None:
    cache.keep(KEY, NUMBERS)
    place = entry(cache)
    place.unlink()
    place.mkdir()
    assert cache.find(KEY) is None
    cache.keep(KEY, NUMBERS)
    assert place.is_dir()


def test_the_entries_used_longest_ago_make_room(cache: Cache) -> None:
    small = replace(cache, entries_max=3)
    first, second, third, fourth = keys(4)
    for age, key in ((30, first), (20, second), (10, third)):
        small.keep(key, NUMBERS)
        os.utime(entry_of(small, key), (1_000_000_000 - age, 1_000_000_000 - age))
    assert small.find(first) == NUMBERS  # from now on the second is the one used longest ago
    small.keep(fourth, NUMBERS)
    assert [small.find(key) for key in (first, second, third, fourth)] == [NUMBERS, None, NUMBERS, NUMBERS]


def test_bytes_are_bounded_and_only_own_files_are_removed(cache: Cache) -> None:
    first, second, third = keys(3)
    cache.keep(first, NUMBERS)
    size_bytes = entry(cache).stat().st_size
    (cache.folder / "holiday.json").write_bytes(b"x" * 10 * size_bytes)
    left = cache.folder / f".{'0' * 40}.{'1' * 12}.partial"  # of a process that was killed
    left.write_bytes(b"x")
    for age, path in ((20, left), (10, entry_of(cache, first))):
        os.utime(path, (1_000_000_000 - age, 1_000_000_000 - age))
    small = replace(cache, total_max_bytes=2 * size_bytes)
    small.keep(second, NUMBERS)
    assert [small.find(key) for key in (first, second)] == [NUMBERS, NUMBERS]
    assert not left.exists()
    os.utime(entry_of(small, first), (1_000_000_000, 1_000_000_000))
    small.keep(third, NUMBERS)
    assert [small.find(key) for key in (first, second, third)] == [None, NUMBERS, NUMBERS]
    assert (cache.folder / "holiday.json").exists()


def _busy(folder: Path) -> list[str]:
    """Keep and look up the same few entries many times; what was found that is neither true nor nothing."""
    cache, wrong = Cache(folder, "5.1.9", entries_max=4), []
    for turn in range(20):
        for frames, key in enumerate(keys(6), 1):
            true = replace(NUMBERS, frames=frames)
            cache.keep(key, true)
            found = cache.find(key)
            if found not in (true, None):
                wrong.append(f"{turn}: {found}")
    return wrong


def test_two_processes_at_once_never_see_half_an_entry(tmp_path: Path) -> None:
    with ProcessPoolExecutor(2, multiprocessing.get_context("spawn")) as pool:
        assert list(pool.map(_busy, [tmp_path, tmp_path])) == [[], []]
    left = sorted(path.name for path in tmp_path.iterdir())
    assert 1 <= len(left) <= 4
    assert all(name.endswith(".json") for name in left)


def test_a_folder_that_cannot_be_made_means_no_cache(tmp_path: Path) -> None:
    (tmp_path / "file").write_bytes(b"")
    cache = Cache(tmp_path / "file" / "cache", "5.1.9")
    cache.keep(KEY, NUMBERS)
    assert cache.find(KEY) is None


@pytest.mark.skipif(os.name == "nt" or os.geteuid() == 0, reason="nothing is write-protected for this user")
def test_a_folder_that_may_not_be_written_still_answers(cache: Cache) -> None:
    cache.keep(KEY, NUMBERS)
    cache.folder.chmod(0o500)
    other = replace(KEY, sha256="c" * 64)
    cache.keep(other, NUMBERS)
    assert (cache.find(KEY), cache.find(other)) == (NUMBERS, None)
    cache.folder.chmod(0o700)


def test_the_folder_is_the_platforms_unless_one_is_named(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setenv("MEDIACHECK_CACHE", str(tmp_path))
    assert usual_cache("7.1") == Cache(tmp_path / "measurements", "7.1")
    monkeypatch.delenv("MEDIACHECK_CACHE")
    folder = usual_cache("7.1").folder
    assert folder.is_absolute()
    assert folder.name == "measurements"
    assert "mediacheck" in folder.parts


def no_decode(*_: object, **__: object) -> None:
    """In place of the decode, where none is allowed."""
    raise AssertionError("a process was started")


def looked_at(location: Path, cache: Cache | None, pictures: int = 0, depth: Depth = "full") -> Inspection:
    """The inspection of a real file."""
    wanted = Wanted(depth, sha256=True, pictures=pictures, ffmpeg=find_ffmpeg().path, cache=cache)
    return inspect(location, location.name, location.stat().st_size, wanted)


@pytest.mark.parametrize("name", ["night.avi", "watering-landscape.mp4", "offers-h265.mp4", "soil-4-3.mp4"])
def test_the_second_look_decodes_nothing_and_says_the_same(
    name: str, cache: Cache, monkeypatch: pytest.MonkeyPatch
) -> None:
    first = looked_at(SAMPLES / name, cache)
    assert isinstance(first.measurements, Measurements)
    assert first.measurements.frames > 0
    monkeypatch.setattr(decode, "measure", no_decode)
    assert repr(looked_at(SAMPLES / name, cache)) == repr(first)
    with_pictures = looked_at(SAMPLES / name, cache, pictures=3)
    assert with_pictures.measurements == first.measurements
    assert len(with_pictures.pictures) == 3
    with pytest.raises(AssertionError, match="a process was started"):
        looked_at(SAMPLES / name, None)


def test_a_changed_byte_is_another_file(
    cache: Cache, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    clip = tmp_path / "clip.mp4"
    copyfile(SAMPLES / "soil-4-3.mp4", clip)
    looked_at(clip, cache)
    clip.write_bytes(clip.read_bytes() + b"\0")
    monkeypatch.setattr(decode, "measure", no_decode)
    with pytest.raises(AssertionError, match="a process was started"):
        looked_at(clip, cache)


def test_a_file_that_changes_while_it_is_decoded_is_not_kept(
    cache: Cache, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    clip = tmp_path / "clip.mp4"
    copyfile(SAMPLES / "soil-4-3.mp4", clip)

    def touched(*_: object, **__: object) -> decode.Measured:
        clip.write_bytes(b"something else")
        return decode.Measured(NUMBERS, ())

    monkeypatch.setattr(decode, "measure", touched)
    assert looked_at(clip, cache).measurements == NUMBERS
    assert not cache.folder.exists()


def test_equal_facts_have_one_digest_and_others_another() -> None:
    assert digest_of(make.video_file().facts) == digest_of(make.video_file().facts)
    assert digest_of(make.video_file().facts) != digest_of(make.video_file(facts={"audio": ()}).facts)


def test_the_main_job_gives_workers_a_cache_only_at_full_depth_and_only_if_wanted(tmp_path: Path) -> None:
    (tmp_path / "clip.mp4").write_bytes(b"x")
    given: list[Cache | None] = []

    def note(location: Path | Within, path: str, size_bytes: int, wanted: Wanted) -> Inspection:
        given.append(wanted.cache)
        return Inspection("other")

    loaded = LoadedProfile(make.profile(), "by hand", "0" * 64)
    for options in (Options("full"), Options("full", use_cache=False), Options("quick")):
        check(tmp_path, loaded, options, inspector=note, executor=_threads)
    assert given == [usual_cache(find_ffmpeg().version), None, None]


def _threads(jobs: int) -> Executor:
    return ThreadPoolExecutor(jobs)


def test_no_cache_neither_reads_nor_writes(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("MEDIACHECK_CACHE", str(tmp_path / "cache"))
    card = tmp_path / "card"
    card.mkdir()
    copyfile(SAMPLES / "soil-4-3.mp4", card / "1.mp4")
    command = ["check", str(card), "--profile", "basic-1080p", "--json", "-"]

    def measured(*more: str) -> tuple[object, object]:
        run([*command, *more])
        record = json.loads(capsys.readouterr().out)
        return record["files"], record["findings"]

    once = measured("--no-cache")
    assert not (tmp_path / "cache").exists()
    assert measured() == once
    (kept,) = (tmp_path / "cache" / "measurements").iterdir()
    os.utime(kept, (1_000_000_000, 1_000_000_000))
    assert measured("--no-cache") == once
    assert kept.stat().st_mtime == 1_000_000_000, "not even looked up"
    assert measured() == once
    assert kept.stat().st_mtime > 1_000_000_000, "looked up"
