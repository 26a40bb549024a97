"""What a file's name promises."""

from __future__ import annotations

from typing import get_args

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mediacheck.media.extensions import EXTENSIONS, extension, extensions_for, kind_by_name, promised_format
from mediacheck.names import Container, FileKind, StillFormat


@pytest.mark.parametrize(
    ("name", "kind", "format_name"),
    [
        ("clip.mp4", "video", "MP4"),
        ("CLIP.M4V", "video", "MP4"),
        ("clip.mov", "video", "MOV"),
        ("clip.mkv", "video", "MKV"),
        ("clip.avi", "video", "AVI"),
        ("clip.ts", "video", "MPEG-TS"),
        ("clip.m2ts", "video", "MPEG-TS"),
        ("clip.MTS", "video", "MPEG-TS"),
        ("clip.mpg", "video", "MPEG-PS"),
        ("clip.vob", "video", "MPEG-PS"),
        ("clip.wmv", "video", "WMV"),
        ("clip.webm", "video", "WebM"),
        ("card.jpg", "still", "JPEG"),
        ("card.JPEG", "still", "JPEG"),
        ("card.jfif", "still", "JPEG"),
        ("card.png", "still", "PNG"),
        ("card.heic", "still", "HEIF"),
        ("music.mp3", "audio", "MP3"),
        ("a.b.mp4", "video", "MP4"),
        ("clip.mp4. ", "video", "MP4"),
        ("notes.txt", "other", None),
        ("clip", "other", None),
        (".mp4", "other", None),
        ("mp4", "other", None),
        ("clip.mp4.txt", "other", None),
    ],
)
def test_the_last_extension_decides(name: str, kind: FileKind, format_name: str | None) -> None:
    assert (kind_by_name(name), promised_format(name)) == (kind, format_name)


@pytest.mark.parametrize("format_name", [*get_args(Container), *get_args(StillFormat)])
def test_every_format_of_the_profile_has_an_extension(format_name: str) -> None:
    endings = extensions_for(format_name)
    assert endings
    assert {promised_format(f"file{ending}") for ending in endings} == {format_name}


@pytest.mark.parametrize(
    ("format_name", "usual"),
    [
        ("MP4", ".mp4"),
        ("MPEG-TS", ".ts"),
        ("MPEG-PS", ".mpg"),
        ("JPEG", ".jpg"),
        ("WMV", ".wmv"),
        ("?", None),
    ],
)
def test_the_usual_extension_comes_first(format_name: str, usual: str | None) -> None:
    assert next(iter(extensions_for(format_name)), None) == usual


def test_extensions_are_written_as_they_are_looked_up() -> None:
    assert [extension(f"file{ending}") for ending in EXTENSIONS] == list(EXTENSIONS)


@given(st.text())
def test_any_name_gets_an_answer(name: str) -> None:
    assert (kind_by_name(name) == "other") == (promised_format(name) is None)
