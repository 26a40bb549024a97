"""`mediacheck trouble` as a person calls it."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator  # type: ignore[import-untyped]  # it has no types

from mediacheck.cli.app import run
from mediacheck.report.model import Report
from mediacheck.report.record import as_record, record_text
from mediacheck.trouble.book import symptoms
from mediacheck.trouble.schema import trouble_schema
from tests.report.make import GOOD, one_line
from tests.trouble.make import failing, report

ROOT = Path(__file__).parents[2]
Capture = pytest.CaptureFixture[str]


@pytest.fixture(autouse=True)
def _wide(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "100")


def kept(folder: Path, checked: Report) -> str:
    path = folder / "report.json"
    path.write_text(record_text(as_record(checked)), "utf-8")
    return str(path)


def said(capsys: Capture, *arguments: str) -> str:
    assert run(["trouble", *arguments]) == 0
    out, err = capsys.readouterr()
    assert err == ""
    return out


def refused(capsys: Capture, *arguments: str) -> str:
    assert run(["trouble", *arguments]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert len(err.splitlines()) == 1
    return err


def test_alone_it_lists_what_may_be_seen(capsys: Capture) -> None:
    out = said(capsys)
    assert out.startswith("What do you see?\n")
    for symptom in symptoms():
        assert f"{symptom.number:>2}  {symptom.id} " in out


def test_json_says_the_same_in_a_published_shape(tmp_path: Path, capsys: Capture) -> None:
    """To renew it: python -m mediacheck.trouble.schema > docs/trouble.schema.json."""
    schema = json.loads((ROOT / "docs" / "trouble.schema.json").read_text("utf-8"))
    assert schema == trouble_schema()
    Draft202012Validator.check_schema(schema)
    validator = Draft202012Validator(schema)
    report_file = kept(tmp_path, failing("video-codec"))
    every = json.loads(said(capsys, "--json"))
    one = json.loads(said(capsys, "unsupported-file", "--json", "--report", report_file))
    assert [error.message for record in (every, one) for error in validator.iter_errors(record)] == []
    assert [symptom["id"] for symptom in every["symptoms"]] == [symptom.id for symptom in symptoms()]
    assert (every["profile"], every["report"]) == (None, None)
    assert {cause["state"] for symptom in every["symptoms"] for cause in symptom["causes"]} == {"unknown"}
    assert [symptom["id"] for symptom in one["symptoms"]] == ["unsupported-file"]
    first, last = one["symptoms"][0]["causes"][0], one["symptoms"][0]["causes"][-1]
    assert (first["id"], first["state"], last["state"]) == ("wrong-format", "found", "ruled out")
    assert first["findings"][0]["rule"] == "video-codec"
    assert one["profile"] == "basic-1080p"


def test_a_number_a_short_name_and_words_mean_the_same(capsys: Capture) -> None:
    answers = {
        said(capsys, *words)
        for words in (("21",), ("sideways",), ("SIDEWAYS",), ("stands", "on", "its", "head"))
    }
    assert len(answers) == 1
    assert answers.pop().startswith("21. The picture lies on its side or stands on its head\n")


def test_a_visit_from_symptom_to_found_cause(tmp_path: Path, capsys: Capture) -> None:
    """With nothing, with the profile, and with the report of the card: the likeliest cause comes forward."""
    plain = said(capsys, "stutter")
    assert "1. The picture takes more data than the player keeps up with." in plain
    with_profile = one_line(said(capsys, "stutter", "-p", "basic-1080p"))
    assert "The profile: Videos for this player take at most 20 Mbit/s." in with_profile
    checked = kept(tmp_path, failing("picture-combed", severity="warn"))
    found = said(capsys, "stutter", "-p", "basic-1080p", "--report", checked)
    assert "1. FOUND: The clip is stored as half pictures (interlaced), or was woven from them." in found
    struck = one_line(found).split("Ruled out for the card that was checked")[1]
    assert "- The picture takes more data than the player keeps up with. (video-bit-rate," in struck


def test_a_report_alone_marks_the_symptoms_that_it_explains(tmp_path: Path, capsys: Capture) -> None:
    out = one_line(said(capsys, "--report", kept(tmp_path, failing("picture-flash"))))
    title = next(symptom.title for symptom in symptoms() if symptom.id == "flashes")
    assert out.split("(the check of this card found a cause)")[0].endswith(f"{title} ")
    assert out.count("found a cause") == 1


def test_a_report_brings_its_bundled_profile_along(tmp_path: Path, capsys: Capture) -> None:
    out = one_line(said(capsys, "no-signal", "--report", kept(tmp_path, report())))
    assert "Player and screen as in the profile basic-1080p" in out
    assert "The profile: The player is plugged into HDMI." in out


def test_without_the_profile_of_the_check_nothing_is_struck(tmp_path: Path, capsys: Capture) -> None:
    out = one_line(said(capsys, "stutter", "--report", kept(tmp_path, GOOD)))
    assert "Ruled out" not in out
    assert "the profile of that check is not at hand (basic-1080p; give it with --profile)" in out


@pytest.mark.parametrize(
    ("arguments", "expected"),
    [
        (("noo signal",), "There is no symptom 'noo signal'. Did you mean no-signal (2)?"),
        (("99",), "There is no symptom 99: they are numbered 1 to 27."),
        (("picture",), "'picture' fits more than one symptom: 8 (stands-still),"),
        (("",), "No symptom was named."),
        (("no-signal", "-p", "basic-1080"), "did you mean 'basic-1080p'"),
        (("no-signal", "--report", "none.json"), "The report none.json cannot be read: No such file"),
        (("no-signal", "--report", "."), "The report . cannot be read: it is no file."),
        (("no-signal", "--colour"), "No such option: --colour"),
    ],
)
def test_wrong_use_is_one_sentence_and_code_2(
    capsys: Capture, arguments: tuple[str, ...], expected: str
) -> None:
    assert refused(capsys, *arguments).startswith("mediacheck: ")
    assert expected in refused(capsys, *arguments)


def test_a_report_of_another_profile_is_refused(tmp_path: Path, capsys: Capture) -> None:
    err = refused(capsys, "stutter", "-p", "uhd-2160p", "--report", kept(tmp_path, report()))
    assert err == (
        "mediacheck: The report was made with the profile basic-1080p, and not with uhd-2160p. Give the "
        "profile that the card was checked with, check the card again, or leave one of them out.\n"
    )


def test_what_is_no_report_is_refused(tmp_path: Path, capsys: Capture) -> None:
    path = tmp_path / "notes.txt"
    path.write_text("hello")
    err = refused(capsys, "stutter", "--report", str(path))
    assert err == (
        f"mediacheck: {path} is no report: it is not JSON, or was cut off. Give the file that `mediacheck "
        "check CARD --profile PROFILE --json FILE` wrote.\n"
    )


def test_help_has_an_example(capsys: Capture) -> None:
    assert "Example: mediacheck trouble no-signal" in said(capsys, "--help")
