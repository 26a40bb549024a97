"""Files that are cut or changed anywhere: facts or a reason come back, and a cut is noticed."""

from __future__ import annotations

import random
import time
from pathlib import Path

import pytest

from mediacheck.errors import WorkerTooSlow
from mediacheck.media.facts import MediaFacts, Unreadable
from mediacheck.media.read import read_facts
from mediacheck.workers import FileWorkers
from tests.conftest import ClipFactory
from tests.media.variants import BY_NAME

CUTS = 24
CHANGED_FILES = 25
SLOW_MAX = 2
"""Of the changed copies of one file: more would mean that a reader of ours goes round for ever, too."""
SECONDS_MAX = 5.0
"""Far more than any of these small files takes: what is looked for is a reader that never ends."""

TELLING = ("h264-main-24.mp4", "h264-film.mp4", "h264-30.mov", "h264.avi", "mjpeg.avi", "h264-flac.mkv",
           "vp9-opus.webm")  # fmt: skip
"""Whole files whose container says how long it is: index first and last, chunks, elements."""
SILENT = ("h264.ts", "mpeg2.mpg", "wmv2.wmv", "h264-fragments.mp4", "sound.mp3", "sound.ogg", "sound.flac")
"""Containers that go on packet by packet: a cut between two of them leaves a valid, shorter file."""
EVERY_KIND = (*TELLING, *SILENT, "h265-main.mp4", "av1.webm", "prores-hq.mov", "mpeg4-b-frames.avi")


def timed(location: Path) -> MediaFacts | Unreadable | None:
    start = time.monotonic()
    facts = read_facts(location, location.name)
    assert time.monotonic() - start < SECONDS_MAX
    return facts


def truncated(facts: MediaFacts | Unreadable | None) -> str | None:
    """What the container says is missing; for a file that no reader takes that is the reason, too."""
    assert facts is not None
    assert facts.container is not None
    if isinstance(facts, Unreadable) and facts.container.truncated:
        assert facts.reason == facts.container.truncated
    return facts.container.truncated


@pytest.mark.parametrize("name", TELLING)
def test_a_cut_anywhere_behind_the_beginning_is_said(name: str, clip: ClipFactory, tmp_path: Path) -> None:
    """At even distances through the file, and just before its end."""
    data = clip(BY_NAME[name]).read_bytes()
    assert truncated(timed(clip(BY_NAME[name]))) is None
    place = tmp_path / name
    for length in {*range(80, len(data), len(data) // CUTS), len(data) - 1, len(data) - 8}:
        place.write_bytes(data[:length])
        assert truncated(timed(place)), f"a cut after {length} of {len(data)} bytes went unnoticed"


@pytest.mark.parametrize("name", ["h264-fragments.mp4", "h264-fragments-base.mp4"])
def test_a_cut_through_a_fragment_is_said(name: str, clip: ClipFactory, tmp_path: Path) -> None:
    """Between two fragments it cannot be known: the file has no length of its own."""
    data = clip(BY_NAME[name]).read_bytes()
    place = tmp_path / name
    starts = [at - 4 for at in range(len(data)) if data[at : at + 4] == b"moof"]
    assert len(starts) >= 2
    for start in starts:
        media = data.index(b"mdat", start)
        for length in (start + 9, start + 60, media - 4, media + 4, media + 100):
            place.write_bytes(data[:length])
            assert truncated(timed(place)), f"a cut {length - start} bytes into a fragment went unnoticed"


@pytest.mark.parametrize("name", SILENT)
def test_a_cut_in_a_container_without_a_length_gives_less_or_a_reason(
    name: str, clip: ClipFactory, tmp_path: Path
) -> None:
    """Never more than the whole file has."""
    data = clip(BY_NAME[name]).read_bytes()
    whole = timed(clip(BY_NAME[name]))
    assert isinstance(whole, MediaFacts)
    assert whole.duration is not None
    place = tmp_path / name
    for length in range(1, len(data), len(data) // CUTS):
        place.write_bytes(data[:length])
        facts = timed(place)
        if isinstance(facts, MediaFacts) and facts.video:
            assert whole.video is not None
            assert (facts.video.duration or 0) <= (whole.video.duration or 0)


def changed_copies(name: str, data: bytes, folder: Path) -> list[Path]:
    """Copies with a few bytes or blocks of them changed; the same ones in every run."""
    chance = random.Random(name)
    places = [folder / f"{number}-{name}" for number in range(CHANGED_FILES)]
    for place in places:
        changed = bytearray(data)
        reach = min(1024, len(data)) if chance.random() < 0.5 else len(data)
        for _ in range(chance.choice((1, 4, 30))):
            at = chance.randrange(reach)
            block = bytes([chance.choice((0, 255, chance.randrange(256)))]) * chance.choice((1, 1, 4, 100))
            changed[at : at + len(block)] = block
        place.write_bytes(changed)
    return places


@pytest.mark.parametrize("name", EVERY_KIND)
def test_any_change_of_bytes_gives_facts_or_a_reason(name: str, clip: ClipFactory, tmp_path: Path) -> None:
    """In a worker, as in a check: libmediainfo is known to go round for ever in some damaged files."""
    places = changed_copies(name, clip(BY_NAME[name]).read_bytes(), tmp_path)
    with FileWorkers(1, SECONDS_MAX) as pool:
        tasks = [pool.submit(read_facts, place, place.name) for place in places]
        for task in tasks:
            error = task.exception()
            assert error is None or isinstance(error, WorkerTooSlow)
            assert error or isinstance(task.result(), MediaFacts | Unreadable)
    slow = sum(task.exception() is not None for task in tasks)
    assert slow <= SLOW_MAX


@pytest.mark.parametrize("name", EVERY_KIND)
def test_noise_under_any_name_is_unreadable_or_sound(name: str, tmp_path: Path) -> None:
    """Some decoders of sound find a frame in anything; nobody finds a picture."""
    place = tmp_path / name
    for seed in range(3):
        place.write_bytes(random.Random(seed).randbytes(20_000))
        facts = timed(place)
        assert isinstance(facts, Unreadable) or (isinstance(facts, MediaFacts) and facts.video is None)
