"""Profiles as files: found by name or path, the bundled ones in order, and the schema that editors use."""

from __future__ import annotations

import hashlib
import json
from fractions import Fraction
from pathlib import Path
from typing import Any

import jsonschema  # type: ignore[import-untyped]  # it has no types
import pytest
import yaml

from mediacheck.errors import ProfileError
from mediacheck.profile import Profile
from mediacheck.profile_files import (
    LoadedProfile,
    bundled_folder,
    bundled_names,
    load_profile,
    profile_schema,
    profile_schema_text,
    read_profile,
)
from mediacheck.strict_yaml import Document, InvalidFile, Place, Problem, read_mapping

CHECKOUT = Path(__file__).parent.parent
NAMES = ("basic-1080p", "photo-frame-1024x600", "portrait-1080p", "shelf-strip-1920x540", "uhd-2160p")
each_bundled = pytest.mark.parametrize("name", NAMES)


def bundled(name: str) -> Profile:
    """A bundled profile."""
    return load_profile(name).profile


def test_the_five_bundled_profiles_are_there() -> None:
    assert bundled_names() == NAMES
    assert bundled_folder() == CHECKOUT / "profiles"


def test_an_installed_package_carries_its_own_profiles(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    installed = tmp_path / "mediacheck" / "bundled_profiles"
    installed.mkdir(parents=True)
    (installed / "only.yaml").write_text("id: only\n")
    monkeypatch.setattr(
        "mediacheck.profile_files.__file__", str(tmp_path / "mediacheck" / "profile_files.py")
    )
    assert (bundled_folder(), bundled_names()) == (installed, ("only",))
    assert load_profile("only").profile == Profile(id="only")


@each_bundled
def test_a_profile_is_loaded_by_name_with_its_source_and_checksum(name: str) -> None:
    path = CHECKOUT / "profiles" / f"{name}.yaml"
    loaded = load_profile(name)
    assert loaded == LoadedProfile(bundled(name), str(path), hashlib.sha256(path.read_bytes()).hexdigest())
    assert loaded.profile.id == name


@pytest.mark.parametrize("name", ["mine.yaml", "mine.yml", "MINE.YAML", "mine"])
def test_a_file_that_is_there_is_loaded_by_path(
    name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / name).write_text("id: mine\n")
    monkeypatch.chdir(tmp_path)
    checksum = hashlib.sha256(b"id: mine\n").hexdigest()
    assert load_profile(name) == LoadedProfile(Profile(id="mine"), name, checksum)
    absolute = str(tmp_path / name)
    assert load_profile(absolute) == LoadedProfile(Profile(id="mine"), absolute, checksum)


def test_a_folder_of_a_bundled_name_does_not_hide_the_profile(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "basic-1080p").mkdir()
    monkeypatch.chdir(tmp_path)
    assert load_profile("basic-1080p").profile.id == "basic-1080p"


@pytest.mark.parametrize(
    ("name", "near"),
    [("basic-1080", "basic-1080p"), ("UHD-2160P", "uhd-2160p"), ("portrait", "portrait-1080p")],
)
def test_an_unknown_name_is_told_with_the_nearest_one(name: str, near: str) -> None:
    with pytest.raises(ProfileError) as refused:
        load_profile(name)
    assert str(refused.value) == (
        f"no profile named '{name}'; did you mean '{near}'? Otherwise give the path of a file; "
        f"the bundled ones are {', '.join(NAMES)}."
    )


@pytest.mark.parametrize("name", ["zzz", "", "x" * 5000])
def test_a_name_that_is_like_none_gets_the_list(name: str) -> None:
    with pytest.raises(ProfileError) as refused:
        load_profile(name)
    assert str(refused.value) == (f"no profile named '{name[:60]}'; the bundled ones are {', '.join(NAMES)}.")


@pytest.mark.parametrize("path", ["absent.yaml", "absent.YML", "no/such", "no\\such"])
def test_what_looks_like_a_path_is_one(path: str) -> None:
    with pytest.raises(InvalidFile) as refused:
        load_profile(path)
    assert refused.value.problems == (Problem(path, None, "", "a file", "no file of this name"),)


def test_a_faulty_file_is_told_by_the_path_that_was_given(tmp_path: Path) -> None:
    path = tmp_path / "mine.yaml"
    path.write_text("id: mine\nvideo:\n  codecs:\n    H.264:\n      level_max: 44\n")
    with pytest.raises(InvalidFile) as refused:
        load_profile(str(path))
    assert str(refused.value) == (
        f"{path}, line 5: video.codecs.H.264.level_max: "
        "expected a level as the standard writes it, such as 4.1, found 44."
    )


# The bundled profiles themselves


def lines_without_reason(document: Document, lines: list[str]) -> list[str]:
    """Keys with a value and with neither a comment beside it nor one in the line above."""
    return [
        f"{number}: {lines[number - 1]}"
        for place, number in document.lines.items()
        if place and is_single_value(document, place) and not has_reason(lines, number)
    ]


def is_single_value(document: Document, place: Place) -> bool:
    """A key that holds a value or a plain list; what a setting holds is reasoned in its own `why`."""
    value: Any = document.data
    for step in place:
        value = value[step]
    below_setting = place[:2] == ("player", "settings") and place[-1] in ("value", "why")
    return isinstance(place[-1], str) and not isinstance(value, dict) and not below_setting


def has_reason(lines: list[str], number: int) -> bool:
    """Whether a comment stands beside line `number` (from 1) or fills the line above."""
    return " # " in lines[number - 1] or lines[number - 2].startswith("# why: ")


@each_bundled
def test_every_value_carries_its_reason(name: str) -> None:
    path = bundled_folder() / f"{name}.yaml"
    assert lines_without_reason(read_mapping(path), path.read_text("utf-8").splitlines()) == []


def test_a_value_without_its_reason_would_be_noticed(tmp_path: Path) -> None:
    path = tmp_path / "a.yaml"
    path.write_text("id: a # because\nscreen:\n  width: 3\n  height: 4 # because\n")
    assert lines_without_reason(read_mapping(path), path.read_text().splitlines()) == ["3:   width: 3"]


@each_bundled
def test_notes_say_what_the_values_are_worth(name: str) -> None:
    notes = bundled(name).notes
    assert notes.startswith("Common practice for ")
    assert "not taken from any one" in notes
    assert "decides: where it differs, copy this file and change the value." in notes


@each_bundled
def test_editors_are_told_where_the_schema_is(name: str) -> None:
    path = bundled_folder() / f"{name}.yaml"
    prefix = "# yaml-language-server: $schema="
    first = path.read_text("utf-8").splitlines()[0]
    assert first.startswith(prefix)
    assert (path.parent / first.removeprefix(prefix)).resolve() == CHECKOUT / "docs" / "profile.schema.json"


def test_basic_1080p_says_what_was_agreed() -> None:
    profile = bundled("basic-1080p")
    limits = profile.video.limits_for("H.264").model_dump(exclude_none=True)
    assert limits == {
        "level_max": "4.1",
        "profiles": ("Constrained Baseline", "Baseline", "Main", "High"),
        "width": 1920,
        "height": 1080,
        "frame_rates": ("24000/1001", "24", "25", "30000/1001", "30"),
        "bit_rate_max": 20_000_000,
        "bit_rate_peak_max": 25_000_000,
        "bit_depths": (8,),
        "chroma": ("4:2:0",),
        "scan": "progressive",
        "gop_seconds_max": 10.5,
    }
    assert (profile.video.containers, tuple(profile.video.codecs or ())) == (("MP4",), ("H.264",))
    assert profile.card.model_dump(exclude_none=True) == {
        "file_systems": ("FAT32",),
        "partition_tables": ("MBR",),
        "capacity_max_gb": 32.0,
        "cluster_bytes_max": 32_768,
    }
    assert (profile.player.order, profile.layout.media_root, profile.layout.subfolders) == ("disk", "", False)
    assert profile.audio.model_dump(exclude_none=True) == {
        "use": "allowed",
        "codecs": {"AAC": {"sample_rates": (44_100, 48_000), "channels_max": 2, "bit_rate_max": 320_000}},
        "loudness_tolerance_lu": 1.0,
        "true_peak_dbtp_max": -1.0,
    }
    assert profile.stills.formats == ()


@each_bundled
def test_the_usual_keyframe_distance_of_encoders_is_allowed_everywhere(name: str) -> None:
    """250 frames at the lowest allowed rate: an ordinary file must not be warned about."""
    video = bundled(name).video
    for codec in video.codecs or ():
        limits = video.limits_for(codec)
        assert 250 / min(limits.frame_rates or (Fraction(1),)) <= (limits.gop_seconds_max or 0)


@each_bundled
def test_the_average_bit_rate_stays_below_the_greatest(name: str) -> None:
    video = bundled(name).video
    rates = [
        (limits.bit_rate_max or 0, limits.bit_rate_peak_max or 0)
        for limits in map(video.limits_for, video.codecs or ())
    ]
    assert rates == [(low, high) for low, high in rates if 0 < low < high]
    assert rates


def test_portrait_takes_the_same_files_on_a_panel_that_is_turned() -> None:
    basic, portrait = bundled("basic-1080p"), bundled("portrait-1080p")
    assert portrait.screen.model_dump() == {**basic.screen.model_dump(), "turned_degrees": 90}
    same = ("player", "card", "layout", "video", "audio", "stills", "loop", "rules")
    assert {key: getattr(portrait, key) for key in same} == {key: getattr(basic, key) for key in same}


def test_the_other_bundled_profiles_say_what_was_agreed() -> None:
    uhd, frame, strip = (
        bundled(name) for name in ("uhd-2160p", "photo-frame-1024x600", "shelf-strip-1920x540")
    )
    h264, h265 = uhd.video.limits_for("H.264"), uhd.video.limits_for("H.265")
    assert uhd.card.file_systems == ("exFAT", "FAT32")
    assert (h264.level_max, h265.level_max, h265.profiles) == ("5.1", "5.1", ("Main", "Main 10"))
    assert (h264.width_max, h264.height_max, h265.width_max, h265.height_max) == (3840, 2160, 3840, 2160)
    assert (frame.card.file_systems, frame.card.capacity_max_gb) == (("FAT32",), 32.0)
    assert (frame.stills.formats, frame.stills.seconds, frame.player.order) == (("JPEG",), 10.0, "name")
    baseline = frame.video.limits_for("H.264")
    assert (baseline.profiles, baseline.level_max) == (("Constrained Baseline", "Baseline"), "3.1")
    assert tuple(frame.video.codecs or ()) == ("MPEG-4", "H.264")
    exact = strip.video.limits_for("H.264")
    assert (exact.width, exact.height, strip.screen.width, strip.screen.height) == (1920, 540, 1920, 540)


# The schema


def test_the_committed_schema_is_the_generated_one() -> None:
    committed = (CHECKOUT / "docs" / "profile.schema.json").read_text("utf-8")
    assert committed == profile_schema_text(), "run: mediacheck profile schema > docs/profile.schema.json"


def test_the_schema_is_a_valid_one_and_names_its_draft() -> None:
    schema = profile_schema()
    jsonschema.Draft202012Validator.check_schema(schema)
    assert schema["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    assert schema["title"] == "mediacheck profile"
    assert schema["description"].startswith("What one kind of player and screen can take.")


def test_the_schema_describes_every_key() -> None:
    schema = profile_schema()
    parts = {"": schema, **schema["$defs"]}
    silent = [
        f"{part}.{key}"
        for part, section in parts.items()
        for key, value in section["properties"].items()
        if "description" not in value and "$ref" not in value
    ]
    assert silent == []
    assert [part for part, section in parts.items() if not section.get("description")] == []


@each_bundled
def test_bundled_profiles_keep_the_schema_also_for_a_common_yaml_reader(name: str) -> None:
    values = yaml.safe_load((bundled_folder() / f"{name}.yaml").read_text("utf-8"))
    jsonschema.validate(values, json.loads(profile_schema_text()), jsonschema.Draft202012Validator)


@pytest.mark.parametrize(
    "values",
    [
        {"id": "Has Blanks"},
        {"id": "a", "screen": {"widht": 3}},
        {"id": "a", "video": {"codecs": {"h264": {}}}},
        {"id": "a", "video": {"frame_rates": ["fast"]}},
        {"id": "a", "video": {"level_max": "x"}},
        {"id": "a", "rules": {"video-gob": "off"}},
        {"id": "a", "rules": {"video-gop": False}},
        {"id": "a", "loop": {"items_min": -1}},
    ],
)
def test_the_schema_refuses_what_the_model_refuses(values: dict[str, Any]) -> None:
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate(values, profile_schema(), jsonschema.Draft202012Validator)
    with pytest.raises(ValueError, match="validation error"):
        Profile.model_validate_json(json.dumps(values))


@each_bundled
def test_a_profile_written_as_json_keeps_the_schema_too(name: str) -> None:
    values = json.loads(bundled(name).model_dump_json())
    jsonschema.validate(values, profile_schema(), jsonschema.Draft202012Validator)


def test_a_profile_without_an_id_is_called_as_its_file(tmp_path: Path) -> None:
    path = tmp_path / "store player.yaml"
    path.write_text("video: {width: 1920, height: 1080}\n")
    assert read_profile(path).profile.id == "store-player"


@pytest.mark.parametrize(
    ("limits", "says"),
    [
        ("profiles: [Contrained Baseline]", 'a profile of H.264 such as "Constrained Baseline"'),
        ("level_max: 4.7", "a level of H.264"),
    ],
)
def test_a_profile_or_level_that_the_codec_does_not_have_is_refused(
    limits: str, says: str, tmp_path: Path
) -> None:
    path = tmp_path / "player.yaml"
    path.write_text(f"video:\n  codecs:\n    H.264: {{{limits}}}\n")
    with pytest.raises(InvalidFile, match=says):
        read_profile(path)


def test_a_profile_is_called_as_the_command_line_calls_it(tmp_path: Path) -> None:
    own = tmp_path / "basic-1080p.yaml"
    own.write_text("id: basic-1080p\n", "utf-8")
    assert load_profile("basic-1080p").option == "basic-1080p"
    assert load_profile(str(own)).option == str(own)
