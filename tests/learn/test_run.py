"""Learning as a whole, with hand-made surveys: what is refused, what is written where, and what is told."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest

from mediacheck.card.model import Card
from mediacheck.errors import CardError, OutputError, ProfileError, WrongUse
from mediacheck.learn.run import CannotTeach, Lesson, Outcome, learn
from mediacheck.loop import File
from mediacheck.profile_files import read_profile
from mediacheck.survey import Surveyed
from tests.rules import make

Look = Callable[[Path], Surveyed]


def surveyed(*files: File) -> Surveyed:
    """A sound card with these files."""
    there: Card = make.card(*files)
    return Surveyed(there, make.placed(files), {})


def video(path: str, size_bytes: int = 1_000_000, **changes: object) -> File:
    """A clip in full HD, told from others by its size."""
    return make.video_file(path, video=make.video_facts(**changes), size_bytes=size_bytes)


HD = surveyed(video("1.mp4"), video("2.mp4", 2_000_000), video("3.mp4", 3_000_000))
SMALL = surveyed(
    *(
        video(
            f"{size}.mp4",
            size,
            width=1280,
            height=720,
            level="3.1",
            level_needed="3.1",
            frame_rate=Fraction(25),
        )
        for size in (1_100_000, 1_200_000)
    )
)
JUNK = surveyed(video("1.mp4"), video("2.mp4", 2_000_000), make.junk_file("._1.mp4"))


@pytest.fixture
def place(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """An empty folder to work in, with folders that stand for cards."""
    monkeypatch.chdir(tmp_path)
    for name in ("hd", "small", "junk"):
        Path(name).mkdir()
    return tmp_path


def look(card: Path) -> Surveyed:
    """The card of that name."""
    return {"hd": HD, "small": SMALL, "junk": JUNK}[card.name]


def lesson(
    *cards: str, out: str = "my-player.yaml", merge: str | None = None, even_so: bool = False
) -> Lesson:
    """What a person asks for."""
    return Lesson(cards, Path(out), Path(merge) if merge else None, even_so, "quick")


def not_looked_at(card: Path) -> Surveyed:
    """Fails the test: the mistake should be told before long work."""
    raise AssertionError(f"{card} was looked at")


def test_a_profile_is_written_that_its_cards_pass(place: Path) -> None:
    outcome = learn(lesson("hd", "small"), look)
    profile = read_profile("my-player.yaml").profile
    assert (profile.id, profile.title) == ("my-player", "Learned from 2 cards that play")
    assert "hd" in profile.notes
    assert (profile.video.width_max, profile.video.height_max) == (1920, 1080)
    assert [str(rate) for rate in profile.video.frame_rates or ()] == ["25", "30"]
    assert (outcome.cards, outcome.out) == ((("hd", 3), ("small", 2)), Path("my-player.yaml"))
    assert (outcome.unfit, outcome.refused, outcome.widened, outcome.kept) == ((), (), (), ())
    assert any(
        re.match(r"video.bit_rate_max: 8 Mbit/s \(seen .*; rounded up", line) for line in outcome.rounded
    )


def test_a_card_that_cannot_teach_is_refused_with_its_reason_and_nothing_is_written(place: Path) -> None:
    with pytest.raises(CannotTeach) as caught:
        learn(lesson("hd", "junk"), look)
    assert caught.value.exit_code == 2
    assert re.fullmatch(r'junk: "\._1\.mp4": .+\.', str(caught.value))
    assert not Path("my-player.yaml").exists()


def test_even_so_learns_from_it_and_says_what_was_wrong(place: Path) -> None:
    outcome = learn(lesson("junk", even_so=True), look)
    assert [refused.card for refused in outcome.refused] == ["junk"]
    assert read_profile("my-player.yaml").profile.video.width == 1920
    assert [(unfit.card, unfit.verdict) for unfit in outcome.unfit] == [("junk", "fail")]
    assert outcome.unfit[0].sentence.startswith("junk does not pass this profile: ._1.mp4: ")


def test_a_second_card_widens_and_all_cards_pass(place: Path) -> None:
    learn(lesson("hd"), look)
    outcome = learn(lesson("small", merge="my-player.yaml"), look)
    assert (outcome.unfit, outcome.kept) == ((), ())
    assert any(line.startswith("video.width: at most 1920 pixels now") for line in outcome.widened)
    again = learn(lesson("hd", merge="my-player.yaml"), look)
    assert (again.unfit, again.widened) == ((), ())


def test_a_merge_can_be_written_elsewhere(place: Path) -> None:
    learn(lesson("hd"), look)
    before = Path("my-player.yaml").read_bytes()
    learn(lesson("small", merge="my-player.yaml", out="wider.yaml"), look)
    assert Path("my-player.yaml").read_bytes() == before
    assert read_profile("wider.yaml").profile.video.width_max == 1920


def test_a_value_that_a_person_keeps_tells_that_a_card_does_not_pass(place: Path) -> None:
    learn(lesson("hd"), look)
    path = Path("my-player.yaml")
    path.write_text(
        path.read_text("utf-8").replace("frame_rates: [30]", "frame_rates: [24]  # mine"), "utf-8"
    )
    outcome = learn(lesson("small", merge="my-player.yaml"), look)
    assert outcome.kept[0].startswith(
        "video.frame_rates stays 24 frames per second as you wrote it; 25 frames"
    )
    assert [(unfit.card, unfit.verdict) for unfit in outcome.unfit] == [("small", "fail")]
    assert re.match(
        r"small does not pass this profile: 1100000\.mp4: .+ such findings\. `medi", outcome.unfit[0].sentence
    )
    assert "frame_rates: [24]  # mine" in path.read_text("utf-8")


def test_line_ends_of_the_merged_file_stay(place: Path) -> None:
    learn(lesson("hd"), look)
    path = Path("my-player.yaml")
    path.write_bytes(path.read_bytes().replace(b"\n", b"\r\n"))
    learn(lesson("small", merge="my-player.yaml"), look)
    assert path.read_bytes().count(b"\n") == path.read_bytes().count(b"\r\n")


@pytest.mark.parametrize(
    ("asked", "error", "says"),
    [
        (lesson("hd", out="there.yaml"), WrongUse, "there is already|there.yaml is there already"),
        (lesson("hd", out="there.yaml", merge="other.yaml"), WrongUse, "is there already"),
        (lesson("hd", out="hd/p.yaml"), WrongUse, "cards are only read"),
        (lesson("hd", "there.yaml", out="there.yaml", merge="there.yaml"), WrongUse, "cards are only read"),
        (lesson("hd", "./hd"), WrongUse, "named twice"),
        (lesson(" "), WrongUse, "A card without a name"),
        (lesson("hd", out="small"), OutputError, "it is a folder"),
        (lesson("hd", out="gone/p.yaml"), OutputError, "there is no folder gone"),
        (lesson("hd", merge="gone.yaml"), ProfileError, "no file of this name"),
        (lesson("hd", out="bad.yaml", merge="bad.yaml"), ProfileError, "video.width: expected"),
    ],
)
def test_a_mistake_is_told_before_any_card_is_looked_at(
    asked: Lesson, error: type[Exception], says: str, place: Path
) -> None:
    Path("there.yaml").write_text("id: there\n")
    Path("other.yaml").write_text("id: other\n")
    Path("bad.yaml").write_text("video: {width: big}\n")
    before = {path: path.read_bytes() for path in place.rglob("*.yaml")}
    with pytest.raises(error, match=says):
        learn(asked, not_looked_at)
    assert {path: path.read_bytes() for path in place.rglob("*.yaml")} == before


def test_a_card_that_is_not_there_leaves_the_merged_file_as_it_was(place: Path) -> None:
    def gone(card: Path) -> Surveyed:
        raise CardError(f"there is nothing at {card}")

    Path("there.yaml").write_text("id: there\n")
    with pytest.raises(CardError):
        learn(lesson("gone", out="there.yaml", merge="there.yaml"), gone)
    assert Path("there.yaml").read_text() == "id: there\n"


def test_what_a_person_writes_while_cards_are_looked_at_is_not_lost(place: Path) -> None:
    learn(lesson("hd"), look)
    out = Path("my-player.yaml")

    def look_slowly(card: Path) -> Surveyed:
        out.write_text(out.read_text() + "# asked the maker\n")
        return look(card)

    learn(lesson("small", merge="my-player.yaml"), look_slowly)
    assert out.read_text().count("# asked the maker\n") == 1
    assert read_profile(out).profile.video.width_max == 1920


def test_a_profile_that_comes_up_while_cards_are_looked_at_is_not_replaced(place: Path) -> None:
    out = Path("new.yaml")

    def look_slowly(card: Path) -> Surveyed:
        out.write_text("mine")
        return look(card)

    with pytest.raises(WrongUse, match="is there already"):
        learn(lesson("hd", out="new.yaml"), look_slowly)
    assert out.read_text() == "mine"


def test_a_name_that_no_profile_can_have_still_makes_one(place: Path) -> None:
    outcome: Outcome = learn(replace(lesson("hd"), out=Path("…ä b.yaml")), look)
    assert read_profile(outcome.out).profile.id == "b"
