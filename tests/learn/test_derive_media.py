"""Learning from real files, from the listing of a folder to the verdict on it."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from mediacheck.learn.derive import learned
from mediacheck.learn.document import document
from mediacheck.learn.limits import profile_of
from mediacheck.learn.model import Taught
from mediacheck.learn.refusal import refusals
from mediacheck.profile_files import read_profile
from mediacheck.survey import Options, survey
from tests.learn.cards import limits, report, values

SAMPLES = Path(__file__).parents[2] / "sample_media"


def surveyed(folder: Path, *names: str) -> Taught:
    """A folder with copies of these samples."""
    folder.mkdir()
    for name in names:
        shutil.copy(SAMPLES / name, folder)
    return Taught(folder.name, survey(folder, Options(depth="quick", jobs=1, use_cache=False)))


@pytest.fixture(scope="module")
def cards(tmp_path_factory: pytest.TempPathFactory) -> tuple[Taught, Taught]:
    folder = tmp_path_factory.mktemp("cards")
    return (
        surveyed(
            folder / "left", "watering-landscape.mp4", "soil-4-3.mp4", "bulbs-baseline.jpg", "watering.png"
        ),
        surveyed(folder / "right", "seeds-portrait.mp4", "offers-h265.mp4", "night.avi"),
    )


def test_real_cards_pass_what_was_learned_from_them(cards: tuple[Taught, Taught]) -> None:
    assert refusals(cards, "quick") == ()
    assert [report(card, cards).verdict for card in cards] == ["pass", "pass"]
    assert [report(card, cards[:1]).verdict for card in cards] == ["pass", "fail"]


def test_real_files_teach_what_is_in_them(cards: tuple[Taught, Taught]) -> None:
    found = limits(*cards)
    assert found["video", "containers"] == ("MP4", "AVI")
    assert set(found["video", "codecs"]) >= {"H.264", "H.265"}
    assert found["stills", "formats"] == ("JPEG", "PNG")
    assert found["layout", "media_folder"] == "/"
    assert values(*cards)["video", "containers"].evidence.startswith("seen on 2 of 2 cards: 5 files; ")


def test_what_is_written_down_is_what_was_learned(cards: tuple[Taught, Taught], tmp_path: Path) -> None:
    told = learned(cards, "quick")
    path = tmp_path / "my-player.yaml"
    path.write_text(document(told, "my-player", "My player"), "utf-8")
    read = read_profile(path).profile.model_dump(exclude={"id", "title", "notes"})
    assert read == profile_of(told.values).model_dump(exclude={"id", "title", "notes"})
