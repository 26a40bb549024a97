"""Test material at the ends of a clip is found with its times, and ordinary content is left alone."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import cache
from itertools import chain
from pathlib import Path

import cv2
import numpy as np
import pytest

from mediacheck.measure.leader import LeaderGauge
from mediacheck.measure.model import Leader
from tests.measure.strips import Bytes, make, smalls
from tests.media.footage import real_footage

RATE = 25
HEIGHT, WIDTH = 360, 640
SLATE = ("TITLE  Watering loop", "LENGTH  0:20", "DATE  2026-01-31", "VERSION  3", "CHAIN  Garden centres")
ADDRESS = ("Garden centre", "opens at nine")


def small(drawn: Bytes) -> Bytes:
    """As the decode hands pictures over, with the noise of an encoder."""
    noise = np.random.default_rng(int(drawn[::50, ::50].sum())).integers(-3, 4, (90, 160, 3))
    averaged = cv2.resize(drawn, (160, 90), interpolation=cv2.INTER_AREA)
    return np.asarray(np.clip(averaged + noise, 0, 255), np.uint8)


def ground(level: int) -> Bytes:
    return np.full((HEIGHT, WIDTH, 3), level, np.uint8)


def write(picture: Bytes, text: str, place: tuple[int, int], size: float, level: int = 230) -> None:
    cv2.putText(
        picture, text, place, cv2.FONT_HERSHEY_SIMPLEX, size, (level,) * 3, round(3 * size), cv2.LINE_AA
    )


def card(lines: Sequence[str], seconds: float, size: float = 1.0) -> list[Bytes]:
    """Lettering on a dark ground."""
    picture = ground(40)
    for number, line in enumerate(lines):
        write(picture, line, (40, 60 + 62 * number), size)
    return [small(picture)] * round(seconds * RATE)


def black(seconds: float) -> list[Bytes]:
    return [small(ground(0))] * round(seconds * RATE)


def faded(pictures: list[Bytes]) -> list[Bytes]:
    """Down to black, evenly."""
    steps = np.linspace(1, 0, len(pictures))
    return [(picture * step).astype(np.uint8) for picture, step in zip(pictures, steps, strict=True)]


@cache
def film(seconds: float) -> list[Bytes]:
    """Something else in every picture."""
    rng = np.random.default_rng(7)
    scenes = rng.integers(0, 256, (round(seconds * RATE), 18, 32, 3)).astype(np.uint8)
    return [cv2.resize(scene, (160, 90), interpolation=cv2.INTER_LINEAR).astype(np.uint8) for scene in scenes]


def bars(seconds: float) -> list[Bytes]:
    codes = np.array([(1, 1, 1), (1, 1, 0), (0, 1, 1), (0, 1, 0), (1, 0, 1), (1, 0, 0), (0, 0, 1), (0, 0, 0)])
    picture = (codes.repeat(20, 0)[None].repeat(90, 0) * 191).astype(np.uint8)
    return [picture] * round(seconds * RATE)


def countdown(digits: Sequence[str], *, sweep: bool = True, rate: int = RATE) -> list[Bytes]:
    """Film style: rings and cross hairs, a big digit a second, and a hand that darkens the ground."""
    return [_digit(digit, number / rate, sweep) for digit in digits for number in range(rate)]


def _digit(digit: str, turn: float, sweep: bool) -> Bytes:
    picture = ground(128)
    if sweep:
        cv2.ellipse(picture, (320, 180), (500, 500), -90, 0, 360 * turn, (64, 64, 64), -1)
    for radius in (130, 150):
        cv2.circle(picture, (320, 180), radius, (230, 230, 230), 3)
    cv2.line(picture, (0, 180), (WIDTH, 180), (20, 20, 20), 2)
    (wide, high), _ = cv2.getTextSize(digit, cv2.FONT_HERSHEY_SIMPLEX, 7, 20)
    write(picture, digit, (320 - wide // 2, 180 + high // 2), 7, level=10)
    return small(picture)


def leaders(*parts: list[Bytes], rate: float = RATE) -> tuple[Leader, ...]:
    """What the gauge finds, with times to a hundredth."""
    gauge, pictures = LeaderGauge(), list(chain(*parts))
    for number, picture in enumerate(pictures):
        gauge.see(number / rate, picture)
    found = gauge.result(len(pictures) / rate)
    return tuple(Leader(one.kind, round(one.start_s, 2), round(one.end_s, 2)) for one in found)


def test_a_whole_broadcast_leader_is_told_piece_by_piece() -> None:
    assert leaders(bars(3), card(SLATE, 2), black(1), countdown("5432"), black(1), film(4)) == (
        Leader("colour bars", 0, 3),
        Leader("slate", 3, 5),
        Leader("countdown", 6, 10),
    )


def test_bars_at_the_tail_and_not_in_the_middle() -> None:
    assert leaders(film(20), bars(1), film(20), bars(2)) == (Leader("colour bars", 41, 43),)


def test_a_leader_may_go_on_beyond_fifteen_seconds() -> None:
    assert leaders(bars(20), black(1), countdown("6543"), film(20)) == (
        Leader("colour bars", 0, 20),
        Leader("countdown", 21, 25),
    )


@pytest.mark.parametrize("sweep", [True, False])
def test_a_countdown_is_found_to_the_picture(sweep: bool) -> None:
    assert leaders(film(2), countdown("98765432", sweep=sweep), film(3)) == (Leader("countdown", 2, 10),)


def test_a_countdown_at_the_tail_and_on_black() -> None:
    assert leaders(film(20), countdown("5432")) == (Leader("countdown", 20, 24),)
    assert leaders(countdown("5432", sweep=False), black(2), film(3)) == (Leader("countdown", 0, 4),)


@pytest.mark.parametrize(("rate", "real_rate"), [(24, 24000 / 1001), (30, 30000 / 1001), (60, 60000 / 1001)])
def test_a_countdown_at_broken_frame_rates(rate: int, real_rate: float) -> None:
    found = leaders(countdown("5432", rate=rate), film(2), rate=real_rate)
    assert found == (Leader("countdown", 0, 4),)


def test_a_short_count_is_content() -> None:
    assert leaders(countdown("321"), film(3)) == ()


def test_a_slate_needs_the_company_of_a_leader() -> None:
    one = (Leader("slate", 0, 3),)
    assert leaders(card(SLATE, 3), black(1), film(3)) == one
    assert leaders(card(SLATE, 3), bars(1), film(3)) == (*one, Leader("colour bars", 3, 4))
    assert leaders(card(ADDRESS, 3, 1.8), countdown("5432"), film(3)) == (*one, Leader("countdown", 3, 7))
    assert leaders(black(1), card(SLATE, 3), black(1), film(3)) == (Leader("slate", 1, 4),)


@pytest.mark.parametrize(
    "parts",
    [
        pytest.param((card(SLATE, 3), film(3)), id="a still text slide and a cut"),
        pytest.param((card(ADDRESS, 3, 1.8), black(1), film(3)), id="a title card, cut to black"),
        pytest.param(
            (card(SLATE, 2), faded(card(SLATE, 1)), black(1), film(3)), id="a text slide that fades"
        ),
        pytest.param((film(3), card(SLATE, 3), black(1), film(3)), id="a text slide inside"),
        pytest.param((film(3), black(1), card(SLATE, 4)), id="an end card with many lines"),
        pytest.param(([small(ground(200))] * 75, black(1), film(3)), id="a plain slide"),
        pytest.param((black(4), film(3)), id="black"),
        pytest.param((card(SLATE, 0.6), black(1), film(3)), id="a glimpse of a card"),
    ],
)
def test_ordinary_content_is_no_leader(parts: tuple[list[Bytes], ...]) -> None:
    assert leaders(*parts) == ()


def turning_packet(number: int) -> Bytes:
    picture = ground(200)
    corners = cv2.boxPoints(((320, 180), (80, 160), number * 7.2)).astype(np.int32)
    cv2.fillPoly(picture, [corners], (30, 80, 30))
    return picture


def packet_a_second(number: int) -> Bytes:
    picture, rng = ground(200), np.random.default_rng(number // RATE)
    picture[80:280, 250:390] = rng.integers(0, 256, (10, 7, 3)).repeat(20, 0).repeat(20, 1)
    return picture


def ticking_clock(number: int) -> Bytes:
    picture, turn = ground(200), (number // RATE) * np.pi / 30
    cv2.circle(picture, (320, 180), 120, (0, 0, 0), 3)
    tip = round(320 + 110 * np.sin(turn)), round(180 - 110 * np.cos(turn))
    cv2.line(picture, (320, 180), tip, (0, 0, 0), 5)
    return picture


def word_a_second(number: int) -> Bytes:
    picture, words = ground(40), ("FRESH", "LOCAL", "GREEN", "SEEDS", "WATER", "PLANT", "TODAY", "HERE")
    write(picture, words[number // RATE], (170, 210), 3)
    return picture


@pytest.mark.parametrize("draw", [turning_packet, packet_a_second, ticking_clock, word_a_second])
def test_what_moves_in_the_middle_is_no_countdown(draw: Callable[[int], Bytes]) -> None:
    assert leaders([small(draw(number)) for number in range(8 * RATE)]) == ()


ENCODED = {
    "SMPTE bars": (
        "smptebars=s=320x180:d=1[a];testsrc2=s=320x180:d=1[b];[a][b]concat",
        (Leader("colour bars", 0, 1),),
    ),
    "HD bars": (
        "smptehdbars=s=320x180:d=1[a];testsrc2=s=320x180:d=1[b];[b][a]concat",
        (Leader("colour bars", 1, 2),),
    ),
    "test pattern": ("testsrc2=s=320x180:d=5", ()),
    "test pattern with a clock": ("testsrc=s=320x180:d=8", ()),
    "title over a picture": (
        "testsrc2=s=320x180:d=3,trim=end_frame=1,loop=75:1,drawtext=text='Seeds':fontsize=60:x=80:y=60",
        (),
    ),
}


@pytest.mark.parametrize("name", ENCODED)
def test_encoded_clips(name: str, tmp_path: Path) -> None:
    source, expected = ENCODED[name]
    pictures = smalls(make(tmp_path / "clip.mp4", source, "-crf", "30"))
    assert leaders([picture for _, picture in pictures]) == expected


def test_no_false_alarm_on_real_footage() -> None:
    for clip in real_footage():
        assert leaders([picture for _, picture in smalls(clip)]) == ()


def test_no_pictures_no_leader() -> None:
    assert LeaderGauge().result(0.0) == ()
