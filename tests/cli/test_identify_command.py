"""`mediacheck identify` as an installer calls it."""

from __future__ import annotations

import json
import os
import shutil
from collections.abc import Callable
from concurrent.futures import Executor, Future
from pathlib import Path
from typing import Any

import jsonschema  # type: ignore[import-untyped]  # it has no types
import pytest
from PIL import Image

from mediacheck.cli.app import run
from mediacheck.display_files import load_display
from mediacheck.errors import WorkerDied
from mediacheck.identify.asking import identify
from mediacheck.identify.library import open_library
from mediacheck.identify.schema import identification_schema
from tests.identify.made import OFFERS, SAMPLES, SEEDS, SOIL, WATER, encoded, frame, jpeg, photo

ROOT = Path(__file__).parents[2]
Capture = pytest.CaptureFixture[str]
DISPLAY = """\
faces:
  - {name: aisle side, profile: basic-1080p, loop: {version: "3", library: water}}
  - {name: window side, profile: basic-1080p, loop: {version: "1", library: soil}}
"""


@pytest.fixture(scope="module")
def scene(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A library of three loops, a display that names two of them, and photos."""
    folder = tmp_path_factory.mktemp("identify")
    loops = folder / "loops"
    for name, clip in (("water", WATER), ("soil", SOIL), ("offers", OFFERS)):
        (loops / name).mkdir(parents=True)
        shutil.copy(SAMPLES / clip, loops / name / "01.mp4")
    assert run(["identify", "--index", str(loops), "--library", str(folder / "known")]) == 0
    (folder / "stand.yaml").write_text(DISPLAY, "utf-8")
    (folder / "water.jpg").write_bytes(jpeg(photo(frame(WATER))))
    (folder / "offers.jpg").write_bytes(jpeg(photo(frame(OFFERS))))
    return folder


def told(capsys: Capture, scene: Path, *arguments: str, code: int = 0) -> str:
    assert run(["identify", *arguments, "--library", str(scene / "known")]) == code
    return capsys.readouterr().out


def test_right_and_wrong_faces(scene: Path, capsys: Capture) -> None:
    picture, display = str(scene / "water.jpg"), str(scene / "stand.yaml")
    right = told(capsys, scene, picture, "--display", display, "--face", "aisle side")
    assert right.startswith("RIGHT: this is the loop of the aisle side.")
    wrong = told(capsys, scene, picture, "--display", display, "--face", "window side", code=1)
    assert wrong.startswith("WRONG: the window side shows water.")
    assert told(capsys, scene, picture).startswith("THIS IS water.")


def test_a_loop_that_the_display_does_not_have(scene: Path, capsys: Capture) -> None:
    picture, display = str(scene / "offers.jpg"), str(scene / "stand.yaml")
    assert told(capsys, scene, picture).startswith("THIS IS offers.")
    assert not told(capsys, scene, picture, "--display", display, code=3).startswith("THIS IS")
    said = told(capsys, scene, picture, "--display", display, "--face", "aisle side", code=3)
    assert "WRONG" not in said


def test_json_keeps_its_schema_and_evidence_is_shown(scene: Path, tmp_path: Path, capsys: Capture) -> None:
    schema = json.loads((ROOT / "docs/identification.schema.json").read_text("utf-8"))
    assert schema == identification_schema(), (
        "python -m mediacheck.identify.schema > docs/identification.schema.json"
    )
    out = tmp_path / "why.png"
    record = json.loads(told(capsys, scene, str(scene / "water.jpg"), "--json", "-", "--evidence", str(out)))
    jsonschema.validate(record, schema)
    assert (record["answer"], record["loops"][0]["name"]) == ("match", "water")
    assert record["taken_at"] == "2026-03-10T11:00:00Z"
    with Image.open(out) as picture:
        assert picture.height == 540
        assert picture.width > 900


def test_a_phone_that_was_turned(scene: Path, tmp_path: Path, capsys: Capture) -> None:
    """EXIF says how: the pixels lie on their side."""
    (tmp_path / "turned.jpg").write_bytes(jpeg(photo(frame(WATER))[::-1].transpose(1, 0, 2).copy(), 8))
    assert told(capsys, scene, str(tmp_path / "turned.jpg")).startswith("THIS IS water.")


def test_clips_and_cards(scene: Path, tmp_path: Path, capsys: Capture) -> None:
    clip = encoded(SAMPLES / WATER, tmp_path / "a.mp4", "-vf", "scale=320:-2", "-b:v", "200k")
    assert told(capsys, scene, str(clip)).startswith("THIS IS water.")
    (tmp_path / "card").mkdir()
    shutil.copy(SAMPLES / SOIL, tmp_path / "card/another-name.mp4")
    assert told(capsys, scene, str(tmp_path / "card")).startswith("THIS IS soil.")
    shutil.copy(clip, tmp_path / "card/another-name.mp4")
    assert told(capsys, scene, str(tmp_path / "card")).startswith("THIS IS water.")
    shutil.copy(SAMPLES / SEEDS, tmp_path / "card/another-name.mp4")
    assert told(capsys, scene, str(tmp_path / "card"), code=3).startswith("NONE")
    assert told(capsys, scene, str(SAMPLES / SEEDS), code=3).startswith("NONE")


def test_what_cannot_be_decoded_is_not_told_to_be_the_wrong_loop(
    scene: Path, tmp_path: Path, capsys: Capture
) -> None:
    (tmp_path / "card").mkdir()
    (tmp_path / "clip.mp4").write_bytes(b"no film" * 99)
    shutil.copy(tmp_path / "clip.mp4", tmp_path / "card" / "01.mp4")
    asked = ("--display", str(scene / "stand.yaml"), "--face", "aisle side")
    assert "send it again" in told(capsys, scene, str(tmp_path / "clip.mp4"), *asked, code=3)
    assert "run mediacheck check on it" in told(capsys, scene, str(tmp_path / "card"), *asked, code=3)


class Dying(Executor):
    """As processes that die of what they look at."""

    def submit(self, fn: Callable[..., Any], /, *_: Any, **__: Any) -> Future[Any]:
        future: Future[Any] = Future()
        future.set_exception(WorkerDied("it ended by itself"))
        return future


@pytest.mark.parametrize("name", ["water.jpg", "loops/water/01.mp4", "loops/water"])
def test_what_crashes_its_reader_is_not_told_to_be_the_wrong_loop(scene: Path, name: str) -> None:
    display = load_display(scene / "stand.yaml")
    face = display.chosen("aisle side")
    found, _ = identify([scene / name], open_library(scene / "known"), Dying(), display, face)
    assert (found.answer, found.right_face, found.face) == ("retake", None, "aisle side")


def test_what_differs_in_a_clip_is_told(scene: Path, tmp_path: Path, capsys: Capture) -> None:
    box = "drawbox=x=iw*0.3:y=ih*0.4:w=iw*0.3:h=ih*0.2:c=white:t=fill:enable='between(t,1,2)'"
    clip = encoded(SAMPLES / WATER, tmp_path / "a.mp4", "-vf", box)
    out = told(capsys, scene, str(clip), code=3)
    assert out.startswith("ANOTHER VERSION")
    assert "but for the seconds 1.0 to 2" in out


@pytest.mark.parametrize(
    ("name", "content", "words"),
    [
        ("letter.jpg", b"Dear colleagues", "no photo that can be read"),
        ("torn.jpg", jpeg(photo(frame(WATER)))[:3000], "no photo that can be read"),
        ("phone.heic", b"\0\0\0\x18ftypheic" + bytes(100), "HEIC photo"),
        ("phone.jpg", b"\0\0\0\x18ftypheic" + bytes(100), "HEIC photo"),
        ("nothing.jpg", None, "There is no file"),
    ],
)
def test_a_file_that_is_no_photo_is_told(
    name: str, content: bytes | None, words: str, scene: Path, tmp_path: Path, capsys: Capture
) -> None:
    if content is not None:
        (tmp_path / name).write_bytes(content)
    assert run(["identify", str(tmp_path / name), "--library", str(scene / "known")]) == 2
    out, err = capsys.readouterr()
    assert (out, words in err) == ("", True)


def test_a_picture_of_100_million_pixels_is_looked_at(scene: Path, tmp_path: Path, capsys: Capture) -> None:
    huge = Image.fromarray(photo(frame(WATER))).resize((12_000, 9_000))
    huge.save(tmp_path / "huge.jpg", quality=60)
    assert told(capsys, scene, str(tmp_path / "huge.jpg")).startswith("THIS IS water.")
    Image.new("1", (20_000, 10_000)).save(tmp_path / "larger.png")
    assert run(["identify", str(tmp_path / "larger.png"), "--library", str(scene / "known")]) == 2


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ([], "Give a card"),
        (["a.jpg", "--face", "x"], "--face needs the display file"),
        (["a.jpg", "--evidence", "a.jpg"], "ends in .png"),
        (["water.jpg", "loops"], "only if all are photos"),
        (["water.jpg", "--json", "water.jpg"], "is only read"),
        (["water.jpg", "--json", "known/found.json"], "is only read"),
        (["loops/water", "--json", "loops/water/found.json"], "is only read"),
        (["a" * 300 + ".jpg"], "cannot be read"),
        (["pipe.jpg"], "a device or pipe"),
        (["pipe.mp4"], "a device or pipe"),
    ],
)
def test_wrong_use_is_one_sentence(
    arguments: list[str], words: str, scene: Path, capsys: Capture, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(scene)
    for pipe in ("pipe.jpg", "pipe.mp4"):
        if not Path(pipe).exists():
            os.mkfifo(pipe)
    assert run(["identify", *arguments, "--library", "known"]) == 2
    assert words in capsys.readouterr().err


def test_a_library_that_is_not_there(scene: Path, tmp_path: Path, capsys: Capture) -> None:
    assert run(["identify", str(scene / "water.jpg")]) == 2
    assert "--library FOLDER" in capsys.readouterr().err
    assert run(["identify", str(scene / "water.jpg"), "--library", str(tmp_path)]) == 2
    assert "holds no library" in capsys.readouterr().err


def test_an_evidence_picture_does_not_take_the_place_of_the_photo(
    scene: Path, tmp_path: Path, capsys: Capture
) -> None:
    Image.fromarray(photo(frame(WATER))).save(tmp_path / "photo.png")
    before = (tmp_path / "photo.png").read_bytes()
    same = str(tmp_path / "photo.png")
    assert "is only read" in failed(capsys, scene, same, "--evidence", same)
    assert (tmp_path / "photo.png").read_bytes() == before


def failed(capsys: Capture, scene: Path, *arguments: str) -> str:
    assert run(["identify", *arguments, "--library", str(scene / "known")]) == 2
    return capsys.readouterr().err


def test_json_is_all_that_is_printed_where_it_is_asked_for(
    scene: Path, tmp_path: Path, capsys: Capture
) -> None:
    asked = ("--index", str(scene / "loops"), "--library", str(tmp_path / "known"), "--json", "-")
    assert run(["identify", str(scene / "water.jpg"), *asked]) == 0
    out, err = capsys.readouterr()
    assert json.loads(out)["answer"] == "match"
    assert "3 files read" in err


def test_an_index_that_is_not_whole_says_so(tmp_path: Path, capsys: Capture) -> None:
    (tmp_path / "loops").mkdir()
    (tmp_path / "loops/broken.mp4").write_bytes(b"no film" * 99)
    asked = ["identify", "--index", str(tmp_path / "loops"), "--library", str(tmp_path / "known")]
    assert run(asked) == 3
    assert "broken.mp4: no picture in it can be read." in capsys.readouterr().err


@pytest.mark.parametrize("taken", ["0001:01:01 00:00:00+05:00", "9999:12:31 23:59:59-05:00"])
def test_a_clock_that_stands_at_the_end_of_time(
    taken: str, scene: Path, tmp_path: Path, capsys: Capture
) -> None:
    exif = Image.Exif()
    exif.get_ifd(0x8769)[0x9003], exif.get_ifd(0x8769)[0x9011] = taken[:19], taken[19:]
    Image.fromarray(photo(frame(WATER))).save(tmp_path / "old.jpg", quality=80, exif=exif)
    record = json.loads(told(capsys, scene, str(tmp_path / "old.jpg"), "--json", "-"))
    assert (record["answer"], record["taken_at"]) == ("match", None)
