"""The door of the room: any file gives facts, a reason why there are none, or is no media."""

from __future__ import annotations

import os
import subprocess
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest
from PIL import Image

from mediacheck.media import mediainfo
from mediacheck.media.facts import ContainerFacts, MediaFacts, Unreadable
from mediacheck.media.mediainfo import SecondOpinion
from mediacheck.media.read import read_facts
from tests.conftest import ClipFactory
from tests.media.probe import ours
from tests.media.recipe import Variant
from tests.media.variants import BY_NAME

NAMES_WITHOUT_TEXT = pytest.mark.skipif(os.name == "nt", reason="Windows has no names that are not Unicode")


def put(folder: Path, name: str, data: bytes) -> Path:
    (folder / name).write_bytes(data)
    return folder / name


def test_text_is_no_media_unless_its_name_says_so(tmp_path: Path) -> None:
    place = put(tmp_path, "note", b"Ring the store before nine.")
    assert read_facts(place, "note.txt") is None
    assert read_facts(place, "note") is None
    assert read_facts(place, "note.mp4") == Unreadable(
        "video",
        "its name says MP4, but no reader finds pictures in it",
        ContainerFacts("MOV", "missing"),
    )
    assert read_facts(place, "note.mp3") == Unreadable(
        "audio", "its name says MP3, but no reader finds sound in it", ContainerFacts("MP3")
    )


def test_an_empty_file_is_a_reason_where_media_was_promised(tmp_path: Path) -> None:
    place = put(tmp_path, "empty", b"")
    assert read_facts(place, "empty.txt") is None
    assert read_facts(place, "empty.mp4") == Unreadable("video", "the file is empty")
    assert read_facts(place, "empty.jpg") == Unreadable("still", "the file is empty")


def test_the_content_counts_and_not_the_name(clip: ClipFactory, tmp_path: Path) -> None:
    """A film called .jpg is a film, a photo called .mp4 is a photo, and a film without a name too."""
    film = clip(BY_NAME["h264.avi"])
    for name in ("film.jpg", "film", "film.mp4"):
        facts = read_facts(film, name)
        assert isinstance(facts, MediaFacts)
        assert facts.kind == "video"
        assert facts.container == ContainerFacts("AVI", "first")
    Image.new("RGB", (8, 8)).save(tmp_path / "photo.jpg")
    photo = read_facts(tmp_path / "photo.jpg", "photo.mp4")
    assert isinstance(photo, MediaFacts)
    assert (photo.kind, photo.still and photo.still.format) == ("still", "JPEG")


def test_sound_alone_is_audio_but_a_film_by_its_name_stays_one(clip: ClipFactory) -> None:
    place = clip(BY_NAME["sound.m4a"])
    for name, kind in (("sound.m4a", "audio"), ("sound.mp4", "video")):
        facts = read_facts(place, name)
        assert isinstance(facts, MediaFacts)
        assert (facts.kind, facts.video, len(facts.audio)) == (kind, None, 1)


@pytest.mark.parametrize("name", ["playlist.mp4", "playlist.mpg", "playlist.ts"])
def test_a_playlist_is_not_followed(name: str, clip: ClipFactory, tmp_path: Path) -> None:
    """Scripts that name other files (HLS, ffconcat, DASH) must not make a reader open those."""
    put(tmp_path, "other.ts", clip(BY_NAME["h264.ts"]).read_bytes())
    scripts = (
        "#EXTM3U\n#EXT-X-TARGETDURATION:2\n#EXTINF:1,\nother.ts\n#EXT-X-ENDLIST\n",
        "ffconcat version 1.0\nfile 'other.ts'\n",
        "<?xml version='1.0'?><MPD><Period><BaseURL>other.ts</BaseURL></Period></MPD>",
    )
    for script in scripts:
        assert isinstance(read_facts(put(tmp_path, name, script.encode()), name), Unreadable)
        if os.name != "nt":
            unnamed = put(tmp_path, os.fsdecode(b"\xff" + name.encode()), script.encode())
            assert isinstance(read_facts(unnamed, name), Unreadable)


@NAMES_WITHOUT_TEXT
@pytest.mark.parametrize("name", ["h264-main-24.mp4", "h264-turned.mkv", "h264.ts", "sound.mp3"])
def test_a_name_that_is_not_unicode_gives_the_same_facts(
    name: str, clip: ClipFactory, tmp_path: Path
) -> None:
    location = clip(BY_NAME[name])
    odd = tmp_path / os.fsdecode(b"gie\xdfkanne" + location.suffix.encode())
    odd.write_bytes(location.read_bytes())
    facts, usual = read_facts(odd, odd.name), read_facts(location, location.name)
    assert isinstance(facts, MediaFacts)
    assert facts == usual


@pytest.mark.parametrize("name", ["#1 50% 100%25.mp4", "concat:a|b.mp4", "pipe:0.mp4", "-i.mp4", "ü 春.mp4"])
@pytest.mark.skipif(os.name == "nt", reason="Windows has no such names")
def test_names_that_mean_something_to_ffmpeg_are_only_names(
    name: str, clip: ClipFactory, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Also where they are given relative to the current folder."""
    location = clip(BY_NAME["h264-422.mp4"])
    put(tmp_path, name, location.read_bytes())
    monkeypatch.chdir(tmp_path)
    assert read_facts(Path(name), name) == read_facts(location, location.name)


@pytest.mark.parametrize("name", ["h264-ntsc.mp4", "h264-flac.mkv", "h264.avi"])
def test_a_title_in_another_encoding_changes_nothing(
    name: str, clip: ClipFactory, ffmpeg: str, tmp_path: Path
) -> None:
    """Old programs write Latin-1 where UTF-8 is expected; no rule reads titles."""
    location = clip(BY_NAME[name])
    titled = Variant(f"titled-{name}", BY_NAME[name].arguments + " -metadata title=GieXkanne", "", rate="30")
    data = titled.make(ffmpeg, tmp_path).read_bytes()
    assert b"GieXkanne" in data
    facts = read_facts(put(tmp_path, name, data.replace(b"GieXkanne", b"Gie\xdfkanne")), name)
    assert isinstance(facts, MediaFacts)
    usual = read_facts(location, name)
    assert isinstance(usual, MediaFacts)
    assert ours(facts)["codec"] == ours(usual)["codec"]


def test_a_picture_that_no_decoder_is_known_for_is_unreadable(clip: ClipFactory, tmp_path: Path) -> None:
    data = bytearray(clip(BY_NAME["h264-422.mp4"]).read_bytes())
    entry = data.index(b"avc1", data.index(b"stsd"))
    data[entry : entry + 4] = b"zzz1"
    facts = read_facts(put(tmp_path, "film.mp4", bytes(data)), "film.mp4")
    assert facts == Unreadable(
        "video", "its picture is coded in a way that no reader knows", ContainerFacts("MP4", "last")
    )


def test_a_sound_that_no_decoder_is_known_for_is_listed_as_unknown(clip: ClipFactory, tmp_path: Path) -> None:
    data = bytearray(clip(BY_NAME["h264-30.mov"]).read_bytes())
    entry = data.index(b"sowt")
    data[entry : entry + 4] = b"zzz2"
    facts = read_facts(put(tmp_path, "film.mov", bytes(data)), "film.mov")
    assert isinstance(facts, MediaFacts)
    assert [sound.codec for sound in facts.audio] == ["unknown"]
    assert facts.video is not None


def test_facts_stand_where_the_second_reader_gives_up(
    clip: ClipFactory, monkeypatch: pytest.MonkeyPatch
) -> None:
    location = clip(BY_NAME["h264-422.mp4"])
    usual = read_facts(location, location.name)
    monkeypatch.setattr(mediainfo, "read", lambda _: None)
    assert read_facts(location, location.name) == usual


def test_what_only_the_second_reader_knows_is_taken_from_it(
    clip: ClipFactory, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whether MPEG-4 is interlaced, and whether a file is encrypted."""
    location = clip(BY_NAME["mpeg4.mp4"])
    usual = read_facts(location, location.name)
    assert isinstance(usual, MediaFacts)
    assert usual.video is not None
    assert usual.container is not None
    monkeypatch.setattr(mediainfo, "read", lambda _: SecondOpinion("MP4", True, scan="interlaced"))
    assert read_facts(location, location.name) == replace(
        usual,
        container=replace(usual.container, encrypted=True),
        video=replace(usual.video, scan="interlaced"),
    )


def test_more_pictures_subtitles_and_cover_art_are_told_apart(
    clip: ClipFactory, ffmpeg: str, tmp_path: Path
) -> None:
    """A second picture stream counts, cover art does not, and what else is inside is named."""
    place = Variant("many.mkv", "-map 0 -map 0 -c:v mpeg4", "").make(ffmpeg, tmp_path)
    cover, words = tmp_path / "cover.jpg", tmp_path / "words.srt"
    Image.new("RGB", (32, 32)).save(cover)
    words.write_text("1\n00:00:00,000 --> 00:00:00,500\nWater\n", encoding="utf-8")
    command: list[str | Path] = [ffmpeg, "-v", "error", "-i", place, "-i", words, "-map", "0", "-map", "1"]
    command += ["-c:v", "copy", "-c:s", "srt", "-attach", cover, "-metadata:s:t", "mimetype=image/jpeg"]
    command += ["-metadata:s:t", "filename=cover.jpg", tmp_path / "all.mkv"]
    subprocess.run(command, check=True, timeout=60)
    facts = read_facts(tmp_path / "all.mkv", "all.mkv")
    assert isinstance(facts, MediaFacts)
    assert facts.video is not None
    assert (facts.video.codec, facts.extra_video_streams) == ("MPEG-4", 1)
    assert facts.other_streams == ("subtitle",)


def test_a_file_that_cannot_be_opened_raises_oserror(tmp_path: Path) -> None:
    with pytest.raises(FileNotFoundError):
        read_facts(tmp_path / "missing.mp4", "missing.mp4")
    with pytest.raises(OSError, match=r".+"):
        read_facts(tmp_path, "folder.mp4")


def test_the_item_plays_as_long_as_the_longer_of_picture_and_sound(clip: ClipFactory) -> None:
    facts = read_facts(clip(BY_NAME["h264-fragments.mp4"]), "a.mp4")
    assert isinstance(facts, MediaFacts)
    assert facts.video is not None
    assert (facts.video.duration, facts.audio[0].duration) == (Fraction(1), Fraction("1.08"))
    assert facts.duration == Fraction("1.08")
