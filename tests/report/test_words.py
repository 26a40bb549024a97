"""How a name, a size, a time or a fact is worded."""

from __future__ import annotations

import unicodedata
from dataclasses import replace
from datetime import UTC, datetime
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mediacheck.card.model import Volume
from mediacheck.loop import File
from mediacheck.media.facts import MediaFacts, Unreadable
from mediacheck.report.words import (
    clock,
    counted,
    facts_words,
    length_words,
    listed,
    moment_words,
    safe,
    size_words,
    volume_words,
)
from tests.report.make import CLIP, STILL, VIDEO, entry


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("größe 花.mp4", "größe 花.mp4"),
        ("\x1b[2J.mp4", "\\x1b[2J.mp4"),
        ("a\nb\tc", "a\\nb\\tc"),
        ("\u202egpj.exe", "\\u202egpj.exe"),
        ("\u2066a\u2069", "\\u2066a\\u2069"),
        ("\udc80", "\\udc80"),
        ("soft\u00adhyphen\ufeff", "soft\\xadhyphen\\ufeff"),
        ("न\u200dम", "न\u200dम"),
    ],
)
def test_what_is_not_drawn_is_shown_as_an_escape(text: str, shown: str) -> None:
    assert safe(text) == shown


@given(st.text(st.characters()))
def test_no_control_or_direction_mark_passes(text: str) -> None:
    left = {unicodedata.category(character) for character in safe(text) if character not in "\u200c\u200d"}
    assert left.isdisjoint({"Cc", "Cf", "Cs", "Zl", "Zp"})


@pytest.mark.parametrize(
    ("seconds", "words", "on_the_clock"),
    [
        (None, "not known", "not known"),
        (Fraction(0), "0 s", "0:00"),
        (Fraction(1, 100), "under 0.1 s", "0:00"),
        (Fraction(25, 2), "12.5 s", "0:12"),
        (Fraction(12), "12 s", "0:12"),
        (Fraction(59_960, 1000), "1 min", "1:00"),
        (Fraction(92), "1 min 32 s", "1:32"),
        (Fraction(120), "2 min", "2:00"),
        (Fraction(7501), "2 h 5 min 1 s", "2:05:01"),
        (Fraction(3600), "1 h", "1:00:00"),
    ],
)
def test_lengths_and_moments(seconds: Fraction | None, words: str, on_the_clock: str) -> None:
    assert (length_words(seconds), clock(seconds)) == (words, on_the_clock)


@pytest.mark.parametrize(
    ("size", "words"),
    [
        (0, "0 bytes"),
        (1, "1 byte"),
        (999, "999 bytes"),
        (1000, "1.0 kB"),
        (999_949, "999.9 kB"),
        (999_950, "1.0 MB"),
        (31_900_000_000, "31.9 GB"),
        (2_000_000_000_000, "2.0 TB"),
        (5_000_000_000_000_000, "5000.0 TB"),
    ],
)
def test_sizes_are_in_powers_of_1000_as_on_cards(size: int, words: str) -> None:
    assert size_words(size) == words


def test_numbers_and_lists() -> None:
    assert [counted(1, "item"), counted(10_000, "item"), counted(2, "copy", "copies")] == [
        "1 item",
        "10,000 items",
        "2 copies",
    ]
    assert [listed(("a", "b"), 2), listed(("a", "b", "c"), 2)] == ["a, b", "a, b and 1 more"]


def test_the_moment_of_the_check() -> None:
    assert moment_words(datetime(2026, 1, 3, 9, 5, tzinfo=UTC)) == "3 January 2026, 09:05 UTC"


@pytest.mark.parametrize(
    ("volume", "words"),
    [
        (None, ""),
        (Volume(), ""),
        (
            Volume("FAT32", "MBR", "GARDEN-A", capacity_bytes=31_900_000_000),
            "FAT32 in MBR, 31.9 GB, label GARDEN-A",
        ),
        (Volume("exFAT", "none"), "exFAT"),
        (Volume(None, "none", capacity_bytes=31_900_000_000), "not known, 31.9 GB"),
    ],
)
def test_the_file_system(volume: Volume | None, words: str) -> None:
    assert volume_words(volume) == words


def test_what_a_file_is() -> None:
    silent = replace(CLIP, audio=(), video=replace(VIDEO, profile=None, level=None, frame_rate=None))
    sound_only = MediaFacts("audio", audio=CLIP.audio)
    files = (
        File(entry("a.mp4"), "video", CLIP),
        File(entry("b.mp4"), "video", silent),
        File(entry("c.aac"), "audio", sound_only),
        File(entry("d.jpg"), "still", STILL),
        File(entry("e.mp4"), "video", Unreadable("video", "The file is empty.")),
        File(entry("f.txt"), "other"),
        None,
    )
    assert [facts_words(file) for file in files] == [
        "MP4, H.264 High 4.1, 1920 x 1080, 29.97 frames/s, sound AAC",
        "MP4, H.264, 1920 x 1080, no sound",
        "no picture, sound AAC",
        "JPEG, 1920 x 1080",
        "could not be read",
        "",
        "",
    ]
