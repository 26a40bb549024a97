"""Rollouts and tables of stores: what they plan, and every mistake in them by its line."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path

import jsonschema  # type: ignore[import-untyped]  # it has no types
import pytest
import yaml
from PIL import Image

from mediacheck.errors import RolloutError
from mediacheck.loop_content import content_key
from mediacheck.manifest.record import manifest_text
from mediacheck.stores.model import PlannedLoop, Store
from mediacheck.stores.rollout_files import read_plan, rollout_schema
from tests.displays import manifest
from tests.stores.made import digest

ROOT = Path(__file__).parents[2]
ROLLOUT = """\
title: Spring
displays:
  - id: planter
    title: Watering and seeds
    faces:
      - name: aisle side
        profile: basic-1080p
        loops:
          - {version: "1", from: 2026-01-01, sha256: [ONE]}
          - {version: "2", from: 2026-03-01, confirm_by: 2026-03-08, picture: water.png}
          - {version: "0"}
      - name: window side
stores:
  - number: 0117
    name: Mossford
    region: North
    place: by the tills
    time_zone: Europe/London
    due: 2026-03-12
    displays: [planter]
""".replace("ONE", digest("one"))


def written(folder: Path, text: str, name: str = "rollout.yaml") -> Path:
    (folder / name).write_text(text, "utf-8")
    return folder / name


def test_a_rollout_plans_displays_and_stores(tmp_path: Path) -> None:
    Image.new("RGB", (800, 450), "teal").save(tmp_path / "water.png")
    plan = read_plan([written(tmp_path, ROLLOUT)])
    (display,) = plan.displays
    aisle, window = display.faces
    (picture,) = plan.pictures
    assert (display.id, display.title, aisle.profile) == ("planter", "Watering and seeds", "basic-1080p")
    assert aisle.loops == (
        PlannedLoop("1", date(2026, 1, 1), None, content_key([digest("one")])),
        PlannedLoop("2", date(2026, 3, 1), date(2026, 3, 8), None, picture),
        PlannedLoop("0"),
    )
    assert window.loops == ()
    day = date(2026, 3, 12)
    assert plan.stores == (
        Store("0117", "Mossford", "North", "by the tills", "Europe/London", day, ("planter",)),
    )


def test_a_display_file_gives_its_faces_and_loops(tmp_path: Path) -> None:
    text = f"displays:\n  - file: {ROOT / 'docs/loam-and-lantern.yaml'}\n    from: 2026-03-01\n"
    (display,) = read_plan([written(tmp_path, text)]).displays
    assert display.id == "loam-and-lantern"
    assert [(face.name, face.profile) for face in display.faces] == [
        ("aisle side", "basic-1080p"),
        ("window side", "portrait-1080p"),
    ]
    digests = ["b7dec0c4a41f2bc240c99992f7c87459a5635258fe16fc5d86e65e1b928eb347"]
    assert display.faces[0].loops == (PlannedLoop("3", date(2026, 3, 1), None, content_key(digests)),)


def test_a_table_gives_stores_as_spreadsheets_write_it(tmp_path: Path) -> None:
    """With a byte order mark, quoted cells that hold line ends, and empty lines."""
    text = (
        "\ufeffNumber,name,region,time_zone,due,displays\r\n"
        '0117,"Mossford, by\r\nthe mill",North,Europe/London,2026-03-12,planter; shelf\r\n\r\n'
        "0118,Fernhill,,,,\r\n"
    )
    (tmp_path / "stores.csv").write_bytes(text.encode())
    day = date(2026, 3, 12)
    with pytest.raises(RolloutError, match=r"line 3.*one line of text"):
        read_plan([tmp_path / "stores.csv"])
    (tmp_path / "stores.csv").write_bytes(text.replace("by\r\nthe", "by the").encode())
    assert read_plan([tmp_path / "stores.csv"]).stores == (
        Store("0117", "Mossford, by the mill", "North", "", "Europe/London", day, ("planter", "shelf")),
        Store("0118", "Fernhill"),
    )


@pytest.mark.parametrize("separator", [",", ";", "\t"])
def test_a_table_has_the_separator_of_its_country(separator: str, tmp_path: Path) -> None:
    """And columns without a heading where something once stood."""
    lines = (("number", "name", "displays", "", ""), ("0117", "Moss", '"planter;shelf"', "", ""))
    text = "".join(separator.join(cells) + "\r\n" for cells in lines)
    plan = read_plan([written(tmp_path, f"\ufeff{text}", "stores.csv")])
    assert plan.stores == (Store("0117", "Moss", displays=("planter", "shelf")),)
    with pytest.raises(RolloutError, match=r'line 2: expected a heading above every cell.*"lost" below none'):
        read_plan([written(tmp_path, text[:-2] + "lost\r\n", "stores.csv")])


def test_a_display_file_calls_each_version_by_a_name_of_its_own(tmp_path: Path) -> None:
    """Of two that are called alike, the ledger would keep one, and not the present one."""
    (tmp_path / "old.manifest.json").write_text(manifest_text(manifest("a.mp4")), "utf-8")
    written(
        tmp_path,
        "id: planter\nfaces:\n  - name: aisle side\n    profile: basic-1080p\n    loop:\n"
        "      version: Spring\n      items: [{name: a.mp4}]\n"
        "      earlier: [{version: spring, manifest: old.manifest.json}]\n",
        "planter.yaml",
    )
    text = "displays:\n  - file: planter.yaml\n    from: 2026-03-01\n"
    with pytest.raises(
        RolloutError, match=r'line 2: .*each version of the aisle side.*more than one "spring"'
    ):
        read_plan([written(tmp_path, text)])


def test_a_display_that_cannot_be_read_does_not_shift_the_lines_of_others(tmp_path: Path) -> None:
    text = "displays:\n  - file: gone.yaml\n    from: 2026-03-01\n"
    text += "  - id: shelf\n    faces: [{name: front}]\n" * 2
    with pytest.raises(RolloutError) as refused:
        read_plan([written(tmp_path, text)])
    assert 'line 6: displays[3].id: expected each once, found another "shelf"' in str(refused.value)


def test_later_files_go_over_earlier_ones(tmp_path: Path) -> None:
    first = written(tmp_path, "number,name\n1,Old\n2,Stays\n", "a.csv")
    second = written(tmp_path, "number,name\n1,New\n", "b.csv")
    assert [store.name for store in read_plan([first, second]).stores] == ["New", "Stays"]


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("from: 2026-01-01", "from: 2026-02-30", "a date that is in the calendar"),
        ("from: 2026-01-01", "from: soon", "a date as year-month-day"),
        ("from: 2026-01-01", "from: 2026-03-01", "one version from each day on"),
        ('version: "2"', 'version: "1"', "each version once"),
        ("confirm_by: 2026-03-08", "confirm_by: 2026-02-01", "no day before 2026-03-01"),
        ("from: 2026-03-01, ", "", "a date beside `from`"),
        ("Europe/London", "Atlantis", "a time zone by place"),
        ("Europe/London", "localtime", "a time zone by place"),
        ("Europe/London", "right/Europe/London", "a time zone by place"),
        ("0117", '""', "the number of a store"),
        ("name: window side", "name: Aisle  Side", "each name once"),
        ("water.png", "nothing.png", "a picture that can be used"),
        ("    name: Mossford", "    nmae: Mossford", "did you mean stores[1].name"),
        ("  - id: planter\n", "  - file: planter.yaml\n    id: planter\n", "either these or a display file"),
        ("    region: North\n", "  - number: 0117\n    region: North\n", 'another "0117"'),
    ],
)
def test_each_mistake_is_told_with_its_line(old: str, new: str, words: str, tmp_path: Path) -> None:
    Image.new("RGB", (8, 8)).save(tmp_path / "water.png")
    assert old in ROLLOUT
    with pytest.raises(RolloutError, match=r"rollout.yaml, line \d+: ") as refused:
        read_plan([written(tmp_path, ROLLOUT.replace(old, new, 1))])
    assert words in str(refused.value)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("name\nMossford\n", "no column named number"),
        ("number,nmae\n1,x\n", 'not known here: "nmae"'),
        ("number,name,name\n1,x,y\n", "stands there twice"),
        ("number,name\n1,x,y\n", "line 2: expected 2 cells"),
        ("number,due\n1,12.3.2026\n", "line 2: due: expected a date"),
        ("number\n1\n1\n", 'line 3: number: expected each store once, found another "1"'),
        ("number,name\n,Mossford\n", "line 2: number: expected a value, found nothing"),
        ('number,name\n1,"open\n', "expected a table"),
        ("", "no column named number"),
    ],
)
def test_each_mistake_in_a_table_is_told(text: str, words: str, tmp_path: Path) -> None:
    with pytest.raises(RolloutError) as refused:
        read_plan([written(tmp_path, text, "stores.csv")])
    assert words in str(refused.value)


def test_many_mistakes_are_told_in_part(tmp_path: Path) -> None:
    rows = "".join(f"{n},x\n" for n in range(50))
    with pytest.raises(RolloutError, match="and 30 more problems"):
        read_plan([written(tmp_path, f"number,due\n{rows}", "stores.csv")])


@pytest.mark.parametrize("content", [b"number\n\xff\xfe\n", None])
def test_what_cannot_be_read_is_one_sentence(content: bytes | None, tmp_path: Path) -> None:
    place = tmp_path / "stores.csv"
    if content is not None:
        place.write_bytes(content)
    with pytest.raises(RolloutError) as refused:
        read_plan([place])
    assert "\n" not in str(refused.value)


def test_the_schema_is_the_one_in_the_documentation() -> None:
    told = json.loads((ROOT / "docs/rollout.schema.json").read_text("utf-8"))
    assert told == rollout_schema(), "python -m mediacheck.stores.rollout_files > docs/rollout.schema.json"
    jsonschema.Draft202012Validator.check_schema(told)
    jsonschema.validate(yaml.load(ROLLOUT.replace("0117", '"0117"'), yaml.BaseLoader), told)
    jsonschema.validate(
        yaml.load((ROOT / "docs/spring.rollout.yaml").read_text("utf-8"), yaml.BaseLoader), told
    )


def test_the_sample_in_the_documentation_can_be_used() -> None:
    plan = read_plan([ROOT / "docs/spring.rollout.yaml"])
    assert [display.id for display in plan.displays] == ["loam-and-lantern", "bulb-shelf"]
    assert [store.number for store in plan.stores] == ["0117", "0118"]
    assert len(plan.pictures) == 1
