"""`mediacheck stores` as a supervisor calls it."""

from __future__ import annotations

import csv
import json
import zipfile
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from mediacheck.cli.app import run
from tests.stores.made import digest, packed, photo, report

Capture = pytest.CaptureFixture[str]
ROLLOUT = f"""\
displays:
  - id: planter
    faces:
      - name: aisle side
        loops: [{{version: "1", from: 2026-01-01, sha256: [{digest("water-1")}]}}]
      - name: window side
stores:
  - {{number: "0117", name: Mossford, displays: [planter, other]}}
"""


@pytest.fixture(autouse=True)
def _there(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("COLUMNS", "100")
    monkeypatch.delenv("MEDIACHECK_LEDGER", raising=False)
    (tmp_path / "rollout.yaml").write_text(ROLLOUT, "utf-8")


def said(capsys: Capture, *arguments: str, code: int = 0) -> str:
    assert run(["stores", *arguments]) == code
    return capsys.readouterr().out


def refused(capsys: Capture, *arguments: str) -> str:
    assert run(["stores", *arguments]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert "Traceback" not in err
    return err


def test_from_the_plan_to_the_evidence(tmp_path: Path, capsys: Capture) -> None:
    told = said(capsys, "plan", "rollout.yaml")
    assert "Planned 1 store and 1 display" in told
    assert 'which faces the display "other" has' in told
    assert "2 not heard of" in said(capsys, "status", code=3)
    (tmp_path / "0117_planter_aisle side.json").write_bytes(packed(report("water-1", face="aisle side")))
    (tmp_path / "0117_torn.json").write_bytes(b"{")
    assert run(["stores", "add", "0117_planter_aisle side.json", "0117_torn.json"]) == 3
    out, err = capsys.readouterr()
    assert out == "1 file added, 0 known already, 1 not taken.\n"
    assert "0117_torn.json: it breaks off, or is no JSON." in err
    (tmp_path / "screen.jpg").write_bytes(photo())
    given = ("--store", "0117", "--display", "planter", "--face", "window side")
    assert "1 file added" in said(capsys, "add", "screen.jpg", *given)
    told = said(capsys, "status", "--all", code=3)
    assert "1 of 2 faces in 1 store are right; 1 not heard of." in told
    assert "photo, fail" not in said(capsys, "history", "0117")
    assert "check of a card, pass" in said(capsys, "history", "0117", "--face", "Aisle side")
    assert "2 documents of store 0117" in said(capsys, "export", "0117", "--out", "0117.zip")
    assert "manifest.json" in zipfile.ZipFile("0117.zip").namelist()


def test_stores_of_which_nothing_will_be_told_are_named(tmp_path: Path, capsys: Capture) -> None:
    (tmp_path / "stores.csv").write_text("number\n0118\n0119\n", "utf-8")
    told = said(capsys, "plan", "rollout.yaml", "stores.csv")
    assert "No display is planned for 2 stores, so nothing is told of: 0118, 0119." in told


def test_json_csv_and_html(tmp_path: Path, capsys: Capture) -> None:
    said(capsys, "plan", "rollout.yaml")
    assert len(json.loads(said(capsys, "status", "--json", "-", code=3))["faces"]) == 2
    assert len(list(csv.reader(said(capsys, "status", "--csv", "-", code=3).splitlines()))) == 3
    files = ("--json", "a.json", "--csv", "a.csv", "--html", "a.html")
    assert "2 not heard of" in said(capsys, "status", *files, code=3)
    assert (tmp_path / "a.csv").read_bytes().endswith(b"\r\n")
    assert json.loads((tmp_path / "a.json").read_text("utf-8"))["totals"]["not-heard-of"] == 2
    assert "<!DOCTYPE html>" in (tmp_path / "a.html").read_text("utf-8")


def test_exit_codes_of_a_status(tmp_path: Path, capsys: Capture) -> None:
    said(capsys, "plan", "rollout.yaml")
    only = ("--state", "right", "--state", "wrong")
    said(capsys, "status", *only, code=2)
    for name, code in (("unknown", 1), ("water-1", 0)):
        content = packed(report(name, at=datetime.now(UTC) - timedelta(hours=code)))
        (tmp_path / f"{name}.json").write_bytes(content)
        given = ("--store", "0117", "--display", "planter", "--face", "aisle side")
        said(capsys, "add", f"{name}.json", *given)
        said(capsys, "status", *only, code=code)


def test_each_confirmed_file_is_printed_where_that_is_wanted(tmp_path: Path, capsys: Capture) -> None:
    said(capsys, "plan", "rollout.yaml")
    (tmp_path / "0117_planter.json").write_bytes(packed(report("water-1", face="aisle side")))
    assert said(capsys, "add", "0117_planter.json", "--list").splitlines()[0] == "0117_planter.json"


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["status"], "There is no ledger at stores.ledger"),
        (["add", "x.json"], "There is no ledger at stores.ledger"),
        (["plan", "missing.yaml"], "missing.yaml"),
        (["plan", "rollout.yaml", "--ledger", "nowhere/x.ledger"], "its folder does not exist"),
        (["plan", "missing.csv"], "missing.csv cannot be read"),
        (["status", "--state", "good"], 'no state "good"'),
        (["status", "--since", "yesterday"], '"yesterday" is no day'),
        (["status", "--since", "2999-01-01"], "2999-01-01 is still to come"),
        (["status", "--json", "-", "--csv", "-"], "Only one of"),
        (["history", "1"], "There is no ledger"),
        (["export", "1", "--out", "1.zip"], "There is no ledger"),
    ],
)
def test_wrong_use_is_one_sentence(arguments: list[str], words: str, capsys: Capture) -> None:
    assert words in refused(capsys, *arguments)


def test_what_the_plan_does_not_have_is_told(capsys: Capture) -> None:
    said(capsys, "plan", "rollout.yaml")
    for arguments in (["history", "9"], ["export", "9", "--out", "9.zip"], ["add", "x", "--store", "9"]):
        assert 'no store "9"' in refused(capsys, *arguments)
    assert 'no face "back"; its faces are: aisle side, window side.' in refused(
        capsys, "history", "0117", "--face", "back"
    )
    assert said(capsys, "history", "0117", "--face", "Aisle side") == (
        'Nothing was heard of the face "Aisle side" of store 0117 Mossford yet.\n'
    )
    assert "{shop}" in refused(capsys, "add", "x", "--pattern", "{shop}")


def test_the_ledger_can_be_named_in_the_environment(
    tmp_path: Path, capsys: Capture, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("MEDIACHECK_LEDGER", str(tmp_path / "elsewhere.ledger"))
    said(capsys, "plan", "rollout.yaml")
    assert (tmp_path / "elsewhere.ledger").is_file()


@pytest.mark.parametrize(
    "arguments",
    [["export", "0117", "--out"], ["status", "--html"], ["status", "--csv"], ["status", "--json"]],
)
def test_nothing_takes_the_place_of_the_ledger(arguments: list[str], tmp_path: Path, capsys: Capture) -> None:
    said(capsys, "plan", "rollout.yaml")
    before = (tmp_path / "stores.ledger").read_bytes()
    assert "is the ledger" in refused(capsys, *arguments, str(tmp_path / "stores.ledger"))
    assert (tmp_path / "stores.ledger").read_bytes() == before


def test_a_ledger_in_a_folder_that_is_write_protected_is_told(
    capsys: Capture, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The database makes files beside it, also to be read."""
    said(capsys, "plan", "rollout.yaml")
    monkeypatch.setattr("os.access", lambda path, mode: False)
    assert "copy it to another place first" in refused(capsys, "status")
