"""Recipes carried out: out comes what was asked for, and proved, or nothing but a sentence."""

from __future__ import annotations

import hashlib
import json
import subprocess
from concurrent.futures import Future
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from mediacheck.card.within import Run, Within
from mediacheck.errors import OutputError, ProgramError
from mediacheck.inspection import Decoded
from mediacheck.repair import compare, encode
from mediacheck.repair import task as tasks
from mediacheck.repair.kept import Kept
from mediacheck.repair.model import Levels, Made, NotMade, PictureRecipe, Recipe, SoundRecipe
from mediacheck.repair.task import Task, time_limit_s, together_limit_s
from mediacheck.repair.work import convert, convert_together
from mediacheck.which_ffmpeg import find_ffmpeg
from mediacheck.workers import FileWorkers
from tests.repair.masters import (
    COPIED,
    ENCODED,
    FILTERS,
    FPS,
    LIMIT_S,
    PICTURE,
    SOUND,
    WRAPPED,
    WRAPPING,
    X264,
    facts_of,
    heard,
    luma,
    master,
    program,
    run,
    task,
)

RATED = ("-c:v", "libx264", "-b:v", "400k", "-g", "25")
SMOOTH = ("-preset", "ultrafast")
SILENT = ("-f", "lavfi", "-t", "1", "-i", "anullsrc=r=48000:cl=stereo")
SILENCE = SoundRecipe("1:a:0", False, input=SILENT, encoder=SOUND.encoder)
JPEG = Recipe(
    "still",
    ".jpg",
    ("-noautorotate",),
    PictureRecipe(False),
    still="JPEG",
    still_arguments=(
        *(
            "-map",
            "0:v:0",
            "-frames:v",
            "1",
            "-vf",
            "scale=64:36:out_color_matrix=bt601:out_range=pc,format=yuvj420p",
        ),
        *("-c:v", "mjpeg", "-q:v", "2", "-update", "1", "-map_metadata", "-1"),
    ),
)


def digest(place: Path) -> str:
    return hashlib.sha256(place.read_bytes()).hexdigest()


def contents(folder: Path) -> list[str]:
    """All names, hidden ones too."""
    return sorted(path.name for path in folder.iterdir())


@pytest.fixture(scope="session")
def usual(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A master of one second; for reading only."""
    return master(tmp_path_factory.mktemp("master"))


@pytest.fixture
def out(tmp_path: Path) -> Path:
    """A folder for new files."""
    folder = tmp_path / "out"
    folder.mkdir()
    return folder


def made(one: Task) -> Made:
    found = convert(one)
    assert isinstance(found, Made), found
    return found


def not_made(one: Task) -> NotMade:
    """Nothing is left where the file was to be."""
    before = contents(one.out.parent)
    found = convert(one)
    assert isinstance(found, NotMade), found
    assert contents(one.out.parent) == before
    return found


def by_hand(line: tuple[str, ...], source: Path, new: Path) -> None:
    """A line of the record, as a person would run it."""
    places = {"ffmpeg": str(find_ffmpeg().path), "MASTER": str(source), "NEW": str(new)}
    command = [places.get(word, word) for word in line]
    subprocess.run([*command, "-v", "error"], check=True, timeout=LIMIT_S, cwd=new.parent)


def test_a_new_file_is_there_whole_and_proved_and_its_master_is_untouched(usual: Path, out: Path) -> None:
    before = digest(usual), usual.stat().st_mtime_ns
    found = made(task(usual, ENCODED, out / "new.mp4"))
    assert (digest(usual), usual.stat().st_mtime_ns) == before
    assert contents(out) == ["new.mp4"]
    assert found.sha256 == digest(out / "new.mp4")
    assert found.size_bytes == (out / "new.mp4").stat().st_size
    assert found.likeness is not None
    assert found.likeness.enough
    assert (found.likeness.frames, found.likeness.every) == (FPS, 1)
    assert (found.same, found.loudness_lufs, found.notes) == ((), None, ())
    facts = facts_of(out / "new.mp4")
    assert facts.video is not None
    assert (facts.video.codec, facts.video.width, facts.video.height) == ("H.264", 160, 90)
    assert facts.video.packets is not None
    assert facts.video.packets.count == FPS
    assert [(track.codec, track.channels) for track in facts.audio] == [("AAC", 2)]


def test_a_line_of_the_record_makes_the_same_file_again(usual: Path, out: Path) -> None:
    found = made(task(usual, ENCODED, out / "new.mp4"))
    (line,) = found.commands
    assert str(out) not in json.dumps(line)
    assert str(usual) not in json.dumps(line)
    by_hand(line, usual, out / "again.mp4")
    assert digest(out / "again.mp4") == found.sha256


def test_without_proof_it_is_the_same_file(usual: Path, out: Path) -> None:
    proved = made(task(usual, ENCODED, out / "proved.mp4"))
    bare = made(task(usual, ENCODED, out / "bare.mp4", prove=False))
    assert bare == replace(proved, likeness=None)


def test_a_new_container_holds_the_same_streams(usual: Path, out: Path) -> None:
    found = made(task(usual, WRAPPED, out / "new.mp4", prove=False))
    assert [(one.stream, one.of) for one in found.same] == [("picture", "packets"), ("sound", "packets")]
    assert found.likeness is None
    assert (luma(usual, 192, 108) == luma(out / "new.mp4", 192, 108)).all()


def test_sound_alone_is_encoded_again(usual: Path, out: Path) -> None:
    recipe = replace(WRAPPED, change="sound", sound=replace(SOUND, levels=Levels(-20.0, 1.0, -1.0)))
    found = made(task(usual, recipe, out / "new.mp4"))
    assert [(one.stream, one.of) for one in found.same] == [("picture", "packets")]
    assert found.loudness_lufs == pytest.approx(-20.0, abs=0.5)
    assert found.true_peak_dbtp is not None


def test_silence_is_added(usual: Path, out: Path) -> None:
    made(task(usual, replace(WRAPPED, change="sound", sound=SILENCE), out / "new.mp4"))
    sound = heard(out / "new.mp4")
    assert len(sound) == pytest.approx(48_000, abs=2048)
    assert not sound.any()


@pytest.mark.parametrize(
    "encoder", [RATED, ("-c:v", "libx265", "-b:v", "400k", "-x265-params", "log-level=none")]
)
def test_two_passes_meet_a_size(usual: Path, out: Path, encoder: tuple[str, ...]) -> None:
    picture = replace(PICTURE, also=encoder, two_passes=True)
    recipe = replace(ENCODED, picture=picture, size_max_bytes=80_000)
    found = made(task(usual, recipe, out / "new.mp4", quality_floor=50.0))
    assert found.size_bytes <= 80_000
    assert found.likeness is not None
    assert len(found.commands) == 2
    for line in found.commands:
        by_hand(line, usual, out / "again.mp4")
    assert digest(out / "again.mp4") == found.sha256


@pytest.mark.parametrize("two_passes", [False, True])
def test_a_file_that_came_out_too_large_is_made_again_at_a_lower_rate(
    tmp_path: Path, out: Path, two_passes: bool
) -> None:
    longer = master(tmp_path, 3.0)
    picture = replace(PICTURE, also=(*RATED, *SMOOTH), two_passes=two_passes)
    shown = replace(ENCODED, picture=picture, sound=None, seconds=3.0)
    free = made(task(longer, shown, out / "free.mp4", prove=False))
    most = round(0.8 * free.size_bytes)
    found = made(task(longer, replace(shown, size_max_bytes=most), out / "new.mp4", quality_floor=30.0))
    assert found.size_bytes <= most
    line = found.commands[-1]
    assert int(line[line.index("-b:v") + 1][:-1]) < 400
    assert contents(out) == ["free.mp4", "new.mp4"]


@pytest.mark.parametrize("also", [RATED, X264])
def test_a_file_that_stays_too_large_is_not_there(usual: Path, out: Path, also: tuple[str, ...]) -> None:
    """Its sound alone is larger; or the encoder aims at a quality and cannot be slowed down."""
    recipe = replace(ENCODED, picture=replace(PICTURE, also=also), size_max_bytes=10_000)
    found = not_made(task(usual, recipe, out / "new.mp4"))
    assert "and 10,000 is the most that it may have" in found.problem
    assert found.ask == compare.ASK_SIZE


def test_a_picture_that_lost_too_much_is_not_there(usual: Path, out: Path) -> None:
    picture = replace(PICTURE, also=("-c:v", "libx264", "-crf", "50"))
    found = not_made(task(usual, replace(ENCODED, picture=picture), out / "new.mp4"))
    assert found.problem.startswith("The new picture is too unlike its master: ")
    assert found.ask == compare.ASK_FLOOR
    small = replace(ENCODED, picture=picture, size_max_bytes=10**9)
    assert not_made(task(usual, small, out / "new.mp4")).ask == compare.ASK_SIZE


@pytest.mark.parametrize("name", ["beds.png", "beds%03d.png"])
def test_a_still_is_written_again(tmp_path: Path, out: Path, name: str) -> None:
    rows = np.linspace(0, 255, 96 * 54 * 3).reshape(54, 96, 3).astype(np.uint8)
    Image.fromarray(rows).save(tmp_path / name)
    Image.fromarray(255 - rows).save(tmp_path / "beds001.png")
    found = made(task(tmp_path / name, JPEG, out / "new%02d.jpg"))
    with Image.open(out / "new%02d.jpg") as picture:
        assert (picture.format, picture.size, picture.mode) == ("JPEG", (64, 36), "RGB")
        shown = np.asarray(picture)
    assert shown[0].mean() < 20
    assert shown[-1].mean() > 235
    assert found.likeness is not None
    assert (found.likeness.measure, found.likeness.frames) == ("SSIM", 1)
    assert found.likeness.value > 0.98


def test_the_end_of_a_master_inside_an_image_is_read_in_place(usual: Path, tmp_path: Path, out: Path) -> None:
    data = usual.read_bytes()
    image = tmp_path / "card.img"
    image.write_bytes(bytes(4096) + data + b"\xff" * 512)
    inside = Within(str(image), (Run(4096, len(data)),), len(data))
    alone = made(task(usual, ENCODED, out / "file.mp4"))
    assert made(task(usual, ENCODED, out / "image.mp4", location=inside)) == alone
    pieces = Within(str(image), (Run(4096, 1000), Run(5096, len(data) - 1000)), len(data))
    assert made(task(usual, ENCODED, out / "pieces.mp4", location=pieces)) == alone


def test_a_damaged_master_is_said_to_be_damaged(usual: Path, tmp_path: Path, out: Path) -> None:
    data = bytearray(usual.read_bytes())
    middle = data.index(b"mdat") + 9000
    data[middle : middle + 3000] = bytes(3000)
    damaged = tmp_path / "damaged.mp4"
    damaged.write_bytes(data)
    found = not_made(task(damaged, ENCODED, out / "new.mp4"))
    assert found.problem.startswith("The file cannot be decoded without errors: ")
    assert found.ask == encode.ASK_MASTER


def test_a_master_that_is_gone_by_now_is_said_to_be_gone(usual: Path, tmp_path: Path, out: Path) -> None:
    found = not_made(task(usual, ENCODED, out / "new.mp4", location=tmp_path / "gone.mp4"))
    assert found.problem.endswith("No such file or directory.")
    assert str(tmp_path) not in found.problem


@pytest.mark.parametrize(
    ("recipe", "problem"),
    [
        (replace(ENCODED, seconds=3.0), "The new file plays 1.00 s and not 3.00 s."),
        (replace(ENCODED, before=("-ss", "9"), sound=None), "nothing of it could be decoded"),
        (
            replace(ENCODED, picture=replace(PICTURE, filters=f"{FILTERS},trim=end_frame=15")),
            "The new file plays 0.60 s and not 1.00 s.",
        ),
        (replace(ENCODED, picture=replace(PICTURE, also=("-c:v", "nonsense"))), "nonsense"),
        (replace(ENCODED, picture=replace(PICTURE, filters="nonsense=1")), "nonsense"),
    ],
)
def test_what_is_not_as_it_was_meant_is_not_there(
    usual: Path, out: Path, recipe: Recipe, problem: str
) -> None:
    found = not_made(task(usual, recipe, out / "new.mp4"))
    assert problem in found.problem
    assert "\n" not in found.problem
    assert str(out) not in found.problem


def test_a_length_that_is_off_by_a_frame_or_two_is_meant(usual: Path, out: Path) -> None:
    made(task(usual, replace(ENCODED, seconds=1.17), out / "new.mp4"))
    not_made(task(usual, replace(ENCODED, seconds=1.19), out / "other.mp4"))


def test_a_full_disk_has_a_sentence_of_its_own(usual: Path, tmp_path: Path, out: Path) -> None:
    """The real ffmpeg, writing to the device that is always full."""
    if not Path("/dev/full").exists():
        pytest.skip("only Linux has /dev/full")
    but_last = "set -- $(printf '%s\\n' \"$@\" | sed '$d')"
    full = program(tmp_path, "ffmpeg", f'{but_last}\nexec {find_ffmpeg().path} -y "$@" -f mp4 /dev/full')
    one = task(usual, replace(WRAPPED, wrapping=()), out / "new.mp4", ffmpeg=full, prove=False)
    with pytest.raises(OutputError, match=r"new\.mp4 cannot be written: the disk is full"):
        convert(one)
    assert contents(out) == []


def test_a_folder_that_is_not_there_takes_nothing(usual: Path, tmp_path: Path) -> None:
    with pytest.raises(OutputError, match="its folder does not exist"):
        convert(task(usual, ENCODED, tmp_path / "none" / "new.mp4"))


@pytest.mark.parametrize(
    ("script", "problem"),
    [
        ("exit 3", "ffmpeg ended with exit code 3 and gave no reason."),
        ("kill -SEGV $$", "ffmpeg crashed (SIGSEGV) and gave no reason."),
        ("exit 0", "ffmpeg wrote no file."),
        (
            'echo "[libx264 @ 0x55] [error] out of ideas!" >&2',
            "ffmpeg cannot make the new file: out of ideas.",
        ),
        ("for last; do :; done; echo nothing > ${last#file:}", "The new file cannot be read: "),
    ],
)
def test_a_program_that_fails_is_one_sentence(
    usual: Path, tmp_path: Path, out: Path, script: str, problem: str
) -> None:
    broken = program(tmp_path, "ffmpeg", script)
    found = not_made(task(usual, ENCODED, out / "new.mp4", ffmpeg=broken, prove=False))
    assert found.problem.startswith(problem)


def test_a_program_that_hangs_is_ended(
    usual: Path, tmp_path: Path, out: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("mediacheck.repair.making.encode_limit_s", lambda _: 0.5)
    hangs = program(tmp_path, "ffmpeg", "exec sleep 60")
    found = not_made(task(usual, ENCODED, out / "new.mp4", ffmpeg=hangs, prove=False))
    assert found.problem == "It took longer than 0 minutes."


def test_without_a_program_nothing_is_blamed_on_the_file(usual: Path, tmp_path: Path, out: Path) -> None:
    with pytest.raises(ProgramError, match="there is no program"):
        convert(task(usual, ENCODED, out / "new.mp4", ffmpeg=tmp_path / "none", prove=False))


def several(usual: Path, out: Path) -> list[Task]:
    """Different files of one master: two sizes, sound, silence, none, two passes, the same packets."""
    small = replace(PICTURE, filters=FILTERS.replace("160:90", "96:54"), width=96, height=54)
    rated = replace(PICTURE, also=RATED, two_passes=True)
    recipes = [
        ENCODED,
        replace(ENCODED, picture=small, sound=SILENCE),
        replace(ENCODED, picture=small, sound=None),
        replace(ENCODED, picture=rated),
        replace(WRAPPED, sound=None),
    ]
    return [task(usual, recipe, out / f"{number}.mp4") for number, recipe in enumerate(recipes)]


def test_files_made_together_are_those_made_alone(usual: Path, tmp_path: Path, out: Path) -> None:
    together = convert_together(several(usual, out))
    alone = tmp_path / "alone"
    alone.mkdir()
    assert list(together) == [convert(one) for one in several(usual, alone)]
    assert contents(out) == contents(alone) == [f"{number}.mp4" for number in range(5)]
    assert all(digest(out / name) == digest(alone / name) for name in contents(out))


def test_files_made_together_are_decoded_once(usual: Path, tmp_path: Path, out: Path) -> None:
    log = tmp_path / "log"
    script = f'case "$*" in *copy*) ;; *x264*) echo run >> {log};; esac\nexec {find_ffmpeg().path} "$@"'
    counts = program(tmp_path, "ffmpeg", script)
    pair = [replace(one, ffmpeg=counts, prove=False) for one in several(usual, out)[:3]]
    assert all(isinstance(found, Made) for found in convert_together(pair))
    assert log.read_text().count("run") == 1


@pytest.mark.parametrize(
    "bad",
    [
        replace(ENCODED, picture=replace(PICTURE, also=("-c:v", "nonsense"))),
        replace(ENCODED, picture=replace(PICTURE, also=("-c:v", "libx264", "-crf", "50"))),
        replace(ENCODED, seconds=5.0),
    ],
)
def test_one_that_cannot_be_made_does_not_cost_the_others(usual: Path, out: Path, bad: Recipe) -> None:
    recipes = (ENCODED, bad, replace(ENCODED, sound=None))
    ones = [task(usual, recipe, out / f"{number}.mp4") for number, recipe in enumerate(recipes)]
    found = convert_together(ones)
    assert [type(one) for one in found] == [Made, NotMade, Made]
    assert contents(out) == ["0.mp4", "2.mp4"]


def test_nothing_together_is_nothing() -> None:
    assert convert_together(()) == ()
    assert together_limit_s(()) == 0


def test_how_far_it_has_come_is_told(usual: Path, out: Path) -> None:
    told: list[Decoded] = []

    def hear(future: Future[object], value: object) -> None:
        assert isinstance(value, Decoded)
        told.append(value)

    one = task(
        usual, replace(ENCODED, sound=replace(SOUND, levels=Levels(-20.0, 1.0, -1.0))), out / "new.mp4"
    )
    with FileWorkers(1, time_limit_s, hear) as workers:
        found = workers.submit(convert, one).result()
    assert isinstance(found, Made)
    assert (out / "new.mp4").exists()
    seconds = [value.seconds for value in told]
    assert seconds == sorted(seconds)
    assert (seconds[0], seconds[-1]) == (0.0, 1.0)
    assert {value.of_seconds for value in told} == {1.0}


def test_what_was_made_before_is_not_made_again(usual: Path, tmp_path: Path, out: Path) -> None:
    kept = Kept(tmp_path / "kept")
    first = task(usual, ENCODED, out / "first.mp4", kept=kept, master_sha256=digest(usual))
    found = made(first)
    assert first.key is not None
    kept.keep(first.key, first.out, found)
    broken = program(tmp_path, "ffmpeg", "exit 3")
    again = replace(first, out=out / "again.mp4", ffmpeg=broken)
    assert convert(again) == found
    assert convert_together((again, again)) == (found, found)
    assert digest(out / "again.mp4") == found.sha256
    not_made(replace(again, out=out / "other.mp4", recipe=replace(ENCODED, sound=None), prove=False))
    not_made(replace(again, out=out / "other.mp4", master_sha256="0" * 64, prove=False))
    not_made(replace(again, out=out / "other.mp4", ffmpeg_version="0.1", prove=False))
    not_made(replace(again, out=out / "other.mp4", prove=False))


def test_time_limits_grow_with_the_work_and_are_finite(usual: Path, out: Path) -> None:
    one = task(usual, ENCODED, out / "new.mp4")
    longer = replace(one, recipe=replace(ENCODED, seconds=7200.0))
    larger = replace(one, recipe=replace(ENCODED, picture=replace(PICTURE, width=7680, height=4320)))
    unknown = replace(one, recipe=replace(ENCODED, seconds=None), facts=replace(one.facts, duration=None))
    base = time_limit_s(one)
    assert 5 * tasks.ENCODE_LIMIT_S < base < time_limit_s(longer) < 10**6
    assert base < time_limit_s(larger) < 10**6
    assert base < time_limit_s(unknown) < 10**6
    assert together_limit_s((one, longer)) == base + time_limit_s(longer)
    assert time_limit_s(replace(one, location=Path("gone"))) < base


def test_a_copied_picture_needs_no_proof_of_likeness(usual: Path, out: Path) -> None:
    found = made(
        task(usual, replace(WRAPPED, picture=COPIED, sound=None, wrapping=WRAPPING), out / "new.mp4")
    )
    assert found.likeness is None
    assert not facts_of(out / "new.mp4").audio
    run("-i", out / "new.mp4", "-f", "null", "-")
