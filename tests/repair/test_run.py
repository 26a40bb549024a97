"""A whole repair: what is there at any moment, what a second run does, what is refused before work begins."""

from __future__ import annotations

import json
import os
import random
import shutil
import signal
import time
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from mediacheck.errors import CardError, OutputError, WrongUse
from mediacheck.profile import Profile
from mediacheck.repair import batch, staging
from mediacheck.repair.model import NotMade, Wishes
from mediacheck.repair.page import as_html
from mediacheck.repair.places import places_for
from mediacheck.repair.run import Helpers, Order, fix, plan
from mediacheck.survey import Options
from tests.repair.bench import AT_ONCE, fixed, hashes, loaded
from tests.repair.films import PLAIN, Film, player, x264

SHORT = Film(picture="testsrc2=s=320x180:r=25:d=1", tone=None)


pytestmark = pytest.mark.usefixtures("empty_cache")


@pytest.fixture(scope="module")
def masters(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """One to copy, one to rename, one to wrap anew, one to encode, one to leave behind. For reading only."""
    folder = tmp_path_factory.mktemp("masters")
    SHORT.make(folder / "a.mp4")
    replace(SHORT, filters="negate").make(folder / "b.mp4")
    (folder / "b.mp4").rename(folder / "blüte.mp4")
    replace(SHORT, filters="hflip", wrapping=()).make(folder / "c.mp4")
    old = ("-c:v", "mpeg4", "-q:v", "3", "-g", "25")
    replace(SHORT, filters="vflip", video=old).make(folder / "d.mp4")
    (folder / ".DS_Store").write_bytes(b"\0\0\0\1Bud1" + bytes(100))
    return folder


@pytest.fixture
def out(tmp_path: Path) -> Path:
    (tmp_path / "shelf").mkdir()
    return tmp_path / "shelf" / "ready"


NAMES = ["a.mp4", "bluete.mp4", "c.mp4", "d.mp4"]


def beside(out: Path) -> list[str]:
    return sorted(path.name for path in out.parent.iterdir())


def test_the_copy_holds_what_belongs_on_a_card_and_the_rest_stands_beside(masters: Path, out: Path) -> None:
    before = hashes(masters)
    found = fixed(masters, out, player(), helpers=Helpers(crew=AT_ONCE.crew, page=as_html))
    assert found.verdict == "pass"
    assert list(hashes(out)) == NAMES
    assert hashes(out)["a.mp4"] == before["a.mp4"]
    assert hashes(out)["bluete.mp4"] == before["blüte.mp4"]
    assert hashes(masters) == before
    assert beside(out) == ["ready", "ready.fix-report.html", "ready.fix-report.json"]
    assert [result.item.change for result in found.results] == ["copy", "move", "container", "picture"]
    assert found.after is not None
    assert found.after.source == str(out)


def test_a_second_run_touches_nothing(masters: Path, out: Path) -> None:
    fixed(masters, out, player())
    times = {path: path.stat().st_mtime_ns for path in [*out.iterdir(), *out.parent.iterdir()]}
    again = fixed(masters, out, player())
    assert (again.changed, again.verdict) == (False, "pass")
    assert {path: path.stat().st_mtime_ns for path in [*out.iterdir(), *out.parent.iterdir()]} == times


def test_what_is_missing_is_made_again_and_nothing_else(
    masters: Path, out: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    fixed(masters, out, player())
    first = hashes(out)
    (out / "d.mp4").unlink()
    (out / "a.mp4").unlink()
    made: list[str] = []
    real = batch.make_group

    def noted(tasks: Any) -> Any:
        made.extend(task.out.name for task in tasks)
        return real(tasks)

    monkeypatch.setattr(batch, "make_group", noted)
    again = fixed(masters, out, player())
    assert again.changed
    assert hashes(out) == first
    assert made == ["d.mp4"]


def test_a_master_that_was_converted_for_another_folder_is_not_converted_again(
    masters: Path, out: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    fixed(masters, out, player())
    monkeypatch.setattr(batch, "make_group", lambda tasks: pytest.fail("it was made before"))
    other = fixed(masters, out.with_name("other"), player())
    assert other.verdict == "pass"
    assert hashes(out) == hashes(out.with_name("other"))


def test_what_a_new_source_lacks_leaves_the_copy(masters: Path, out: Path, tmp_path: Path) -> None:
    fixed(masters, out, player())
    fewer = tmp_path / "fewer"
    shutil.copytree(masters, fewer)
    (fewer / "c.mp4").unlink()
    assert fixed(fewer, out, player()).changed
    assert list(hashes(out)) == ["a.mp4", "bluete.mp4", "d.mp4"]


def test_files_of_somebody_else_are_never_touched(masters: Path, out: Path) -> None:
    out.mkdir()
    (out / "holiday.mp4").write_bytes(b"mine")
    with pytest.raises(WrongUse, match=r"holds files that no repair put there, such as holiday\.mp4"):
        fixed(masters, out, player())
    assert hashes(out) != {}
    assert beside(out) == ["ready"]


def test_a_copy_that_was_changed_by_hand_is_not_written_over(masters: Path, out: Path) -> None:
    fixed(masters, out, player())
    (out / "a.mp4").write_bytes(b"mine")
    with pytest.raises(WrongUse, match=r"a\.mp4 is another file now"):
        fixed(masters, out, player())
    assert (out / "a.mp4").read_bytes() == b"mine"


def test_a_place_within_the_source_or_over_it_is_refused(masters: Path, tmp_path: Path) -> None:
    before = hashes(masters)
    for place in (masters, masters / "ready", masters.parent):
        with pytest.raises(WrongUse, match="is only read"):
            fixed(masters, place, player())
    assert hashes(masters) == before


@pytest.mark.skipif(os.name == "nt", reason="links need a right of their own")
def test_a_link_in_the_source_is_no_place_though_it_leads_elsewhere(tmp_path: Path) -> None:
    """The work in progress and the record would stand beside the link."""
    masters, elsewhere = tmp_path / "masters", tmp_path / "elsewhere"
    for folder in (masters, elsewhere):
        folder.mkdir()
    (masters / "ready").symlink_to(elsewhere)
    with pytest.raises(WrongUse, match="is only read"):
        fixed(masters, masters / "ready", player())
    assert hashes(elsewhere) == {}
    assert beside(masters / "ready") == ["ready"]


def test_a_place_that_is_a_file_or_has_no_folder_is_refused(masters: Path, out: Path) -> None:
    out.write_bytes(b"mine")
    with pytest.raises(OutputError, match="there is a file of that name"):
        fixed(masters, out, player())
    with pytest.raises(OutputError, match="there is no folder"):
        fixed(masters, out.parent / "no" / "ready", player())


def test_two_repairs_into_one_place_are_one_too_many(masters: Path, out: Path) -> None:
    with staging.working(places_for(out)), pytest.raises(WrongUse, match="another repair is writing it"):
        fixed(masters, out, player())


def test_a_source_that_changes_meanwhile_is_one_sentence(
    masters: Path, out: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    moving = tmp_path / "moving"
    shutil.copytree(masters, moving)
    real = staging.copy

    def changed(file: Any, *rest: Any) -> None:
        (moving / "a.mp4").write_bytes(b"another")
        real(file, *rest)

    monkeypatch.setattr(staging, "copy", changed)
    with pytest.raises(CardError, match=r"a\.mp4 was changed while it was copied"):
        fixed(moving, out, player())
    assert not out.exists()


def test_one_master_alone(masters: Path, out: Path) -> None:
    found = fixed(masters / "d.mp4", out, player())
    assert found.verdict == "pass"
    assert list(hashes(out)) == ["d.mp4"]


def several(masters: Path, out: Path | None, *profiles: Profile, **wishes: Any) -> Order:
    return Order(masters, tuple(map(loaded, profiles)), Wishes(**wishes), Options("full", 1), out)


def test_several_players_get_a_folder_each_and_each_master_is_read_once(
    masters: Path, out: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    small = player(video={"width": 160, "height": 90}).model_copy(update={"id": "small"})
    groups: list[list[str]] = []
    real = batch.make_group

    def noted(tasks: Any) -> Any:
        groups.append([task.out.name for task in tasks])
        return real(tasks)

    monkeypatch.setattr(batch, "make_group", noted)
    found = fix(several(masters, out, player(), small), AT_ONCE)
    assert [one.verdict for one in found] == ["pass", "pass"]
    assert sorted(path.name for path in out.iterdir()) == [
        *("garden", "garden.fix-report.json", "small", "small.fix-report.json"),
    ]
    assert list(hashes(out / "garden")) == list(hashes(out / "small")) == NAMES
    assert ["d.mp4", "d.mp4"] in groups


def test_a_plan_makes_nothing(masters: Path, out: Path) -> None:
    (planned,) = plan(several(masters, None, player()), AT_ONCE)
    assert [item.path for item in planned.plan.items] == NAMES
    assert [item.change for item in planned.plan.items] == ["copy", "move", "container", "picture"]
    assert [left.path for left in planned.plan.left_out] == [".DS_Store"]
    assert not out.exists()


def test_without_proof_nothing_is_compared(masters: Path, out: Path) -> None:
    found = fixed(masters, out, player(), Wishes(prove=False))
    assert found.verdict == "pass"
    assert all(result.made.likeness is None for result in found.results if result.made)


def test_a_proof_that_is_wanted_later_comes_into_the_record(masters: Path, out: Path) -> None:
    fixed(masters, out, player(), Wishes(prove=False))
    first = hashes(out)
    found = fixed(masters, out, player())
    assert hashes(out) == first
    record = json.loads((out.parent / "ready.fix-report.json").read_text("utf-8"))
    assert record["items"][3]["made"]["likeness"]["enough"]
    assert found.verdict == "pass"


def test_a_floor_that_is_not_reached_fails_the_item_and_no_other(masters: Path, out: Path) -> None:
    found = fixed(masters, out, player(), Wishes(quality_floor=100))
    assert found.verdict == "fail"
    assert [result.item.path for result in found.failed] == ["d.mp4"]
    assert list(hashes(out)) == NAMES[:3]
    assert isinstance(found.failed[0].failed, NotMade)


def test_a_card_with_too_little_room_gets_smaller_videos(tmp_path: Path, out: Path) -> None:
    masters = tmp_path / "large"
    masters.mkdir()
    film = Film(picture="testsrc2=s=320x180:r=50:d=4", tone=None, video=x264("-crf", "1", *PLAIN))
    film.make(masters / "a.mp4")
    free = fixed(masters, out, player())
    room = int(free.results[0].size_bytes * 0.7 / 0.99)
    found = fixed(masters, out.with_name("small"), player(), Wishes(size_bytes=room))
    assert found.verdict == "pass"
    assert found.results[0].size_bytes <= room
    made = found.results[0].made
    assert made is not None
    assert made.likeness is not None
    assert len(made.commands) == 2, "two passes"
    tight = fixed(masters, out.with_name("tight"), player(), Wishes(size_bytes=room // 20))
    assert tight.verdict == "fail"
    assert [ask.rule for ask in tight.asks] == ["card-full"]
    assert "leave out a.mp4" in tight.asks[0].ask


def test_the_record_tells_of_all_of_it(masters: Path, out: Path) -> None:
    fixed(masters, out, player())
    record: Mapping[str, Any] = json.loads((out.parent / "ready.fix-report.json").read_text("utf-8"))
    assert record["schema"] == "mediacheck/fix-report/1"
    assert {item["path"]: item["sha256"] for item in record["items"]} == hashes(out)
    assert record["check"]["verdict"] == "pass"
    assert record["check"]["card"]["source"] == str(out)
    encoded = record["items"][3]
    assert encoded["made"]["likeness"]["enough"]
    assert encoded["made"]["commands"][0][0] == "ffmpeg"
    told = json.dumps([item["made"] for item in record["items"]])
    assert str(masters) not in told
    assert "partial" not in told
    wrapped = record["items"][2]["made"]["same"]
    assert [(same["stream"], same["of"]) for same in wrapped] == [("picture", "packets")]


@pytest.mark.skipif(not hasattr(os, "fork"), reason="kills a child of its own")
def test_killed_at_any_moment(masters: Path, out: Path) -> None:
    """What is in the copy is complete and proved, and the next run goes on from there."""
    fixed(masters, out.with_name("whole"), player(), Wishes(quality_floor=80))
    wanted, before = hashes(out.with_name("whole")), hashes(masters)
    shutil.rmtree(out.with_name("whole"))
    chance = random.Random(4)
    for _ in range(10):
        _killed_after(chance.uniform(0.02, 1.2), masters, out)
        there = hashes(out) if out.exists() else {}
        assert there.items() <= wanted.items()
        assert hashes(masters) == before
        if there and chance.random() < 0.5:
            shutil.rmtree(out)
    found = fixed(masters, out, player(), Wishes(quality_floor=80))
    assert found.verdict == "pass"
    assert hashes(out) == wanted
    assert not places_for(out).work.exists()


def _killed_after(seconds: float, masters: Path, out: Path) -> None:
    child = os.fork()
    if child == 0:
        try:
            fixed(masters, out, player(), Wishes(quality_floor=80))
        finally:
            os._exit(0)
    time.sleep(seconds)
    os.kill(child, signal.SIGKILL)
    os.waitpid(child, 0)
