"""Photos as phones and people save them: turned, grey, of many bits, twice, and of any shape."""

from __future__ import annotations

import io
from collections.abc import Sequence
from pathlib import Path

import cv2
import numpy as np
import pytest
from PIL import Image

from mediacheck.errors import WrongUse
from mediacheck.identify import looking
from mediacheck.identify.answers import PhotoAnswer, answer_photos
from mediacheck.identify.gallery import Gallery
from mediacheck.identify.looking import look_at_photos, open_photo
from mediacheck.photos import TURNS
from tests.identify.made import WATER, Pixels, frame, jpeg, photo

BACK = {6: Image.Transpose.ROTATE_90, 8: Image.Transpose.ROTATE_270}
"""What undoes a turn that does not undo itself."""


def like(path: Path, wanted: Pixels) -> bool:
    seen, _ = open_photo(path)
    return seen.shape == wanted.shape and float(np.abs(seen.astype(int) - wanted.astype(int)).mean()) < 5


@pytest.fixture(scope="module")
def picture() -> Pixels:
    return photo(frame(WATER))


@pytest.mark.parametrize("orientation", range(1, 9))
def test_each_orientation_is_turned_upright(orientation: int, picture: Pixels, tmp_path: Path) -> None:
    lying = Image.fromarray(picture)
    if orientation != 1:
        lying = lying.transpose(BACK.get(orientation, TURNS[orientation]))
    (tmp_path / "a.jpg").write_bytes(jpeg(np.asarray(lying), orientation))
    assert like(tmp_path / "a.jpg", picture)


def test_sixteen_bits_are_scaled_and_not_cut_off(picture: Pixels, tmp_path: Path) -> None:
    grey = cv2.cvtColor(picture, cv2.COLOR_RGB2GRAY)
    cv2.imwrite(str(tmp_path / "a.png"), grey.astype(np.uint16) * 257)
    assert like(tmp_path / "a.png", np.repeat(grey[:, :, None], 3, axis=2))


@pytest.mark.parametrize("mode", ["CMYK", "L", "P", "RGBA", "LA"])
def test_every_way_to_keep_colours(mode: str, picture: Pixels, tmp_path: Path) -> None:
    made = Image.fromarray(picture).convert(mode)
    name = tmp_path / ("a.jpg" if mode == "CMYK" else "a.png")
    made.save(name)
    assert like(name, np.asarray(made.convert("RGB")))


@pytest.mark.parametrize("size", [(30_000, 1), (2, 2_000), (1, 21)])
def test_what_is_far_too_narrow_is_refused(size: tuple[int, int], tmp_path: Path) -> None:
    Image.new("RGB", size, (255, 200, 3)).save(tmp_path / "a.png")
    with pytest.raises(WrongUse, match="too narrow"):
        open_photo(tmp_path / "a.png")


def test_a_photo_that_breaks_off_says_so(picture: Pixels, tmp_path: Path) -> None:
    whole = jpeg(picture)
    (tmp_path / "a.jpg").write_bytes(whole[: len(whole) // 2])
    with pytest.raises(WrongUse, match=r"it breaks off\.$"):
        open_photo(tmp_path / "a.jpg")


def test_the_same_photo_twice_proves_no_more_than_once(
    picture: Pixels, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for name, content in (("a", picture), ("b", picture), ("c", picture[::-1])):
        made = io.BytesIO()
        Image.fromarray(content).save(made, "JPEG")
        (tmp_path / f"{name}.jpg").write_bytes(made.getvalue())
    seen: list[int] = []

    def counted(photos: Sequence[Pixels], known: Gallery) -> PhotoAnswer:
        seen.append(len(photos))
        return answer_photos(photos, known)

    monkeypatch.setattr(looking, "answer_photos", counted)
    files = tuple(tmp_path / f"{name}.jpg" for name in ("a", "b", "c", "a"))
    look_at_photos(files, tmp_path, (), False)
    assert seen == [2]
