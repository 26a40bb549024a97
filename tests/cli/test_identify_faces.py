"""`mediacheck identify --face`: right, wrong, or neither, and never a wrong that was not seen."""

from __future__ import annotations

import json
import shutil
from dataclasses import replace
from pathlib import Path

import pytest

from mediacheck.cli.app import run
from mediacheck.inspection import sha256_of
from mediacheck.manifest.model import ManifestFile
from mediacheck.manifest.record import manifest_text
from tests.identify.made import OFFERS, SAMPLES, SOIL, WATER, encoded, frame, jpeg, photo
from tests.manifest.make import MANIFEST

Capture = pytest.CaptureFixture[str]
ONE = "  - {name: %s, profile: basic-1080p, loop: {version: '%s', %s}}\n"
AISLE, WINDOW = "aisle side", "window side"


@pytest.fixture(scope="module")
def scene(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A library of a loop of two items, one of three that begins alike, and one of one; a photo."""
    folder = tmp_path_factory.mktemp("faces")
    loops = folder / "loops"
    for name, clips in (("spring", (WATER, SOIL)), ("summer", (WATER, SOIL, OFFERS)), ("soil", (SOIL,))):
        (loops / name).mkdir(parents=True)
        for number, clip in enumerate(clips, 1):
            shutil.copy(SAMPLES / clip, loops / name / f"{number}.mp4")
    assert run(["identify", "--index", str(loops), "--library", str(folder / "known")]) == 0
    (folder / "offers.jpg").write_bytes(jpeg(photo(frame(OFFERS))))
    return folder


def display(scene: Path, **loops: tuple[str, str]) -> str:
    """A display file: of each face, the version and what else its loop says."""
    file = scene / "stand.yaml"
    lines = (ONE % (name.replace("_", " "), *loop) for name, loop in loops.items())
    file.write_text("faces:\n" + "".join(lines), "utf-8")
    return str(file)


def told(capsys: Capture, scene: Path, code: int, *arguments: str) -> str:
    assert run(["identify", *arguments, "--library", str(scene / "known")]) == code
    out, err = capsys.readouterr()
    return out + err


def test_a_loop_that_both_faces_show_is_right_on_both(scene: Path, capsys: Capture) -> None:
    shared = display(scene, aisle_side=("3", "library: summer"), window_side=("3", "library: summer"))
    for face in (AISLE, WINDOW):
        for file in ("offers.jpg", "loops/summer", "loops/summer/3.mp4"):
            said = told(capsys, scene, 0, str(scene / file), "--display", shared, "--face", face)
            assert said.startswith(f"RIGHT: this is the loop of the {face}.")
    said = told(capsys, scene, 0, str(scene / "loops/summer"), "--display", shared)
    assert said.startswith("THIS IS summer, which belongs on the aisle side and on the window side.")


def test_the_face_that_was_asked_for_stands_first_in_json(scene: Path, capsys: Capture) -> None:
    shared = display(scene, aisle_side=("3", "library: summer"), window_side=("4", "library: summer"))
    asked = ("--display", shared, "--face", WINDOW, "--json", "-")
    record = json.loads(told(capsys, scene, 0, str(scene / "loops/summer"), *asked))
    assert [(one["face"], one["version"]) for one in record["loops"]] == [(WINDOW, "4"), (AISLE, "3")]
    assert (record["answer"], record["right_face"]) == ("match", True)


def test_a_face_whose_loop_is_not_in_the_library_is_not_called_wrong(scene: Path, capsys: Capture) -> None:
    half = display(scene, aisle_side=("3", "library: summer"), window_side=("1", "library: roses"))
    for file in ("offers.jpg", "loops/soil"):
        said = told(capsys, scene, 2, str(scene / file), "--display", half, "--face", WINDOW)
        assert "does not hold the loop of the window side" in said
    assert told(capsys, scene, 0, str(scene / "offers.jpg"), "--display", half, "--face", AISLE)


def manifest(scene: Path, name: str, *clips: str) -> str:
    """As `build` writes it, of these clips."""
    files = tuple(
        ManifestFile(f"{number}.mp4", (SAMPLES / clip).stat().st_size, sha256_of(SAMPLES / clip), "video")
        for number, clip in enumerate(clips, 1)
    )
    made = replace(
        MANIFEST, files=files, play_order=tuple(one.path for one in files), folders=(), left_out=()
    )
    (scene / name).write_text(manifest_text(made), "utf-8")
    return name


def test_an_earlier_version_under_the_name_of_the_loop_is_not_right(scene: Path, capsys: Capture) -> None:
    """The library was not brought up to date since."""
    old = manifest(scene, "old.manifest.json", WATER, SOIL)
    new = manifest(scene, "new.manifest.json", WATER, SOIL, OFFERS)
    loop = f"library: spring, manifest: {new}, earlier: [{{version: '1', manifest: {old}}}]"
    stand = display(scene, aisle_side=("2", loop))
    said = told(capsys, scene, 1, str(scene / "loops/spring"), "--display", stand, "--face", AISLE)
    assert said.startswith("WRONG: the aisle side shows spring.")
    assert "version 1" in said
    assert told(capsys, scene, 0, str(scene / "loops/summer"), "--display", stand, "--face", AISLE)


@pytest.fixture
def card(tmp_path: Path) -> Path:
    """The spring loop, encoded anew."""
    folder = tmp_path / "card"
    folder.mkdir()
    for name, clip in (("1.mp4", WATER), ("2.mp4", SOIL)):
        encoded(SAMPLES / clip, folder / name, "-vf", "scale=320:-2", "-b:v", "200k")
    return folder


def asked(scene: Path) -> tuple[str, ...]:
    stand = display(scene, aisle_side=("3", "library: spring"), window_side=("1", "library: summer"))
    return "--display", stand, "--face", AISLE


def test_a_card_that_was_encoded_anew_is_right(scene: Path, card: Path, capsys: Capture) -> None:
    """Another loop has the same items and one more."""
    said = told(capsys, scene, 0, str(card), *asked(scene))
    assert said.startswith("RIGHT")
    assert "encoded anew" in said


def test_a_card_with_an_item_twice_or_cut_is_not_the_loop(scene: Path, card: Path, capsys: Capture) -> None:
    encoded(card / "1.mp4", card / "cut.mp4", "-t", "1.5")
    (card / "cut.mp4").replace(card / "1.mp4")
    assert "1 of the 2 items" in told(capsys, scene, 1, str(card), *asked(scene))
    shutil.copy(card / "2.mp4", card / "1.mp4")
    assert "1 of the 2 items" in told(capsys, scene, 1, str(card), *asked(scene))


def test_other_seconds_in_one_item_of_a_card_are_named(scene: Path, card: Path, capsys: Capture) -> None:
    box = "drawbox=x=iw*0.3:y=ih*0.4:w=iw*0.3:h=ih*0.2:c=white:t=fill:enable='between(t,1,2)'"
    encoded(SAMPLES / WATER, card / "1.mp4", "-vf", box)
    said = told(capsys, scene, 3, str(card))
    assert said.startswith("ANOTHER VERSION")
    assert "but for the seconds 1.0 to 2" in said


def test_a_card_of_which_a_file_cannot_be_decoded_is_not_called_wrong(
    scene: Path, card: Path, capsys: Capture
) -> None:
    (card / "2.mp4").write_bytes(b"no film" * 99)
    said = told(capsys, scene, 3, str(card), *asked(scene))
    assert said.startswith("CANNOT SAY.")
    assert "1 of its 2 files cannot be decoded" in said


def test_a_card_with_nothing_to_show_is_wrong_use(scene: Path, tmp_path: Path, capsys: Capture) -> None:
    (tmp_path / "card").mkdir()
    assert "no video and no still" in told(capsys, scene, 2, str(tmp_path / "card"), *asked(scene))


def test_a_clip_that_shows_nothing_is_not_called_wrong(scene: Path, tmp_path: Path, capsys: Capture) -> None:
    black = encoded(SAMPLES / WATER, tmp_path / "a.mp4", "-vf", "eq=brightness=-1:contrast=0")
    said = told(capsys, scene, 3, str(black), *asked(scene))
    assert said.startswith("CANNOT SAY.")
    assert "shows too little" in said


def test_a_clip_in_which_no_loop_is_recognised_is_neither_right_nor_wrong(
    scene: Path, tmp_path: Path, capsys: Capture
) -> None:
    """It may have been filmed from the screen."""
    film = encoded(SAMPLES / WATER, tmp_path / "a.mp4", "-vf", "perspective=200:100:W:0:0:H:W-300:H-200")
    said = told(capsys, scene, 3, str(film), *asked(scene))
    assert said.startswith("NONE")
    assert "take photos" in said


def test_an_item_of_a_loop_says_where_in_the_round_it_is(scene: Path, capsys: Capture) -> None:
    record = json.loads(told(capsys, scene, 0, str(scene / "loops/summer/3.mp4"), "--json", "-"))
    (loop,) = record["loops"]
    assert (loop["name"], round(loop["from_s"]), round(loop["until_s"])) == ("summer", 5, 7)


def test_the_beginning_of_an_item_ends_before_the_item_does(
    scene: Path, tmp_path: Path, capsys: Capture
) -> None:
    clip = encoded(SAMPLES / OFFERS, tmp_path / "a.mp4", "-t", "1.6", "-c:v", "libx264")
    (loop,) = json.loads(told(capsys, scene, 0, str(clip), "--json", "-"))["loops"]
    assert abs(loop["until_s"] - loop["from_s"] - 1.6) <= 0.5


def test_one_of_two_loops_that_both_belong_on_the_face_is_right(tmp_path: Path, capsys: Capture) -> None:
    for name in ("one", "two"):
        (tmp_path / "loops" / name).mkdir(parents=True)
        shutil.copy(SAMPLES / WATER, tmp_path / "loops" / name / "1.mp4")
    assert run(["identify", "--index", str(tmp_path / "loops"), "--library", str(tmp_path / "known")]) == 0
    stand = display(tmp_path, aisle_side=("2", f"manifest: {manifest(tmp_path, 'a.manifest.json', WATER)}"))
    said = told(capsys, tmp_path, 0, str(tmp_path / "loops/one"), "--display", stand, "--face", AISLE)
    assert "RIGHT" in said


def test_a_library_with_nothing_but_earlier_versions_of_a_loop_cannot_say(
    scene: Path, capsys: Capture
) -> None:
    old = manifest(scene, "old.manifest.json", WATER, SOIL)
    new = manifest(scene, "newer.manifest.json", OFFERS)
    stand = display(scene, aisle_side=("2", f"manifest: {new}, earlier: [{old}]"))
    said = told(capsys, scene, 2, str(scene / "offers.jpg"), "--display", stand, "--face", AISLE)
    assert "does not hold the loop of the aisle side" in said


def test_a_card_with_another_loop_is_wrong_also_where_a_file_cannot_be_decoded(
    scene: Path, card: Path, capsys: Capture
) -> None:
    (card / "1.mp4").write_bytes(b"no film" * 99)
    encoded(SAMPLES / OFFERS, card / "2.mp4", "-c:v", "libx264")
    assert "WRONG" in told(capsys, scene, 1, str(card), *asked(scene))
