"""Display files: read with the profiles and manifests that they name, faces found by name, the example."""

from __future__ import annotations

import hashlib
import json
import subprocess
import sys
from dataclasses import replace
from pathlib import Path
from typing import Any

import jsonschema  # type: ignore[import-untyped]  # it has no types
import pytest
import yaml

from mediacheck.display import Display, Face
from mediacheck.display_files import LoadedDisplay, LoadedFace, display_schema, load_display
from mediacheck.errors import DisplayError, ProfileError
from mediacheck.manifest.record import manifest_text
from mediacheck.profile_files import load_profile, read_profile
from mediacheck.strict_yaml import read_mapping
from tests.displays import display, face, listed, manifest
from tests.test_profile_files import lines_without_reason

CHECKOUT = Path(__file__).parent.parent
EXAMPLE = CHECKOUT / "docs" / "loam-and-lantern.yaml"
TWO = """\
id: loam
faces:
  - name: Aisle side
    profile: mine.yaml
    loop:
      manifest: loops/aisle.manifest.json
      earlier: [loops/aisle-1.manifest.json, {version: 2, manifest: loops/aisle-2.manifest.json}]
  - name: window side
    profile: basic-1080p
"""
NOW, FIRST, SECOND = manifest("can.mp4", "rain.mp4"), manifest("can.mp4"), manifest("rain.mp4")


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A display file with everything that it names."""
    (tmp_path / "loops").mkdir()
    for name, each in (("aisle", NOW), ("aisle-1", FIRST), ("aisle-2", SECOND)):
        (tmp_path / "loops" / f"{name}.manifest.json").write_text(manifest_text(each), "utf-8")
    (tmp_path / "mine.yaml").write_text("id: mine\n")
    (tmp_path / "display.yaml").write_text(TWO)
    return tmp_path


def refusal(path: Path | str) -> list[str]:
    """The lines of the error that a display file is refused with."""
    with pytest.raises(DisplayError) as refused:
        load_display(path)
    return str(refused.value).splitlines()


def test_a_display_is_loaded_with_all_that_it_names(folder: Path) -> None:
    path = folder / "display.yaml"
    loaded = load_display(path)
    aisle, window = loaded.display.faces
    assert loaded == LoadedDisplay(
        loaded.display,
        (
            LoadedFace(aisle, read_profile(folder / "mine.yaml"), NOW, (FIRST, SECOND)),
            LoadedFace(window, load_profile("basic-1080p")),
        ),
        str(path),
        hashlib.sha256(TWO.encode()).hexdigest(),
    )
    assert (loaded.display.id, aisle.name, window) == (
        "loam",
        "Aisle side",
        Face(name="window side", profile="basic-1080p"),
    )


def test_paths_are_relative_to_the_file_and_not_to_where_the_command_runs(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    elsewhere = folder / "elsewhere"
    elsewhere.mkdir()
    (elsewhere / "mine.yaml").write_text("id: another\n")
    monkeypatch.chdir(elsewhere)
    loaded = load_display("../display.yaml")
    assert (loaded.faces[0].profile.profile.id, loaded.faces[0].manifest) == ("mine", NOW)
    assert loaded == replace(load_display("../display.yaml"), source="../display.yaml")


def test_every_file_that_was_read_is_named(folder: Path) -> None:
    bundled = CHECKOUT / "profiles" / "basic-1080p.yaml"
    loops = [folder / "loops" / f"{name}.manifest.json" for name in ("aisle", "aisle-1", "aisle-2")]
    assert load_display(folder / "display.yaml").files == (
        folder / "display.yaml",
        folder / "mine.yaml",
        bundled,
        *loops,
    )


def test_without_an_id_it_has_the_name_of_its_file(folder: Path) -> None:
    path = folder / "Loam & Lantern 7.yaml"
    path.write_text("faces: [{name: A, profile: mine.yaml}]")
    assert load_display(path).display.id == "Loam-Lantern-7"
    path = folder / "--.yaml"
    path.write_text("faces: [{name: A, profile: mine.yaml}]")
    assert load_display(path).display.id == "display"


def test_all_that_cannot_be_read_is_told_at_once(folder: Path) -> None:
    (folder / "loops" / "aisle.manifest.json").unlink()
    (folder / "loops" / "aisle-2.manifest.json").write_text("{}")
    (folder / "mine.yaml").write_text("id: mine\nscreen: {width: wide}\n")
    path = folder / "display.yaml"
    path.write_text(TWO.replace("basic-1080p", "basic-1080"))
    names = ", ".join(
        ("basic-1080p", "photo-frame-1024x600", "portrait-1080p", "shelf-strip-1920x540", "uhd-2160p")
    )
    loops, unusable = folder / "loops", "expected a manifest that can be used, found none:"
    assert refusal(path) == [
        f"{path}, line 4: faces[1].profile: expected a profile that can be used, found one that cannot.",
        f'{folder / "mine.yaml"}, line 2: screen.width: expected a whole number, found the text "wide".',
        f"{path}, line 6: faces[1].loop.manifest: {unusable} the manifest "
        f"{loops / 'aisle.manifest.json'} cannot be read: there is nothing of that name.",
        f"{path}, line 7: faces[1].loop.earlier[2]: {unusable} {loops / 'aisle-2.manifest.json'} is no "
        "manifest that can be used: it does not say of itself that it is one (mediacheck/manifest/1).",
        f"{path}, line 9: faces[2].profile: expected a profile that can be used, found none: no profile "
        "named 'basic-1080'; did you mean 'basic-1080p'? Otherwise give the path of a file; the bundled "
        f"ones are {names}.",
    ]


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (None, ": expected a file, found no file of this name."),
        ("faces: [", ", line 1: expected a bracket that closes this one, found none."),
        ("id: basic\nvideo: {}\n", ", line 1: faces: expected a value, found nothing."),
        ("", ", line 1: expected keys with values, such as `id: my-player`, found nothing."),
    ],
)
def test_a_file_that_is_no_display_is_a_display_error(content: str | None, says: str, tmp_path: Path) -> None:
    path = tmp_path / "d.yaml"
    if content is not None:
        path.write_text(content)
    assert refusal(path)[0] == f"{path}{says}"


def test_a_display_error_is_of_the_family_of_profiles_and_says_where_the_keys_stand(tmp_path: Path) -> None:
    with pytest.raises(ProfileError) as refused:
        load_display(tmp_path)
    assert (refused.value.exit_code, type(refused.value)) == (2, DisplayError)
    assert refused.value.advice.endswith("docs/display.schema.json has all keys.")


ITEMS = """\
faces:
  - name: A
    profile: basic-1080p
    loop:
      manifest: a.manifest.json
      items:
        - name: CAN.mp4
          title: The can
        - name: rein.mp4
        - name: rain.mp4
          sha256: {sha256}
"""


def test_items_beside_a_manifest_must_be_what_it_lists(tmp_path: Path) -> None:
    (tmp_path / "a.manifest.json").write_text(manifest_text(NOW))
    path = tmp_path / "d.yaml"
    path.write_text(ITEMS.format(sha256="0" * 64))
    assert refusal(path) == [
        f'{path}, line 9: faces[1].loop.items[2].name: expected a file of the manifest, found "rein.mp4"; '
        "did you mean rain.mp4?",
        f"{path}, line 11: faces[1].loop.items[3].sha256: expected what the manifest lists for this file, "
        "found another SHA-256.",
    ]
    path.write_text(ITEMS.format(sha256=listed("rain.mp4").sha256).replace("        - name: rein.mp4\n", ""))
    assert [item.title for item in load_display(path).faces[0].face.loop.items] == ["The can", ""]


# Faces by name


LOAM = display(face("aisle side"), face("Window side"), face("Back"))


@pytest.mark.parametrize("name", ["Window side", "window side", "WINDOW  SIDE", " window side "])
def test_a_face_is_found_whatever_its_capitals(name: str) -> None:
    assert LOAM.face(name) is LOAM.faces[1]


@pytest.mark.parametrize(
    ("name", "hint"),
    [
        ("windo side", '; did you mean "Window side"?'),
        ("window", '; did you mean "Window side"?'),
        ("left", "."),
    ],
)
def test_a_wrong_name_is_told_with_the_nearest_and_with_all(name: str, hint: str) -> None:
    with pytest.raises(DisplayError) as refused:
        LOAM.face(name)
    assert str(refused.value) == f'loam.yaml has no face named "{name}"{hint}'
    assert refused.value.advice == "Its faces are: aisle side, Window side, Back."


def test_a_display_with_one_face_needs_no_name() -> None:
    single = display(face("A"))
    assert (single.chosen(None).face, single.chosen(None).others) == (single.faces[0], ())
    with pytest.raises(DisplayError, match=r"loam\.yaml has 3 faces: say with --face which one it is\."):
        LOAM.chosen(None)


def test_the_face_that_is_chosen_knows_the_others() -> None:
    chosen = LOAM.chosen("back")
    assert (chosen.display, chosen.face, chosen.others) == (LOAM, LOAM.faces[2], LOAM.faces[:2])


# The schema, and the example


def test_the_schema_in_docs_is_that_of_the_models() -> None:
    made = subprocess.run(
        [sys.executable, "-m", "mediacheck.display_files"],
        capture_output=True, check=True, text=True, encoding="utf-8", cwd=CHECKOUT,
    ).stdout  # fmt: skip
    assert made == (CHECKOUT / "docs" / "display.schema.json").read_text("utf-8")
    jsonschema.Draft202012Validator.check_schema(json.loads(made))


def example() -> dict[str, Any]:
    """What stands in the example."""
    found: dict[str, Any] = yaml.safe_load(EXAMPLE.read_text("utf-8"))
    return found


def test_the_example_validates_against_the_schema_too() -> None:
    jsonschema.validate(example(), display_schema())
    wrong = [
        {**example(), "face": []},
        {**example(), "faces": []},
        {"id": "a", "faces": [{"name": "A"}]},
        {
            "id": "a",
            "faces": [{"name": "A", "profile": "p", "loop": {"items": [{"name": "a", "sha256": "x"}]}}],
        },
    ]
    for each in wrong:
        with pytest.raises(jsonschema.ValidationError):
            jsonschema.validate(each, display_schema())
    earlier = {"earlier": ["a.json", {"version": "1", "manifest": "b.json"}]}
    jsonschema.validate({"faces": [{"name": "A", "profile": "p", "loop": earlier}]}, display_schema())


def test_every_key_of_the_schema_says_what_it_means() -> None:
    parts = [display_schema(), *display_schema()["$defs"].values()]
    silent = [
        key
        for part in parts
        for key, about in part["properties"].items()
        if "description" not in about and "$ref" not in about
    ]
    assert silent == []


def test_the_example_is_the_display_that_the_documents_speak_of() -> None:
    loaded = load_display(EXAMPLE)
    assert [(one.name, one.profile.profile.id, one.face.card_label) for one in loaded.faces] == [
        ("aisle side", "basic-1080p", "AISLE"),
        ("window side", "portrait-1080p", "WINDOW"),
    ]
    assert (loaded.display.id, Display) == (EXAMPLE.stem, type(loaded.display))
    for item in (item for one in loaded.faces for item in one.face.loop.items):
        content = (CHECKOUT / "sample_media" / item.name).read_bytes()
        assert (item.name, item.sha256) == (item.name, hashlib.sha256(content).hexdigest())


def test_every_value_of_the_example_carries_its_reason() -> None:
    lines = EXAMPLE.read_text("utf-8").splitlines()
    assert lines_without_reason(read_mapping(EXAMPLE), lines) == []
    assert lines[0] == "# yaml-language-server: $schema=display.schema.json"
