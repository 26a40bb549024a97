"""Reports from files that may be anything: read whole, or refused in one sentence."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from mediacheck.report.model import ProfileName
from mediacheck.report.record import as_record, record_text
from mediacheck.report.words import safe
from mediacheck.trouble.report_file import ReportError, profile_of, read_report, require_profile_of
from tests.report.make import BAD_CARD, GOOD
from tests.trouble.make import loaded, report


def written(path: Path, record: Any) -> Path:
    path.write_text(json.dumps(record), "utf-8")
    return path


def refusal(path: Path) -> str:
    with pytest.raises(ReportError) as refused:
        read_report(path)
    assert refused.value.exit_code == 2
    said = str(refused.value)
    assert safe(said) == said
    return said.replace(str(path), "R")


def test_what_check_wrote_is_read_back(tmp_path: Path) -> None:
    path = tmp_path / "r.json"
    path.write_text("\ufeff" + record_text(as_record(BAD_CARD)), "utf-8")
    got = read_report(path)
    assert (got.findings, got.not_checked, got.profile) == (
        BAD_CARD.findings,
        BAD_CARD.not_checked,
        BAD_CARD.profile,
    )


@pytest.mark.parametrize(
    ("content", "expected"),
    [
        (b"", "R is no report: it is not JSON, or was cut off"),
        (b"\xff\xfe", "R is no report: it is not JSON, or was cut off"),
        (b"[" * 100_000, "R is no report: it is not JSON, or was cut off"),
        (b"9" * 5000, "R is no report: it is not JSON, or was cut off"),
        (b"[]", "R cannot be used. This is no report that `mediacheck check --json` has written"),
        (b'{"schema": "mediacheck/report/2"}', "R cannot be used. This is no report that"),
        (b'{"schema": "mediacheck/report/1"}', "R cannot be used. This report does not hold what"),
    ],
)
def test_other_files_are_refused(tmp_path: Path, content: bytes, expected: str) -> None:
    path = tmp_path / "r.json"
    path.write_bytes(content)
    assert refusal(path).startswith(expected)


def test_what_is_no_file_is_refused(tmp_path: Path) -> None:
    assert refusal(tmp_path) == "The report R cannot be read: it is no file"
    assert refusal(tmp_path / "none.json").startswith("The report R cannot be read: No such file")
    assert "cannot be read" in refusal(Path("a\0b"))


@pytest.mark.parametrize(
    ("keys", "value", "expected"),
    [
        (("findings", 0, "message"), 7, "one of its findings is not whole"),
        (("findings", 0, "severity"), "grave", "one of its findings is not whole"),
        (("findings", 0, "path"), ["x"], "one of its findings is not whole"),
        (("not_checked", 0, "reason"), None, "one of its checks that were not made is not whole"),
        (("profile", "id"), None, "a text is missing in its head"),
    ],
)
def test_values_of_another_kind_are_refused(
    tmp_path: Path, keys: tuple[str | int, ...], value: Any, expected: str
) -> None:
    record: Any = json.loads(record_text(as_record(BAD_CARD)))
    inside = record
    for key in keys[:-1]:
        inside = inside[key]
    inside[keys[-1]] = value
    assert refusal(written(tmp_path / "r.json", record)) == f"R is no report that can be used: {expected}"


json_values = st.recursive(
    st.none() | st.booleans() | st.integers() | st.text(max_size=5),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=5), inner, max_size=3),
    max_leaves=5,
)


@settings(max_examples=50)
@given(st.sampled_from(sorted(as_record(GOOD))), json_values)
def test_whatever_stands_under_a_key_there_is_a_report_or_a_refusal(
    tmp_path_factory: pytest.TempPathFactory, key: str, value: Any
) -> None:
    path = tmp_path_factory.mktemp("report") / "r.json"
    written(path, {**as_record(BAD_CARD), key: value})
    try:
        said = read_report(path).version
    except ReportError as error:
        said = safe(str(error))
    assert isinstance(said, str)


def test_a_bundled_profile_is_known_by_its_checksum() -> None:
    assert profile_of(report("uhd-2160p")) == loaded("uhd-2160p")
    assert profile_of(GOOD) is None
    assert profile_of(replace(GOOD, profile=ProfileName("mine", "", loaded().sha256))) is None


@pytest.mark.parametrize(
    ("used", "expected"),
    [
        (ProfileName("uhd-2160p", "", "0" * 64),
         "The report was made with the profile uhd-2160p, and not with basic-1080p"),
        (ProfileName("basic-1080p", "", "0" * 64), "The report was made with another state of basic-1080p"),
    ],
)  # fmt: skip
def test_a_profile_that_the_check_did_not_go_by_is_refused(used: ProfileName, expected: str) -> None:
    with pytest.raises(ReportError) as refused:
        require_profile_of(replace(GOOD, profile=used), loaded())
    assert str(refused.value) == expected


def test_the_profile_of_the_check_is_taken() -> None:
    require_profile_of(report(), loaded())
    assert profile_of(report()) == loaded()
