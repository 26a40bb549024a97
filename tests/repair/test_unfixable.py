"""What no program can mend is said, with what to ask for; everything else still gets done."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from types import MappingProxyType
from typing import Any

import pytest
from PIL import Image

from mediacheck.cli.app import run as mediacheck
from mediacheck.names import RuleName
from mediacheck.repair.outcome import Fixed
from tests.repair.bench import fixed, hashes
from tests.repair.films import AAC, FIRST, PLAIN, PLAYER, TONE, Film, player, run, x264

GOOD = Film(wrapping=(), filters="hflip")
"""Needs its index first, and no more."""
LONG = TONE.replace("duration=2", "duration=4")
LOCKED = ("-encryption_scheme", "cenc-aes-ctr", "-encryption_key", "0" * 32, "-encryption_kid", "1" * 32)
BARS_FIRST = "smptehdbars=s=320x180:r=25:d=3[b];testsrc2=s=320x180:r=25:d=3[t];[b][t]concat"
FREE_SIZE = {"width": None, "height": None, "width_max": 320, "height_max": 180}
Sections = Mapping[str, Mapping[str, Any]]
NOTHING: Sections = MappingProxyType({})


@dataclass(frozen=True, slots=True)
class Lost:
    """Something that has to be asked for. `path`: of the file that it is about, None for the whole card."""

    name: str
    rule: RuleName
    ask: str
    """A part of what is said to the sender."""
    make: Callable[[Path], None]
    path: str | None = "bad.mp4"
    stays: bool = False
    """The file goes into the copy as it is: a person may say that it is meant so."""
    player: Sections = field(default_factory=lambda: NOTHING)
    verdict: str = "fail"


def _film(film: Film) -> Callable[[Path], None]:
    return lambda folder: film.make(folder / "bad.mp4")


def _bytes(content: bytes, name: str = "bad.mp4") -> Callable[[Path], None]:
    def make(folder: Path) -> None:
        (folder / name).write_bytes(content)

    return make


def _spoiled(change: Callable[[bytes], bytes], film: Film = Film()) -> Callable[[Path], None]:  # noqa: B008
    def make(folder: Path) -> None:
        film.make(folder / "bad.mp4")
        (folder / "bad.mp4").write_bytes(change((folder / "bad.mp4").read_bytes()))

    return make


def _with_hole(data: bytes) -> bytes:
    middle = len(data) // 2
    return data[:middle] + bytes(8000) + data[middle + 8000 :]


def _sound_alone(folder: Path) -> None:
    run("-f", "lavfi", "-i", TONE, *AAC, *FIRST, folder / "bad.mp4")


def _half_a_still(folder: Path) -> None:
    Image.effect_noise((320, 180), 60).convert("RGB").save(folder / "bad.jpg", quality=95)
    whole = (folder / "bad.jpg").read_bytes()
    (folder / "bad.jpg").write_bytes(whole[: len(whole) // 2])


def _still(folder: Path) -> None:
    Image.linear_gradient("L").resize((320, 180)).convert("RGB").save(folder / "bad.jpg")


def _nothing_more(folder: Path) -> None:
    assert folder.is_dir()


FILES = (
    Lost("empty", "file-empty", "what came is empty", _bytes(b"")),
    Lost("no film at all", "file-unreadable", "Ask for this file again", _bytes(b"Plant in spring. " * 999)),
    Lost(
        "cut off",
        "container-truncated",
        "its end was lost",
        _spoiled(lambda data: data[: len(data) * 2 // 3]),
    ),
    Lost(
        "cut off before its index",
        "container-truncated",
        "its end was lost",
        _spoiled(lambda data: data[: len(data) * 2 // 3], Film(wrapping=())),
    ),
    Lost("damaged", "picture-damaged", "Ask for a new export", _spoiled(_with_hole)),
    Lost("locked", "container-encrypted", "without copy protection", _film(Film(wrapping=(*LOCKED, *FIRST)))),
    Lost("sound alone", "video-missing", "with its picture", _sound_alone),
    Lost("half a still", "still-damaged", "Ask for this picture again", _half_a_still, "bad.jpg"),
    Lost(
        "a still for a player without stills",
        "still-format",
        "fits this player",
        _still,
        "bad.jpg",
        player={"stills": {"formats": []}},
    ),
)
"""Nothing of these goes into the copy."""
QUESTIONS = (
    Lost(
        "flashes",
        "picture-flash",
        "without these flashes",
        _film(
            Film(filters="drawbox=c=white:t=fill:enable=lt(mod(n\\,4)\\,2)", picture="color=s=320x180:d=2")
        ),
        stays=True,
    ),
    Lost(
        "stands still",
        "picture-frozen",
        "meant to stand still",
        _film(Film("testsrc2=s=320x180:r=25:d=4", "loop=60:1:10,trim=end=4", tone=LONG)),
        stays=True,
        player={"loop": {"frozen_seconds_max": 1}},
        verdict="warn",
    ),
    Lost(
        "black in the middle",
        "picture-black",
        "meant to be black there",
        _film(
            Film(
                "testsrc2=s=320x180:r=25:d=4",
                "drawbox=c=black:t=fill:enable=between(t\\,1.2\\,2.8)",
                tone=LONG,
            )
        ),
        stays=True,
        verdict="warn",
    ),
    Lost(
        "test material, not to be cut off",
        "picture-leader",
        "--trim-ends",
        _film(Film(BARS_FIRST, tone=TONE.replace("duration=2", "duration=6"))),
        stays=True,
        verdict="warn",
    ),
    Lost(
        "bars, not to be cut off",
        "picture-bars",
        "--trim-bars",
        _film(Film("testsrc2=s=320x140:r=25:d=2", "pad=320:180:0:20")),
        stays=True,
        verdict="warn",
    ),
    Lost(
        "another shape, not to be cut",
        "video-shape",
        "--fit cover",
        _film(Film("testsrc2=s=240x180:r=25:d=2")),
        stays=True,
        player={"video": FREE_SIZE},
        verdict="warn",
    ),
    Lost(
        "silent",
        "audio-silent",
        "meant to be silent",
        _film(Film(tone="anullsrc=r=48000:cl=stereo:d=2")),
        stays=True,
        verdict="warn",
    ),
)
"""These stay as they are, and a person decides."""
WHOLE = (
    Lost(
        "too few items",
        "loop-count",
        "items that are missing",
        _nothing_more,
        None,
        player={"loop": {"items_min": 2}},
    ),
    Lost(
        "too short a loop",
        "loop-length",
        "items that are missing",
        _nothing_more,
        None,
        player={"loop": {"seconds_min": 60}},
        verdict="warn",
    ),
    Lost(
        "a file that the player needs",
        "folder-missing",
        "files that the player needs",
        _nothing_more,
        None,
        player={"layout": {"required_files": ["player.cfg"]}},
    ),
    Lost(
        "no name to be found",
        "file-name",
        "by hand",
        _nothing_more,
        "good.mp4",
        stays=True,
        player={"layout": {"name_pattern": r"LOOP[AB]\.mp4"}},
    ),
)


@pytest.mark.parametrize("lost", [*FILES, *QUESTIONS, *WHOLE], ids=lambda lost: lost.name)
def test_it_is_asked_for_and_the_rest_is_done(lost: Lost, tmp_path: Path) -> None:
    source = tmp_path / "masters"
    source.mkdir()
    lost.make(source)
    GOOD.make(source / "good.mp4")
    before = hashes(source)
    found = fixed(source, tmp_path / "ready", player(**lost.player))
    assert hashes(source) == before, "a source is only read"
    assert _asked(found, lost)
    _rest_is_done(found, lost, before, hashes(tmp_path / "ready"))
    assert found.verdict == lost.verdict


def _asked(found: Fixed, lost: Lost) -> bool:
    """With the sentence of the finding, and what to ask for."""
    asks = [ask for ask in found.asks if (ask.rule, ask.path) == (lost.rule, lost.path)]
    problems = [f.message for f in found.planned.before.findings if f.rule == lost.rule]
    named_by_us = lost.rule == "file-name"
    return any(
        lost.ask in ask.ask and (named_by_us or any(ask.problem.startswith(problem) for problem in problems))
        for ask in asks
    )


def _rest_is_done(found: Fixed, lost: Lost, before: Mapping[str, str], after: Mapping[str, str]) -> None:
    changes = {result.item.source.entry.path: result.item.change for result in found.results}
    assert changes["good.mp4"] == "container"
    left_out = [left.path for left in found.planned.plan.left_out]
    bad = lost.path if lost.path != "good.mp4" else None
    if bad is not None and lost.stays:
        assert (left_out, changes[bad]) == ([], "copy")
        assert after[bad] == before[bad]
    else:
        assert left_out == ([bad] if bad else [])
        assert list(after) == ["good.mp4"]
    assert found.after is not None
    others = [finding.rule for finding in found.after.findings if finding.path == "good.mp4"]
    assert [rule for rule in others if rule != lost.rule] == []


def test_a_player_of_half_pictures_gets_none(tmp_path: Path) -> None:
    (tmp_path / "masters").mkdir()
    GOOD.make(tmp_path / "masters" / "bad.mp4")
    found = fixed(tmp_path / "masters", tmp_path / "ready", player(video={"scan": "interlaced"}))
    assert [ask.rule for ask in found.asks] == ["video-interlaced"]
    assert (found.verdict, found.results, found.after) == ("fail", (), None)


def test_a_quality_that_is_not_reached_is_said_with_what_to_do(tmp_path: Path) -> None:
    """Noise that no encoder keeps at this rate."""
    (tmp_path / "masters").mkdir()
    noise = Film("testsrc2=s=320x180:r=25:d=2,noise=alls=60:allf=t", video=x264("-crf", "1", *PLAIN))
    noise.make(tmp_path / "masters" / "bad.mp4")
    GOOD.make(tmp_path / "masters" / "good.mp4")
    low = {"bit_rate_max": 600_000, "bit_rate_peak_max": 900_000}
    found = fixed(tmp_path / "masters", tmp_path / "ready", player(video=low))
    (result,) = found.failed
    assert result.failed is not None
    assert "too unlike its master" in result.failed.problem
    assert "--quality-floor" in result.failed.ask
    assert found.verdict == "fail"
    assert list(hashes(tmp_path / "ready")) == ["good.mp4"]


def test_all_at_once_on_the_command_line(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Exit code 1, every question on the screen, and each good file in the copy."""
    source, profile, out = tmp_path / "masters", tmp_path / "garden.yaml", tmp_path / "ready"
    source.mkdir()
    for number, lost in enumerate(FILES[:-1]):
        lost.make(source)
        name = lost.path or ""
        (source / name).rename(source / f"{number:02}{Path(name).suffix}")
    for name in ("97.mp4", "98.mkv"):
        GOOD.make(source / name)
    before = hashes(source)
    profile.write_text(json.dumps(PLAYER), "utf-8")
    arguments = ["fix", str(source), "--profile", str(profile), "--jobs", "2"]
    assert mediacheck([*arguments, "--plan"]) == 1
    assert not out.exists()
    assert mediacheck([*arguments, "--out", str(out)]) == 1
    shown = " ".join(capsys.readouterr().out.split())
    for number, lost in enumerate(FILES[:-1]):
        assert f"{number:02}{Path(lost.path or '').suffix}" in shown
        assert lost.ask in shown
    assert list(hashes(out)) == ["97.mp4", "98.mp4"]
    assert hashes(source) == before
    record = json.loads((tmp_path / "ready.fix-report.json").read_text("utf-8"))
    assert record["verdict"] == "fail"
    assert {ask["path"] for ask in record["asks"]} == {left["path"] for left in record["left_out"]}
    assert mediacheck(["check", str(out), "--profile", str(profile), "--jobs", "2"]) == 0
