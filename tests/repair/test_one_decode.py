"""A new file is decoded once for its proof and its check, and not at all where neither is needed."""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest

from mediacheck import inspection, programs
from mediacheck.cache import Cache, Key, digest_of
from mediacheck.errors import ProgramError
from mediacheck.inspection import NOT_DECODED
from mediacheck.measure.decode import Measured, measure
from mediacheck.measure.fingerprint import distance
from mediacheck.measure.model import Measurements, NotMeasured
from mediacheck.repair import compare, making
from mediacheck.repair.look import decodes_alike
from mediacheck.repair.model import Levels, Made, NotMade, Wishes
from mediacheck.repair.page import as_html
from mediacheck.repair.run import Helpers
from mediacheck.repair.task import Task
from mediacheck.repair.work import convert
from mediacheck.which_ffmpeg import find_ffmpeg
from tests.repair.bench import AT_ONCE, fixed
from tests.repair.films import Film, player
from tests.repair.masters import ENCODED, LIMIT_S, SOUND, WRAPPED, facts_of, master, program, task
from tests.repair.test_fix_told import terminal

SHORT = Film(picture="testsrc2=s=320x180:r=25:d=1", tone=None)
OLD = ("-c:v", "mpeg4", "-q:v", "3", "-g", "25")
FLASHES = "geq=lum='if(lt(mod(N\\,4)\\,2)\\,16\\,235)':cb=128:cr=128"


@pytest.fixture(autouse=True)
def cache(empty_cache: Path) -> Cache:
    return Cache(empty_cache / "measurements", find_ffmpeg().version)


@pytest.fixture(scope="module")
def usual(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return master(tmp_path_factory.mktemp("usual"))


@pytest.fixture
def commands(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Every ffmpeg that is started, as one line."""
    found: list[str] = []
    real = programs.start

    def noted(command: Sequence[Any], **options: Any) -> Any:
        found.append(" ".join(map(str, command)))
        return real(command, **options)

    monkeypatch.setattr(programs, "start", noted)
    return found


def decodes(commands: Sequence[str]) -> list[str]:
    return [line for line in commands if "mediacheck.seen" in line]


def known(cache: Cache, place: Path, found: Made) -> Measurements | None:
    return cache.find(Key(found.sha256, "full", digest_of(facts_of(place)), cache.ffmpeg))


def converted(one: Task) -> Made:
    found = convert(one)
    assert isinstance(found, Made), found
    return found


def test_the_proof_measures_what_the_check_would(usual: Path, tmp_path: Path, cache: Cache) -> None:
    """All pictures with the loop filter, which the check leaves out where it does not show."""
    new = tmp_path / "new.mp4"
    found = converted(task(usual, ENCODED, new, cache=cache))
    kept = known(cache, new, found)
    assert kept is not None
    alone = measure(find_ffmpeg().path, new, facts_of(new), 0, LIMIT_S).measurements
    same = ("frames", "seconds", "width", "height", "black", "frozen", "bars", "gaps", "leader", "flash")
    assert {name: getattr(kept, name) for name in same} == {name: getattr(alone, name) for name in same}
    assert kept.sound == alone.sound
    assert kept.fingerprint
    assert alone.fingerprint
    assert distance(bytes.fromhex(kept.fingerprint), bytes.fromhex(alone.fingerprint)) < 0.02


def test_the_figure_is_that_of_a_comparison_by_itself(usual: Path, tmp_path: Path, cache: Cache) -> None:
    beside = converted(task(usual, ENCODED, tmp_path / "new.mp4", cache=cache))
    alone = converted(task(usual, ENCODED, tmp_path / "alone.mp4"))
    assert beside.likeness == alone.likeness
    assert beside == replace(alone, sha256=beside.sha256)


def test_one_process_decodes_it_and_loudness_comes_from_there(
    usual: Path, tmp_path: Path, cache: Cache, commands: list[str]
) -> None:
    levelled = replace(ENCODED, sound=replace(SOUND, levels=Levels(-20.0, 1.0, -1.0)))
    beside = converted(task(usual, levelled, tmp_path / "new.mp4", cache=cache))
    new = [line for line in commands if "new.mp4" in line and "-i file:" + str(tmp_path) in line]
    (line,) = (line for line in commands if "[beside]" in line)
    assert "ssim=" in line or "libvmaf=" in line
    assert "mediacheck.seen" in line
    assert "skip_loop_filter" not in line
    assert len(new) == 1
    alone = converted(task(usual, levelled, tmp_path / "alone.mp4"))
    assert beside.loudness_lufs == pytest.approx(alone.loudness_lufs, abs=0.1)
    assert beside.true_peak_dbtp == pytest.approx(alone.true_peak_dbtp, abs=0.1)


def test_where_one_process_cannot_do_both_each_is_done_by_itself(
    usual: Path, tmp_path: Path, cache: Cache, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuses(*arguments: object) -> Measured:
        raise ProgramError("it cannot")

    monkeypatch.setattr(making, "measure", refuses)
    found = converted(task(usual, ENCODED, tmp_path / "new.mp4", cache=cache))
    assert found.likeness is not None
    assert found.likeness.enough
    assert known(cache, tmp_path / "new.mp4", found) is None


def test_scores_that_are_missing_are_measured_again(
    usual: Path, tmp_path: Path, cache: Cache, monkeypatch: pytest.MonkeyPatch
) -> None:
    answers = [()]
    real = compare.scores
    monkeypatch.setattr(compare, "scores", lambda *asked: answers.pop() if answers else real(*asked))
    found = converted(task(usual, ENCODED, tmp_path / "new.mp4", cache=cache))
    assert answers == []
    assert found.likeness is not None
    assert found.likeness.enough


def test_a_crash_of_the_comparison_is_not_said_of_the_new_file(
    usual: Path, tmp_path: Path, cache: Cache
) -> None:
    """As libvmaf crashes over some pictures: others have been seen by then, and none was complained about."""
    real = find_ffmpeg().path
    script = f'"{real}" "$@"\ncode=$?\ncase "$*" in *mediacheck.seen*) exit 139;; esac\nexit $code'
    frail = program(tmp_path, "ffmpeg", script)
    found = converted(task(usual, ENCODED, tmp_path / "new.mp4", cache=cache, ffmpeg=frail))
    assert found.likeness is not None
    assert found.likeness.enough
    assert known(cache, tmp_path / "new.mp4", found) is None


def test_a_new_file_that_the_decoder_complains_about_is_not_made(
    usual: Path, tmp_path: Path, cache: Cache
) -> None:
    real = find_ffmpeg().path
    complaint = "[h264 @ 0x5581] [error] a block is lost."
    script = f'case "$*" in *"[beside]"*) echo "{complaint}" >&2;; esac\nexec "{real}" "$@"'
    worn = program(tmp_path, "ffmpeg", script)
    found = convert(task(usual, ENCODED, tmp_path / "new.mp4", cache=cache, ffmpeg=worn))
    assert isinstance(found, NotMade)
    assert found.problem == "The new file cannot be decoded without errors: a block is lost."
    assert not (tmp_path / "new.mp4").exists()


@pytest.fixture(scope="module")
def masters(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """One to copy, one that needs its index first, one in another container, one to encode."""
    folder = tmp_path_factory.mktemp("masters")
    SHORT.make(folder / "a.mp4")
    replace(SHORT, filters="hflip", wrapping=()).make(folder / "c.mp4")
    replace(SHORT, filters="vflip", video=OLD).make(folder / "d.mp4")
    replace(SHORT, filters="negate", wrapping=()).make(folder / "e.mkv")
    return folder


def test_each_file_is_decoded_once_in_a_whole_repair(
    masters: Path, tmp_path: Path, commands: list[str]
) -> None:
    found = fixed(masters, tmp_path / "ready", player())
    assert found.verdict == "pass"
    changes = {result.item.path: result.item.change for result in found.results}
    assert changes == {"a.mp4": "copy", "c.mp4": "container", "d.mp4": "picture", "e.mp4": "container"}
    of_masters = [line for line in decodes(commands) if str(masters) in line]
    of_copies = [line for line in decodes(commands) if str(masters) not in line]
    assert len(of_masters) == 4
    assert ["[beside]" in line for line in of_copies] == [True, False]
    assert "e.mp4" in of_copies[1], "what came out of another container may be timed in another way"
    assert "c.mp4" not in "".join(of_copies), "the same packets at the same times"


def test_what_only_got_its_index_first_keeps_the_measurements_of_its_master(
    masters: Path, tmp_path: Path
) -> None:
    found = fixed(masters, tmp_path / "ready", player())
    assert found.after is not None
    before = {file.entry.path: file.measurements for file in found.planned.before.files}
    after = {file.entry.path: file.measurements for file in found.after.files}
    assert isinstance(after["c.mp4"], Measurements)
    assert after["c.mp4"] == before["c.mp4"]


def longer(facts: Any) -> Any:
    return replace(facts, duration=(facts.duration or Fraction(0)) + Fraction(1, 25))


def later(facts: Any) -> Any:
    return replace(facts, video=replace(facts.video, packets=replace(facts.video.packets, begins_s=0.5)))


def shifted(facts: Any) -> Any:
    times = facts.video.packets.decode_times_s
    return replace(
        facts, video=replace(facts.video, packets=replace(facts.video.packets, decode_times_s=times[8:]))
    )


def mute(facts: Any) -> Any:
    return replace(facts, audio=())


def in_mkv(facts: Any) -> Any:
    return replace(facts, container=replace(facts.container, name="MKV"))


def in_mov(facts: Any) -> Any:
    return replace(facts, container=replace(facts.container, name="MOV", index="last"))


@pytest.mark.parametrize(
    ("change", "alike"),
    [(longer, False), (later, False), (shifted, False), (mute, False), (in_mkv, False), (in_mov, True)],
)
def test_files_decode_alike_whose_packets_come_at_the_same_times(
    usual: Path, change: Callable[[Any], Any], alike: bool
) -> None:
    facts = facts_of(usual)
    assert decodes_alike(facts, facts)
    assert decodes_alike(facts, change(facts)) is alike


@pytest.mark.parametrize("sha256", [None, "0" * 64])
def test_of_a_master_that_was_not_checked_nothing_is_carried_over(
    usual: Path, tmp_path: Path, cache: Cache, sha256: str | None
) -> None:
    found = converted(task(usual, WRAPPED, tmp_path / "new.mp4", cache=cache, master_sha256=sha256))
    assert found.same
    assert known(cache, tmp_path / "new.mp4", found) is None


def test_without_proof_nothing_new_is_decoded_and_that_is_said(
    masters: Path, tmp_path: Path, commands: list[str]
) -> None:
    helpers = Helpers(crew=AT_ONCE.crew, page=as_html)
    found = fixed(masters, tmp_path / "ready", player(), Wishes(prove=False), helpers)
    assert all(str(masters) in line for line in decodes(commands))
    assert found.verdict == "pass"
    assert found.after is not None
    gaps = {gap.path for gap in found.after.not_checked if gap.reason == NOT_DECODED.reason}
    assert gaps - {None} == {"d.mp4", "e.mp4"}, "the others are known from their masters"
    said = " ".join(terminal(found).split())
    assert said.startswith("MADE, NOT PROVED: all 4 files pass the check of what was looked at.")
    assert "not looked at again (--no-proof)" in said
    page = (tmp_path / "ready.fix-report.html").read_text("utf-8")
    assert "MADE, NOT PROVED" in page
    assert "not looked at again (--no-proof)" in page
    record = json.loads((tmp_path / "ready.fix-report.json").read_text("utf-8"))
    assert NOT_DECODED.reason in json.dumps(record["check"]["not_checked"])


def test_where_nothing_had_to_be_decoded_no_proof_is_missing(masters: Path, tmp_path: Path) -> None:
    few = tmp_path / "few"
    few.mkdir()
    for name in ("a.mp4", "c.mp4"):
        (few / name).write_bytes((masters / name).read_bytes())
    said = terminal(fixed(few, tmp_path / "ready", player(), Wishes(prove=False)))
    assert said.startswith("FIXED: all 2 files pass their check.")
    assert "--no-proof" not in said


@pytest.mark.parametrize("use_cache", [True, False])
@pytest.mark.parametrize("prove", [True, False])
@pytest.mark.parametrize("video", [OLD, SHORT.video])
def test_flashes_fail_the_copy_whether_or_not_it_is_looked_at(
    tmp_path: Path, prove: bool, video: tuple[str, ...], use_cache: bool
) -> None:
    folder = tmp_path / "flashing"
    folder.mkdir()
    replace(SHORT, filters=FLASHES, video=video).make(folder / "a.mp4")
    SHORT.make(folder / "b.mp4")
    found = fixed(folder, tmp_path / "ready", player(), Wishes(prove=prove), use_cache=use_cache)
    assert [ask.rule for ask in found.asks] == ["picture-flash"]
    assert found.verdict == "fail"


def test_what_is_mended_does_not_fail_a_copy_that_is_not_looked_at(tmp_path: Path) -> None:
    """The codec of the master is against the rules, and that of the copy is not."""
    folder = tmp_path / "old"
    folder.mkdir()
    replace(SHORT, video=OLD).make(folder / "a.mp4")
    found = fixed(folder, tmp_path / "ready", player(), Wishes(prove=False))
    assert "fail" in {finding.severity for finding in found.planned.before.findings}
    assert found.verdict == "pass"


def test_what_the_copy_was_asked_for_its_check_counts_and_not_what_its_master_was(tmp_path: Path) -> None:
    """That the folder was missing is mended by moving what was there, which needs no decode to be seen."""
    folder = tmp_path / "flat"
    folder.mkdir()
    SHORT.make(folder / "a.mp4")
    there = player(layout={"media_folder": "/media"})
    found = fixed(folder, tmp_path / "ready", there, Wishes(prove=False))
    assert {finding.rule for finding in found.planned.before.findings} >= {"folder-missing", "loop-count"}
    assert found.verdict == "pass"


@pytest.mark.parametrize("prove", [True, False])
def test_black_between_the_ends_that_are_cut_off_is_still_there(tmp_path: Path, prove: bool) -> None:
    folder = tmp_path / "black"
    folder.mkdir()
    black = "drawbox=c=black:t=fill:enable='lt(t,1)+between(t,3,4)'"
    Film(picture="testsrc2=s=320x180:r=25:d=6", filters=black, tone=None).make(folder / "a.mp4")
    only = player(rules={"loop-seam": "off"})
    found = fixed(folder, tmp_path / "ready", only, Wishes(prove=prove, trim_ends=True))
    assert [result.item.change for result in found.results] == ["picture"]
    assert found.verdict == "warn"


def test_of_a_master_that_could_not_be_decoded_nothing_passes_unseen(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = tmp_path / "masters"
    folder.mkdir()
    replace(SHORT, video=OLD).make(folder / "a.mp4")
    silent = NotMeasured("the decoder gave no answer", expected=False)
    monkeypatch.setattr(inspection, "_measured", lambda *asked: (silent, ()))
    found = fixed(folder, tmp_path / "ready", player(), Wishes(prove=False))
    assert found.planned.before.verdict == "fail"
    assert found.verdict == "incomplete"
