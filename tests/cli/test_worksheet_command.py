"""`mediacheck worksheet` as a person calls it."""

from __future__ import annotations

import hashlib
from pathlib import Path

import pytest
from PIL import Image

from mediacheck.cli.app import run
from tests.paper.pdfs import text_of

Capture = pytest.CaptureFixture[str]
FRAME = "id: frame\nstills: {formats: [JPEG], width_max: 1024, height_max: 600, seconds: 5}\n"


@pytest.fixture
def stand(tmp_path: Path) -> Path:
    """A display file, its profile, and a card for one of its two faces."""
    (tmp_path / "frame.yaml").write_text(FRAME)
    (tmp_path / "stand.yaml").write_text(
        "title: Loam & Lantern\nfaces:\n"
        "  - {name: aisle side, profile: frame.yaml, card_label: AISLE}\n"
        "  - {name: window side, profile: frame.yaml, card_label: WINDOW}\n"
    )
    (tmp_path / "card").mkdir()
    Image.new("RGB", (1024, 600), "green").save(tmp_path / "card" / "pots.jpg")
    return tmp_path / "stand.yaml"


@pytest.mark.parametrize("ending", ["pdf", "png"])
def test_the_page_is_made(ending: str, stand: Path, tmp_path: Path, capsys: Capture) -> None:
    out = tmp_path / f"visit.{ending}"
    assert run(["worksheet", "--display", str(stand), "--out", str(out)]) == 0
    told, err = capsys.readouterr()
    assert told.splitlines()[0] == str(out)
    assert err == ""
    assert out.read_bytes()[:4] == (b"%PDF" if ending == "pdf" else b"\x89PNG")


def test_a_card_gives_its_pictures(stand: Path, tmp_path: Path, capsys: Capture) -> None:
    plain, pictured = tmp_path / "plain.pdf", tmp_path / "pictured.pdf"
    common = ["worksheet", "--display", str(stand), "--paper", "letter"]
    assert run([*common, "--out", str(plain)]) == 0
    assert run([*common, "--out", str(pictured), f"window side={tmp_path / 'card'}"]) == 0
    assert plain.read_bytes().count(b"/Subtype /Image") == 0
    assert pictured.read_bytes().count(b"/Subtype /Image") == 1
    capsys.readouterr()


def test_the_card_of_another_face_is_told_on_the_page_and_at_once(
    stand: Path, tmp_path: Path, capsys: Capture
) -> None:
    hashes = {
        "pots": "0" * 64,
        "seeds": hashlib.sha256((tmp_path / "card" / "pots.jpg").read_bytes()).hexdigest(),
    }
    loops = {
        name: f"loop: {{items: [{{name: {name}.jpg, sha256: '{found}'}}]}}" for name, found in hashes.items()
    }
    text = stand.read_text().replace("AISLE}", f"AISLE, {loops['pots']}}}")
    stand.write_text(text.replace("WINDOW}", f"WINDOW, {loops['seeds']}}}"))
    out = tmp_path / "visit.pdf"
    assert run(["worksheet", "--display", str(stand), "--out", str(out), str(tmp_path / "card")]) == 0
    wrong = "This card carries the loop of the window side: the aisle side would show the wrong film."
    assert f"aisle side: {wrong}" in capsys.readouterr().err
    printed = text_of(out)
    assert wrong in printed
    assert "must be seen first" not in printed


def test_labels_are_made(stand: Path, tmp_path: Path, capsys: Capture) -> None:
    out = tmp_path / "labels.png"
    assert run(["worksheet", "--display", str(stand), "--labels", "--copies", "12", "--out", str(out)]) == 0
    assert capsys.readouterr().out.splitlines() == [str(out), str(tmp_path / "labels-2.png")]


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--out", "visit.docx"], "A worksheet needs a name that ends in .png or .pdf"),
        (["--out", "visit.pdf", "roof side=card"], "roof side"),
        (["--out", "labels.pdf", "--labels", "--label-size", "1x1"], "no sheet with labels of 1x1 mm"),
        (["--out", "labels.pdf", "--labels", "card"], "Labels show no pictures: leave the cards out."),
        (["--out", "labels.pdf", "--labels", "--first", "22"], "has the places 1 to 21, not 22"),
        (["--out", "stand.yaml.pdf", "--display", "none.yaml"], "none.yaml"),
    ],
)
def test_bad_input_is_one_sentence(
    arguments: list[str],
    words: str,
    stand: Path,
    tmp_path: Path,
    capsys: Capture,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.chdir(tmp_path)
    given = [] if "--display" in arguments else ["--display", str(stand)]
    before = sorted(path.name for path in tmp_path.iterdir())
    assert run(["worksheet", *given, *arguments]) == 2
    err = capsys.readouterr().err
    assert words in err
    assert "Traceback" not in err
    assert sorted(path.name for path in tmp_path.iterdir()) == before
