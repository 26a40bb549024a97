"""`mediacheck profile`: what is printed, and which error reaches the command line's one exit."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest
from typer.testing import CliRunner

from mediacheck.cli.profile import app
from mediacheck.errors import ProfileError
from mediacheck.profile import Profile
from mediacheck.profile_files import bundled_folder, bundled_names, load_profile
from mediacheck.strict_yaml import InvalidFile, Problem


def run(*arguments: str) -> str:
    """What a command prints; its error is raised."""
    result = CliRunner().invoke(app, arguments, catch_exceptions=False)
    assert (result.exit_code, result.stderr) == (0, "")
    return result.stdout


def test_list_has_one_line_for_each_bundled_profile_with_title_and_screen() -> None:
    heading, *rows = run("list").splitlines()
    assert heading.split() == ["name", "title", "screen"]
    for name, row in zip(bundled_names(), rows, strict=True):
        profile = load_profile(name).profile
        assert row.startswith(f"{name}  ")
        assert f"  {profile.title}  " in row
        assert f"  {profile.screen.width}x{profile.screen.height}" in row
    assert [row.endswith(", turned 90 degrees") for row in rows] == [False, False, True, False, False]


def test_list_is_aligned_when_piped() -> None:
    heading, *rows = run("list").splitlines()
    column = heading.index("screen")
    sizes = [load_profile(name).profile.screen for name in bundled_names()]
    assert [row[column:].partition(",")[0] for row in rows] == [f"{s.width}x{s.height}" for s in sizes]


def test_show_prints_every_key_with_its_value_or_that_it_is_not_restricted() -> None:
    lines = run("show", "basic-1080p").splitlines()
    loaded = load_profile("basic-1080p")
    assert lines[:3] == [
        f"basic-1080p: {loaded.profile.title}",
        f"File: {loaded.source}",
        f"SHA-256: {loaded.sha256}",
    ]
    assert loaded.profile.notes.strip() in lines
    assert (
        "  width                  1920 pixels  Pixels across, as the panel takes them (before it is turned)."
        in lines
    )
    assert sum(line.startswith("  read_mbit_s            not restricted  ") for line in lines) == 1
    assert (
        "video.codecs.H.264: Limits under one codec; they take the place of the same keys under `video`."
        in lines
    )
    shown = {line.split()[0] for line in lines if line.startswith("  ")}
    parts = [getattr(loaded.profile, name) for name in Profile.model_fields]
    keys = {key for part in parts for key in getattr(type(part), "model_fields", {})}
    assert keys - shown == set()


def test_show_takes_a_path_and_copes_with_a_profile_that_says_nothing(tmp_path: Path) -> None:
    path = tmp_path / "bare.yaml"
    path.write_text("id: bare\n")
    lines = run("show", str(path)).splitlines()
    assert lines[:2] == ["bare", f"File: {path}"]
    assert lines[-1] == "rules: Every rule keeps its usual severity."


def test_show_of_an_unknown_name_raises_our_error() -> None:
    with pytest.raises(ProfileError, match="did you mean 'basic-1080p'"):
        run("show", "basic-1080")


def test_validate_says_ok_for_each_good_file() -> None:
    files = [str(bundled_folder() / f"{name}.yaml") for name in bundled_names()]
    assert run("validate", *files).splitlines() == [f"{file}: ok" for file in files]


def test_validate_reports_all_files_and_ends_with_code_2_if_one_is_bad(tmp_path: Path) -> None:
    good, bad, absent = tmp_path / "good.yaml", tmp_path / "bad.yaml", tmp_path / "absent.yaml"
    good.write_text("id: good\n")
    bad.write_text("id: bad\nscreen:\n  widht: 3\nloop: {items_min: -1}\n")
    result = CliRunner().invoke(app, ["validate", str(absent), str(bad), str(good)])
    assert result.stdout == f"{good}: ok\n"
    assert isinstance(result.exception, InvalidFile)
    assert result.exception.exit_code == 2
    assert result.exception.problems == (
        Problem(str(absent), None, "", "a file", "no file of this name"),
        Problem(str(bad), 3, "screen.widht", "a key that is known here", '"widht"', "screen.width"),
        Problem(str(bad), 4, "loop.items_min", "0 or more", "-1"),
    )


def test_schema_prints_what_is_committed_for_editors() -> None:
    committed = Path(__file__).parents[2] / "docs" / "profile.schema.json"
    assert json.loads(run("schema")) == json.loads(committed.read_text("utf-8"))


@pytest.mark.parametrize("command", ["list", "show", "validate", "schema"])
def test_help_of_each_command_has_an_example(command: str) -> None:
    assert f"Example: mediacheck profile {command}" in run(command, "--help")


def test_the_module_is_light_so_that_help_is_quick() -> None:
    code = (
        "import sys; before = set(sys.modules); import mediacheck.cli.profile; "
        "print(sorted({'pydantic', 'yaml', 'mediacheck.profile'} & (set(sys.modules) - before)))"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, timeout=60
    )
    assert done.stdout.strip() == "[]"
