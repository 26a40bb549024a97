"""Photos lose what they say of people, and not a pixel: read back by Pillow."""

from __future__ import annotations

import io
import struct
import subprocess
import zlib
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from PIL import Image
from PIL.ExifTags import Base

from mediacheck import photos
from mediacheck.photos import opened
from mediacheck.stores.reading import NotTaken, kept_form, said_in
from tests.stores.made import NOW, photo


def cleaned(content: bytes) -> bytes:
    said = said_in(content, None, NOW)
    return kept_form(content, said, with_words=False)


def test_nothing_of_people_is_left() -> None:
    before = photo(who="Jane Gardener")
    after = cleaned(before)
    assert b"Jane" in before
    assert b"Jane" not in after
    assert b"Maker of phones" not in after
    found = Image.open(io.BytesIO(after))
    assert dict(found.getexif()) == {Base.Orientation: 6}
    assert found.getexif().get_ifd(0x8825) == {}


@pytest.mark.parametrize("orientation", [1, 3, 6, 8])
@pytest.mark.parametrize("how", [{}, {"progressive": True}, {"subsampling": 0}, {"restart_marker_blocks": 4}])
def test_pixels_stay_as_they_are(orientation: int, how: dict[str, int]) -> None:
    image = Image.effect_noise((321, 243), 80).convert("RGB")
    exif = Image.Exif()
    exif[Base.Orientation] = orientation
    exif[Base.Artist] = "Jane"
    made = io.BytesIO()
    image.save(made, "JPEG", exif=exif, quality=90, **how)
    after = Image.open(io.BytesIO(cleaned(made.getvalue())))
    assert after.tobytes() == Image.open(io.BytesIO(made.getvalue())).tobytes()
    assert after.getexif().get(Base.Orientation, 1) == orientation


def test_what_phones_put_behind_the_picture_goes() -> None:
    """Short films with sound and position stand there."""
    after = cleaned(photo() + b"\0\0\0\x18ftypmp42 and where it was filmed")
    assert b"ftyp" not in after
    assert after.endswith(b"\xff\xd9")


def test_colours_are_kept() -> None:
    from PIL import ImageCms

    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    made = io.BytesIO()
    Image.new("RGB", (64, 64), "green").save(made, "JPEG", icc_profile=profile)
    assert Image.open(io.BytesIO(cleaned(made.getvalue()))).info["icc_profile"] == profile


@pytest.mark.parametrize("mode", ["RGB", "RGBA", "L", "P", "1", "I;16"])
def test_png_keeps_its_pixels_and_no_words(mode: str) -> None:
    from PIL.PngImagePlugin import PngInfo

    image = Image.linear_gradient("L")
    image = image.convert(mode) if mode != "I;16" else Image.new("I;16", (64, 64), 4000)
    words = PngInfo()
    words.add_text("Author", "Jane Gardener")
    made = io.BytesIO()
    image.save(made, "PNG", pnginfo=words)
    after = cleaned(made.getvalue())
    assert b"Jane" not in after
    found = Image.open(io.BytesIO(after))
    assert (
        found.convert("RGBA").tobytes() == Image.open(io.BytesIO(made.getvalue())).convert("RGBA").tobytes()
    )


def chunk(kind: bytes, body: bytes) -> bytes:
    """One of a PNG file."""
    return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))


def made_png(**how: Any) -> bytes:
    made = io.BytesIO()
    Image.linear_gradient("L").convert("P").save(made, "PNG", **how)
    return made.getvalue()


def test_png_keeps_what_is_seen_through_and_its_colours() -> None:
    before = made_png(transparency=bytes(range(256)), icc_profile=b"a profile of colours")
    after = Image.open(io.BytesIO(cleaned(before)))
    assert after.convert("RGBA").tobytes() == Image.open(io.BytesIO(before)).convert("RGBA").tobytes()
    assert after.info["icc_profile"] == b"a profile of colours"


def test_png_keeps_sixteen_bits_of_each_colour() -> None:
    """Pillow reads such a file with eight of them."""
    pixels = zlib.compress(b"\0" + bytes(range(96)))
    head = chunk(b"IHDR", struct.pack(">IIBBBBB", 16, 1, 16, 2, 0, 0, 0))
    before = (b"\x89PNG\r\n\x1a\n", head, chunk(b"IDAT", pixels), chunk(b"IEND", b""))
    words = (chunk(b"tEXt", b"Author\0Jane"), chunk(b"eXIf", b"Jane"), chunk(b"tIME", b"1234567"))
    assert cleaned(b"".join((*before[:2], *words, *before[2:])) + b"Jane") == b"".join(before)


@pytest.mark.parametrize("kind", ["PNG", "WEBP"])
def test_every_kind_of_photo_stays_turned_as_it_was(kind: str) -> None:
    exif = Image.Exif()
    exif[Base.Orientation] = 6
    exif[Base.Artist] = "Jane Gardener"
    made = io.BytesIO()
    Image.linear_gradient("L").convert("RGB").save(made, kind, exif=exif, lossless=True)
    after = cleaned(made.getvalue())
    assert b"Jane" not in after
    found = Image.open(io.BytesIO(after))
    assert dict(found.getexif()) == {Base.Orientation: 6}
    assert found.tobytes() == Image.open(io.BytesIO(made.getvalue())).convert("RGB").tobytes()


def test_a_photo_with_a_second_one_behind_it_stays_the_same_jpeg() -> None:
    """Phones put a picture of distances or of light there; Pillow gives such a file another name."""
    image = Image.effect_noise((320, 240), 80).convert("RGB")
    exif = Image.Exif()
    exif[Base.Orientation] = 6
    alone, made = io.BytesIO(), io.BytesIO()
    image.save(alone, "JPEG", exif=exif)
    image.save(made, "MPO", exif=exif, save_all=True, append_images=[image.rotate(180)])
    assert Image.open(io.BytesIO(made.getvalue())).format == "MPO"
    assert cleaned(made.getvalue()) == cleaned(alone.getvalue())


def test_a_small_picture_in_the_head_goes() -> None:
    """It may show what was cut off from the large one."""
    plain = io.BytesIO()
    Image.new("RGB", (64, 64), "green").save(plain, "JPEG")
    before = plain.getvalue()
    assert before[2:4] == b"\xff\xe0"
    small = b"JFIF\0\x01\x01\0\0\x01\0\x01\x02\x02" + b"her own face"
    rest = before[4 + int.from_bytes(before[4:6], "big") :]
    adobe = b"\xff\xee" + struct.pack(">H", 18) + b"Adobe\0d\0\0\0\0\x01" + b"Jane"
    after = cleaned(b"\xff\xd8\xff\xe0" + struct.pack(">H", len(small) + 2) + small + adobe + rest)
    assert b"face" not in after
    assert b"Jane" not in after
    found = Image.open(io.BytesIO(after))
    assert found.tobytes() == Image.open(plain).tobytes()
    assert (found.info["jfif_version"], found.info["adobe_transform"]) == ((1, 1), 1)


def test_whoever_wants_it_keeps_every_word() -> None:
    before = photo()
    assert kept_form(before, said_in(before, None, NOW), with_words=True) == before


def test_other_programs_find_nothing_either(tmp_path: Path, ffprobe: str) -> None:
    place = tmp_path / "a.jpg"
    place.write_bytes(cleaned(photo(who="Jane Gardener")))
    told = subprocess.run(
        [ffprobe, "-v", "error", "-show_format", "-show_streams", "-show_frames", str(place)],
        capture_output=True,
        check=True,
        timeout=60,
    )
    assert b"Jane" not in told.stdout
    assert b"GPS" not in told.stdout


@pytest.mark.parametrize(
    ("offset", "moment"),
    [
        (None, datetime(2026, 3, 10, 11, 0)),
        ("+01:00", datetime(2026, 3, 10, 10, 0, tzinfo=UTC)),
        ("-08:00", datetime(2026, 3, 10, 19, 0, tzinfo=UTC)),
        ("+24:00", datetime(2026, 3, 10, 11, 0)),
        ("-99:99", datetime(2026, 3, 10, 11, 0)),
    ],
)
def test_when_it_was_taken(offset: str | None, moment: datetime) -> None:
    exif = Image.Exif()
    exif.get_ifd(0x8769)[0x9003] = "2026:03:10 11:00:00"
    if offset:
        exif.get_ifd(0x8769)[0x9011] = offset
    made = io.BytesIO()
    Image.new("RGB", (64, 64)).save(made, "JPEG", exif=exif)
    image = opened(made.getvalue())
    assert image is not None
    found = photos.taken_at(image)
    assert found == moment


def test_a_photo_that_breaks_off_is_not_taken() -> None:
    with pytest.raises(NotTaken, match="no photo that can be read"):
        said_in(photo()[:2000], None, NOW)


def test_heic_is_told_by_its_name_and_what_to_do() -> None:
    with pytest.raises(NotTaken, match=r"HEIC.*JPEG"):
        said_in(b"\0\0\0\x18ftypheic" + bytes(100), None, NOW)


def test_a_picture_of_far_too_many_pixels_is_not_unpacked() -> None:
    made = io.BytesIO()
    Image.new("1", (20_000, 10_000)).save(made, "PNG")
    with pytest.raises(NotTaken):
        said_in(made.getvalue(), None, NOW)


def test_words_that_cannot_be_read_stop_nothing() -> None:
    """Damaged EXIF costs the moment and how it is turned, not the photo."""
    head = photo()
    at = head.index(b"Exif\0\0") + 6
    for spoiled in (
        head[:at] + b"JUNK" + head[at + 4 :],
        made_png()[:33] + chunk(b"eXIf", b"Jane") + made_png()[33:],
        made_png()[:33] + chunk(b"eXIf", b"II*\0\x08\0\0\0\xff\xff") + made_png()[33:],
    ):
        said = said_in(spoiled, None, NOW)
        assert said.picture is not None
        assert photos.orientation(Image.open(io.BytesIO(kept_form(spoiled, said, with_words=False)))) == 1


def test_a_photo_that_would_not_open_any_more_is_not_taken() -> None:
    """A length stands where a marker belongs: Pillow reads on, and what would be left is no photo."""
    whole = photo(orientation=1)
    spoiled = whole[:3] + b"\xff" + whole[4:]
    assert opened(spoiled) is not None
    with pytest.raises(NotTaken, match="breaks off"):
        cleaned(spoiled)
