"""The image that is going to be written: read whole, and held against the list of checksums beside it."""

from __future__ import annotations

import hashlib
from pathlib import Path

import pytest

from mediacheck.build.proven_image import prove_image
from mediacheck.errors import CardError, ManifestError, MediacheckError
from mediacheck.manifest.sums import sums_text
from mediacheck.watching import NoByteWatcher
from tests.card.card_programs import run
from tests.card.filled import MIB, sized

CONTENT = b"watering" * 700_000
SHA256 = hashlib.sha256(CONTENT).hexdigest()


@pytest.fixture
def image(tmp_path: Path) -> Path:
    """An image of two blocks."""
    path = tmp_path / "face a.img"
    path.write_bytes(CONTENT)
    return path


def listing(image: Path, *pairs: tuple[str, str]) -> Path:
    """A list of checksums beside it."""
    path = image.with_name(f"{image.name}.sha256")
    path.write_text(sums_text(pairs))
    return path


def told(image: Path) -> tuple[type[MediacheckError], str, str]:
    """How it is refused."""
    with pytest.raises(MediacheckError) as refused:
        prove_image(image, NoByteWatcher())
    return type(refused.value), str(refused.value), refused.value.advice


def test_without_a_list_it_is_only_read(image: Path) -> None:
    proven = prove_image(image, NoByteWatcher())
    assert (proven.size_bytes, proven.sha256) == (len(CONTENT), SHA256)
    assert (proven.is_listed, proven.has_gpt) == (False, False)


def test_with_a_list_it_is_proven(image: Path) -> None:
    listing(image, ("face b.img", "0" * 64), (image.name, SHA256))
    assert prove_image(image, NoByteWatcher()).is_listed


def test_other_bytes_than_the_list_says(image: Path) -> None:
    listing(image, (image.name, "0" * 64))
    assert told(image) == (
        CardError,
        f"{image} is not the image that face a.img.sha256 names: its bytes are others",
        "Build it or copy it again.",
    )


def test_a_list_that_does_not_name_it(image: Path) -> None:
    place = listing(image, ("face b.img", SHA256))
    assert told(image) == (
        ManifestError,
        f"{place} stands beside the image, and does not name it",
        "Give the image the name that it was built with, or remove the list.",
    )


def test_a_list_that_is_none(image: Path) -> None:
    place = listing(image)
    place.write_text("no list\n")
    kind, said, _ = told(image)
    assert (kind, said) == (
        ManifestError,
        f"{place} is no manifest and no list of SHA-256: see line 1",
    )


def test_a_list_that_cannot_be_read(image: Path) -> None:
    place = image.with_name(f"{image.name}.sha256")
    place.mkdir()
    kind, said, _ = told(image)
    assert (kind, said) == (ManifestError, f"{place} cannot be read: Is a directory")


def test_an_image_that_grows_meanwhile(image: Path) -> None:
    class Grower(NoByteWatcher):
        def advanced(self, count_bytes: int) -> None:
            with image.open("ab") as file:
                file.write(b"more")

    with pytest.raises(CardError, match="was changed while it was read"):
        prove_image(image, Grower())


@pytest.mark.parametrize(("given", "why"), [("none.img", "No such file"), ("a\0.img", "null byte")])
def test_no_image(tmp_path: Path, given: str, why: str) -> None:
    kind, said, _ = told(tmp_path / given)
    assert kind is CardError
    assert why in said


@pytest.mark.parametrize("path", ["/dev/null", "/"])
def test_what_is_no_file(path: str) -> None:
    assert told(Path(path))[1] == f"{path} is no image: give the file of an image, such as card.img"


def test_a_gpt_in_it_is_seen(tmp_path: Path) -> None:
    path = sized(tmp_path / "gpt.img", 4 * MIB)
    run("sgdisk", "--new=1:2048:4095", path)
    assert prove_image(path, NoByteWatcher()).has_gpt
