"""Loops of clips, decoded as the program does it: what runs on passes, what jumps and clicks is found."""

from __future__ import annotations

import shlex
import subprocess
from collections.abc import Callable
from pathlib import Path

import pytest

from mediacheck.cache import Cache, Key
from mediacheck.loop import File
from mediacheck.measure.decode import measure
from mediacheck.media.facts import MediaFacts
from mediacheck.media.read import read_facts
from mediacheck.rules.loop_seam import loop_seam
from mediacheck.rules.model import PASSED, Answer
from tests.rules import make
from tests.rules.measuring import strict

LIMIT_S = 60.0
SEAMLESS = strict(loop={"black_seconds_max": 2, "seamless": True})
CODED = "-c:v libx264 -preset ultrafast -pix_fmt yuv420p -c:a pcm_s16le"
THERE = f"-f lavfi -i mandelbrot=size=320x180:rate=25 -f lavfi -i sine=440:sample_rate=48000 -t 2 {CODED}"
ELSEWHERE = (
    "-f lavfi -i smptehdbars=size=180x320:rate=25 "
    f"-f lavfi -i 'aevalsrc=0.5*cos(2*PI*440*t):sample_rate=48000' -t 2 {CODED}"
)
Maker = Callable[[str, str], File]


@pytest.fixture
def made(ffmpeg: str, tmp_path: Path) -> Maker:
    """Makes a clip from ffmpeg's arguments, and looks at it; the numbers go through a cache on their way."""
    cache = Cache(tmp_path / "cache", "5.1")

    def run(name: str, arguments: str) -> File:
        place = tmp_path / name
        command = [ffmpeg, "-nostdin", "-v", "error", "-y", *shlex.split(arguments), str(place)]
        subprocess.run(command, check=True, timeout=LIMIT_S, cwd=tmp_path)
        facts = read_facts(place, name)
        assert isinstance(facts, MediaFacts), facts
        key = Key(name.encode().hex().ljust(64, "0"), "full", "b" * 64, "5.1")
        cache.keep(key, measure(Path(ffmpeg), place, facts, 0, LIMIT_S).measurements)
        return make.file_of(name, "video", facts, measurements=cache.find(key))

    return run


def judged(*items: File) -> Answer:
    given: Answer = loop_seam.judge(make.whole(*items, profile=SEAMLESS))
    return given


def found(answer: Answer) -> list[tuple[str, str | None]]:
    """What was seen, in its first words, and the file before the seam."""
    assert isinstance(answer, tuple), answer
    return [(" ".join(each.found.split()[:3]), each.path) for each in answer]


def test_a_film_there_and_back_again_runs_on_at_both_seams(made: Maker) -> None:
    there = made("a.mkv", THERE)
    back = made("b.mkv", f"-i a.mkv -vf reverse {CODED}")
    assert judged(there, back) == PASSED


def test_another_film_between_jumps_and_clicks_at_its_two_seams(made: Maker) -> None:
    """It has another shape, too, and its sound begins at the crest of a wave."""
    there, elsewhere = made("a.mkv", THERE), made("b.mkv", ELSEWHERE)
    back = made("c.mkv", f"-i a.mkv -vf reverse {CODED}")
    assert found(judged(there, elsewhere, back)) == [
        ("a change of", "a.mkv"),
        ("a step in", "a.mkv"),
        ("a change of", "b.mkv"),
        ("a step in", "b.mkv"),
    ]


def test_a_film_that_is_cut_off_jumps_and_clicks_at_its_own_seam(made: Maker) -> None:
    cut = made("a.mkv", THERE.replace("-t 2", "-t 1.9005"))
    assert found(judged(cut)) == [("a change of", "a.mkv"), ("a step in", "a.mkv")]
