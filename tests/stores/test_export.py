"""A store's file as evidence: a ZIP that others open, with a list that `sha256sum -c` accepts."""

from __future__ import annotations

import hashlib
import json
import subprocess
import zipfile
from pathlib import Path

import pytest

from mediacheck.errors import LedgerError
from mediacheck.stores.adding import add
from mediacheck.stores.export import export_store
from mediacheck.stores.ledger import Ledger
from mediacheck.stores.model import Plan, Store
from mediacheck.stores.placing import Given
from tests.stores.made import NOW, SEEDS, WATER, packed, photo, report


def filled(ledger: Ledger, folder: Path) -> dict[str, bytes]:
    files = {
        "0117_aisle side.json": packed(report("water-2")),
        "0117_aisle side ..; rm -rf.jpg": photo(),
        "0117_window side sheet.pdf": b"%PDF-1.7 a sheet",
        "N-0042.json": packed(report("x")),
    }
    folder.mkdir()
    for name, content in files.items():
        (folder / name).write_bytes(content)
    assert add(ledger, [folder], now=NOW).refused == ()
    return files


def test_everything_of_the_store_is_in_it(ledger: Ledger, tmp_path: Path) -> None:
    files = filled(ledger, tmp_path / "in")
    out = tmp_path / "0117.zip"
    assert export_store(ledger, "0117", out, NOW) == 3
    subprocess.run(["unzip", "-q", out, "-d", tmp_path / "out"], check=True, timeout=60)
    subprocess.run(["sha256sum", "-c", "--quiet", "SHA256SUMS"], cwd=tmp_path / "out", check=True, timeout=60)
    manifest = json.loads((tmp_path / "out/manifest.json").read_text("utf-8"))
    assert [face["state"] for face in manifest["faces"]] == ["not-heard-of", "right"]
    by_kind = {one["kind"]: one["path"] for one in manifest["documents"]}
    assert set(by_kind) == {"check", "photo", "sheet"}
    assert (tmp_path / "out" / by_kind["check"]).read_bytes() == files["0117_aisle side.json"]
    assert b"Jane" not in (tmp_path / "out" / by_kind["photo"]).read_bytes()
    assert by_kind["photo"].endswith(".jpg")
    assert {path.name for path in (tmp_path / "out").iterdir()} == {
        *by_kind.values(),
        "manifest.json",
        "SHA256SUMS",
    }


def test_the_same_ledger_gives_the_same_bytes(ledger: Ledger, tmp_path: Path) -> None:
    filled(ledger, tmp_path / "in")
    for name in ("a.zip", "b.zip"):
        export_store(ledger, "0117", tmp_path / name, NOW)
    assert (tmp_path / "a.zip").read_bytes() == (tmp_path / "b.zip").read_bytes()
    with zipfile.ZipFile(tmp_path / "a.zip") as made:
        assert made.testzip() is None


def test_a_store_that_nobody_planned_is_told(ledger: Ledger, tmp_path: Path) -> None:
    with pytest.raises(LedgerError, match='no store "9999"'):
        export_store(ledger, "9999", tmp_path / "9999.zip", NOW)
    assert not (tmp_path / "9999.zip").exists()


def test_what_speaks_of_two_faces_is_in_it_once_and_listed_for_both(ledger: Ledger, tmp_path: Path) -> None:
    (tmp_path / "0117.jpg").write_bytes(photo())
    for face in (WATER, SEEDS):
        add(ledger, [tmp_path / "0117.jpg"], Given(face=face), now=NOW)
    assert export_store(ledger, "0117", tmp_path / "out.zip", NOW) == 1
    with zipfile.ZipFile(tmp_path / "out.zip") as made:
        listed = json.loads(made.read("manifest.json"))["documents"]
        assert {one["face"] for one in listed} == {WATER, SEEDS}
        assert len({one["path"] for one in listed}) == 1
        assert len(made.namelist()) == 3


def test_the_list_of_sums_holds_the_manifest_too(ledger: Ledger, tmp_path: Path) -> None:
    filled(ledger, tmp_path / "in")
    export_store(ledger, "0117", tmp_path / "out.zip", NOW)
    with zipfile.ZipFile(tmp_path / "out.zip") as made:
        lines = [line.split("  ") for line in made.read("SHA256SUMS").decode().splitlines()]
        sums = {name: sum_ for sum_, name in lines}
        assert set(sums) == set(made.namelist()) - {"SHA256SUMS"}
        assert all(hashlib.sha256(made.read(name)).hexdigest() == sum_ for name, sum_ in sums.items())


def test_nothing_of_another_store_is_in_it(ledger: Ledger, tmp_path: Path) -> None:
    """Numbers that differ by a capital are two stores."""
    ledger.put_plan(Plan(stores=(Store("n-0042", "Otherton", displays=("shelf",)),)))
    export_store(ledger, "N-0042", tmp_path / "out.zip", NOW)
    with zipfile.ZipFile(tmp_path / "out.zip") as made:
        faces = json.loads(made.read("manifest.json"))["faces"]
    assert [face["store"] for face in faces] == ["N-0042"]
