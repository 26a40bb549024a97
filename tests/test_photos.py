"""Photos lose what they say of people, and not a pixel: read back by Pillow."""

from __future__ import annotations

import io
import subprocess
from datetime import UTC, datetime
from pathlib import Path

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
def test_png_is_written_anew_with_the_same_pixels(mode: str) -> None:
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
