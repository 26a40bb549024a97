"""`mediacheck profile diff` as a person calls it: the answer first, then each lack, and the exit code."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from mediacheck.cli.app import run
from mediacheck.profile_difference import lacks
from mediacheck.profile_files import load_profile

Capture = pytest.CaptureFixture[str]


def printed(capsys: Capture, *arguments: str) -> tuple[int, list[str], str]:
    """Exit code, lines of standard output, and standard error."""
    code = run(["profile", "diff", *arguments])
    out, err = capsys.readouterr()
    return code, out.splitlines(), err


def written(folder: Path, name: str, text: str) -> str:
    path = folder / name
    path.write_text(text)
    return str(path)


def test_where_nothing_lacks_the_answer_is_one_line_and_code_0(capsys: Capture) -> None:
    assert printed(capsys, "basic-1080p", "basic-1080p") == (
        0,
        ["Every file that fits basic-1080p plays on basic-1080p."],
        "",
    )


def test_one_lack_is_one_thing_with_both_values_and_its_sentence(capsys: Capture) -> None:
    code, lines, err = printed(capsys, "basic-1080p", "portrait-1080p")
    assert (code, err) == (1, "")
    assert lines == [
        "A file that fits basic-1080p may lack 1 thing on portrait-1080p:",
        "",
        "Always: every file or card of the kind that the line names",
        "  key                    basic-1080p  portrait-1080p  what that means",
        "  screen.turned_degrees  0 degrees    90 degrees      Every picture for basic-1080p is made for a "
        "screen mounted at 0 degrees; this one is mounted at 90 degrees, so the picture lies on its side.",
    ]


def test_certain_lacks_come_before_the_others_and_all_columns_line_up(capsys: Capture) -> None:
    code, lines, _ = printed(capsys, "basic-1080p", "photo-frame-1024x600")
    assert code == 1
    assert lines[0] == "A file that fits basic-1080p may lack 9 things on photo-frame-1024x600:"
    headings = [at for at, line in enumerate(lines) if line.startswith("  key ")]
    assert [lines[at - 1].partition(":")[0] for at in headings] == ["Always", "May"]
    assert lines[headings[0]] == lines[headings[1]]
    found = lacks(load_profile("basic-1080p").profile, load_profile("photo-frame-1024x600").profile)
    rows = [line for line in lines if line.startswith("  ") and not line.startswith("  key ")]
    columns = [lines[headings[0]].index(word) for word in ("basic-1080p", "photo-frame", "what")]
    cut = [[row[2 : columns[0]], row[columns[0] : columns[1]], row[columns[1] : columns[2]]] for row in rows]
    assert [[text.strip() for text in row] for row in cut] == [[e.key, e.in_a, e.in_b] for e in found]
    assert [row[columns[2] :] for row in rows] == [lack.message for lack in found]


def test_the_order_of_the_two_matters(tmp_path: Path, capsys: Capture) -> None:
    strict = written(tmp_path, "strict.yaml", "loop: {items_max: 3}\n")
    easy = written(tmp_path, "easy.yaml", "loop: {items_max: 5}\n")
    assert printed(capsys, strict, easy)[:2] == (0, ["Every file that fits strict plays on easy."])
    code, lines, _ = printed(capsys, easy, strict)
    assert (code, lines[0]) == (1, "A file that fits easy may lack 1 thing on strict:")


def test_two_profiles_of_one_name_are_called_by_their_files(tmp_path: Path, capsys: Capture) -> None:
    one = written(tmp_path, "one.yaml", "id: frame\n")
    other = written(tmp_path, "other.yaml", "id: frame\nstills: {formats: [JPEG]}\n")
    assert printed(capsys, one, other)[1][0] == f"A file that fits {one} may lack 1 thing on {other}:"


RECORD = {
    "schema": "mediacheck/profile-diff/1",
    "a": {"id": "easy", "title": "", "sha256": None},
    "b": {"id": "strict", "title": "Strict", "sha256": None},
    "lacks": [
        {
            "key": "loop.items_max",
            "in_a": "not restricted",
            "in_b": "3",
            "message": "A loop for easy may have any number of items; this player takes 3 at most, so it "
            "leaves out the rest or stops.",
            "always": False,
        }
    ],
}


def record_of(a: str, b: str) -> dict[str, object]:
    """The record that is expected, with the fingerprints of these files."""
    marks = {"a": load_profile(a).sha256, "b": load_profile(b).sha256}
    return {
        key: {**value, "sha256": marks[key]} if isinstance(value, dict) else value
        for key, value in RECORD.items()
    }


def test_json_is_printed_alone_or_written_beside_the_text(tmp_path: Path, capsys: Capture) -> None:
    easy = written(tmp_path, "easy.yaml", "id: easy\n")
    strict = written(tmp_path, "strict.yaml", "title: Strict\nloop: {items_max: 3}\n")
    code, lines, _ = printed(capsys, easy, strict, "--json", "-")
    assert (code, json.loads("\n".join(lines))) == (1, record_of(easy, strict))
    place = tmp_path / "difference.json"
    code, lines, _ = printed(capsys, easy, strict, "--json", str(place))
    assert (code, json.loads(place.read_text("utf-8"))) == (1, record_of(easy, strict))
    assert lines[0] == "A file that fits easy may lack 1 thing on strict:"


def test_a_profile_is_never_written_over(tmp_path: Path, capsys: Capture) -> None:
    easy = written(tmp_path, "easy.yaml", "id: easy\n")
    code, lines, err = printed(capsys, easy, "basic-1080p", "--json", easy)
    assert (code, lines) == (2, [])
    assert "it is a profile and only read" in err
    assert Path(easy).read_text() == "id: easy\n"


@pytest.mark.parametrize("place", [0, 1])
def test_a_profile_that_cannot_be_read_is_code_2(tmp_path: Path, capsys: Capture, place: int) -> None:
    bad = written(tmp_path, "bad.yaml", "loop: {items_max: 0}\n")
    names = ["basic-1080p", "basic-1080p"]
    names[place] = bad
    code, lines, err = printed(capsys, *names)
    assert (code, lines) == (2, [])
    assert "loop.items_max" in err
    assert printed(capsys, "basic-1080p", "basic-1080")[0] == 2


def test_help_has_an_example(capsys: Capture) -> None:
    assert "Example: mediacheck profile diff basic-1080p my-player.yaml" in "\n".join(
        printed(capsys, "--help")[1]
    )
