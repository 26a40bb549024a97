"""All files of a card are looked at while the caller gets ready what it needs next."""

from __future__ import annotations

import time
from pathlib import Path

import pytest
from PIL import Image

from mediacheck.card.opening import open_card
from mediacheck.card.within import Within
from mediacheck.inspection import Inspection, Wanted
from mediacheck.survey import Options, survey_card, surveying

BEGUN = "begun"


def marks(location: Path | Within, path: str, size_bytes: int, wanted: Wanted) -> Inspection:
    """Leaves a mark in the folder above the card."""
    assert isinstance(location, Path)
    (location.parent.parent / BEGUN).touch()
    return Inspection("still", sha256="0" * 64)


def hangs(location: Path | Within, path: str, size_bytes: int, wanted: Wanted) -> Inspection:
    time.sleep(60)
    return Inspection("still")


@pytest.fixture
def card(tmp_path: Path) -> Path:
    folder = tmp_path / "card"
    folder.mkdir()
    Image.new("RGB", (64, 36), "green").save(folder / "1.jpg")
    return folder


def test_the_work_goes_on_before_its_result_is_asked_for(card: Path) -> None:
    opened = open_card(card)
    with surveying(opened, Options("quick", 1), inspector=marks) as seen:
        deadline_s = time.monotonic() + 20
        while not (card.parent / BEGUN).exists() and time.monotonic() < deadline_s:
            time.sleep(0.05)
        assert (card.parent / BEGUN).exists()
        found = seen()
    assert found == survey_card(opened, Options("quick", 1), inspector=marks)
    assert [file.sha256 for file in found.files] == ["0" * 64]


def test_what_the_caller_raises_ends_the_work(card: Path) -> None:
    begun_s = time.monotonic()
    with (
        pytest.raises(LookupError, match="no such profile"),
        surveying(open_card(card), Options("quick", 1), inspector=hangs),
    ):
        raise LookupError("no such profile")
    assert time.monotonic() - begun_s < 30


def test_a_card_without_files_is_a_survey_too(tmp_path: Path) -> None:
    (tmp_path / "empty").mkdir()
    with surveying(open_card(tmp_path / "empty"), Options("quick", 1), inspector=hangs) as seen:
        assert seen().files == ()
