"""What a decode showed, in the record: the keys of version 1, all that was measured beside them, and back."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given, settings

from mediacheck.measure.model import (
    Bars,
    Combed,
    DecodeError,
    Flash,
    Measurements,
    NotMeasured,
    Seam,
    Sound,
    Span,
)
from mediacheck.report.measurements_record import measurements_of, measurements_record
from tests.report.make import MEASURED
from tests.report.strategies import decodes

CONTRACT = [
    "frames", "decode_errors", "black", "frozen", "bars", "leader", "flashes_per_second_max", "loudness_lufs",
    "true_peak_dbtp", "silent", "bit_rate_peak", "seam_picture", "seam_sound",
]  # fmt: skip
NOTHING = Measurements(360, 12.0)
SOUND = Sound(12.0, -23.0, -1.0, (-2.0, -2.0), 0.0, 0.0, 1.0)


def record(measured: Measurements) -> dict[str, Any]:
    made = measurements_record(measured)
    assert made is not None
    return made


def heard(**changes: Any) -> dict[str, Any]:
    """The record of a decode that heard the usual sound with some values changed."""
    return record(replace(NOTHING, sound=replace(SOUND, **changes)))


def test_a_decode_that_showed_everything() -> None:
    assert record(MEASURED) == {
        "frames": 360,
        "decode_errors": 1,
        "black": [[0, 1.5], [11, 12]],
        "frozen": [],
        "bars": {"top": 140, "bottom": 138, "left": 0, "right": 0},
        "leader": [[0, 0.5], [0.5, 1.5]],
        "flashes_per_second_max": 5,
        "loudness_lufs": -18.5,
        "true_peak_dbtp": -0.3,
        "silent": False,
        "bit_rate_peak": 12_000_000,
        "seam_picture": 20,
        "seam_sound": 1.5,
        "seconds": 12,
        "width": 1920,
        "height": 1080,
        "decode_error_details": [{"message": "bad block", "second": 3.5}],
        "sound_errors": 2,
        "sound_error_details": [{"message": "bad header", "second": 4.5}],
        "leader_kinds": ["colour bars", "countdown"],
        "flash": {"general_max": 2, "general_at": 7.25, "red_max": 5, "red_at": 8},
        "combed": {"share": 0.25, "moving": 40, "unclear": 3},
        "seam": {
            "picture_change": 30,
            "usual_change": 1.5,
            "greatest_change": 12,
            "black": 2.5,
            "likeness": 0.25,
            "usual_likeness": 0.98,
        },
        "sound": {
            "seconds": 12,
            "channel_peaks_dbfs": [-0.5, None],
            "dead_channels": [1],
            "silent_start": 0.25,
            "silent_end": 0,
            "tone": [[0, 1.5]],
            "start": {"level": [0, 0], "greatest_step": [0.125, 0]},
            "end": {"level": [0.1875, 0], "greatest_step": [0.0625, 0]},
        },
        "fingerprint": "01c0ffee",
    }


def test_the_keys_of_version_1_come_first_and_in_their_order() -> None:
    assert list(record(MEASURED))[: len(CONTRACT)] == CONTRACT


def test_what_was_not_measured_is_null_and_what_was_counted_is_not() -> None:
    made = record(NOTHING)
    counted = {key: value for key, value in made.items() if value is not None}
    errors = {"decode_errors": 0, "decode_error_details": [], "sound_errors": 0, "sound_error_details": []}
    assert counted == {"frames": 360, "seconds": 12, **errors}
    assert set(made) == set(record(MEASURED))


def test_nothing_found_is_told_apart_from_nothing_measured() -> None:
    clean = replace(NOTHING, black=(), leader=(), bars=Bars(0, 0, 0, 0), flash=Flash(0, None, 0, None))
    made = record(clean)
    assert (made["black"], made["leader"], made["leader_kinds"]) == ([], [], [])
    assert made["bars"] == {"top": 0, "bottom": 0, "left": 0, "right": 0}
    assert made["flashes_per_second_max"] == 0


@pytest.mark.parametrize("unmeasured", [None, NotMeasured("the quick check does not decode", True)])
def test_a_file_that_was_not_decoded_has_no_measurements(unmeasured: NotMeasured | None) -> None:
    assert measurements_record(unmeasured) is None
    assert measurements_of(None) is None


@pytest.mark.parametrize(("general", "red", "most"), [(4, 1, 4), (1, 4, 4), (0, 0, 0)])
def test_the_flashes_are_those_of_the_worse_kind(general: int, red: int, most: int) -> None:
    flash = Flash(general, 1.0, red, 1.0)
    assert record(replace(NOTHING, flash=flash))["flashes_per_second_max"] == most


@pytest.mark.parametrize(
    ("peaks", "silent", "dead"),
    [
        ((None, None), True, [0, 1]),
        ((-60.01, None), True, [0, 1]),
        ((-60.0, None), False, [1]),
        ((-3.0, -3.0), False, []),
        ((None,), True, [0]),
        ((), False, []),
    ],
)
def test_silent_is_sound_that_stays_below_60_dbfs_in_every_channel(
    peaks: tuple[float | None, ...], silent: bool, dead: list[int]
) -> None:
    made = heard(channel_peaks_dbfs=peaks)
    assert (made["silent"], made["sound"]["dead_channels"]) == (silent, dead)


def test_no_sound_heard_is_not_silence() -> None:
    assert heard(seconds=0.0, channel_peaks_dbfs=(None, None))["silent"] is False
    assert record(NOTHING)["silent"] is None


def test_silence_has_no_level() -> None:
    made = heard(loudness_lufs=None, true_peak_dbtp=float("-inf"), seam_step=None)
    assert (made["loudness_lufs"], made["true_peak_dbtp"], made["seam_sound"]) == (None, None, None)


@pytest.mark.parametrize(
    ("change", "usual", "times"), [(30.0, 1.5, 20), (30.0, 0.0, 60), (0.4, 0.5, 0.8), (1.0, 3.0, 0.333)]
)
def test_the_seam_is_told_as_a_multiple_of_the_usual_change(
    change: float, usual: float, times: float
) -> None:
    assert record(replace(NOTHING, seam=Seam(change, usual, 9.0, 0.0)))["seam_picture"] == times


def test_times_are_rounded_to_milliseconds() -> None:
    third = record(replace(NOTHING, frozen=(Span(1 / 3, 2 / 3),)))
    assert third["frozen"] == [[0.333, 0.667]]


def test_all_complaints_are_counted_though_only_some_are_kept() -> None:
    kept = (DecodeError("bad block", 3.5), DecodeError("bad header"))
    assert record(Measurements(3, 0.1, kept, 1234))["decode_errors"] == 1234
    assert record(Measurements(3, 0.1, kept, 0))["decode_errors"] == 2


def test_reading_gives_back_what_was_measured() -> None:
    assert measurements_of(record(MEASURED)) == MEASURED
    assert measurements_of(record(NOTHING)) == NOTHING


def test_the_pictures_of_the_ends_and_the_waits_stay_out_of_the_record() -> None:
    assert MEASURED.seam is not None
    seam = replace(MEASURED.seam, first="0a" * 1728, last="0b" * 1728)
    kept = replace(MEASURED, seam=seam, gaps=(Span(3.5, 4.5),))
    assert record(kept) == record(MEASURED)
    assert measurements_of(record(kept)) == MEASURED


def test_a_record_from_before_the_ends_were_kept_is_read() -> None:
    old = record(MEASURED)
    del old["sound"]["start"], old["sound"]["end"]
    del old["seam"]["likeness"], old["seam"]["usual_likeness"]
    del old["combed"]["unclear"], old["sound_errors"], old["sound_error_details"]
    read = measurements_of(old)
    assert read is not None
    assert (read.combed, read.sound_errors, read.sound_error_count) == (Combed(0.25, 40), (), 0)
    assert read.seam == Seam(30.0, 1.5, 12.0, 2.5)
    assert read.sound is not None
    assert (read.sound.start, read.sound.end) == (None, None)


@settings(max_examples=100, deadline=None)
@given(decodes)
def test_writing_what_was_read_changes_nothing(measured: Measurements) -> None:
    once = record(measured)
    read = measurements_of(once)
    assert read is not None
    assert record(read) == once


def test_the_keys_of_version_1_alone_give_what_can_be_told_from_them() -> None:
    bare = {key: value for key, value in record(MEASURED).items() if key in CONTRACT}
    assert measurements_of(bare) == Measurements(
        frames=360,
        seconds=0.0,
        decode_error_count=1,
        black=MEASURED.black,
        frozen=MEASURED.frozen,
        bars=MEASURED.bars,
        bit_rate_peak=12_000_000,
    )
    assert measurements_of({**bare, "leader": []}) == replace(measurements_of(bare) or NOTHING, leader=())


@pytest.mark.parametrize(
    "broken",
    [
        {"leader_kinds": ["countdown"]},
        {"black": [[0.5]]},
        {"bars": {"top": 1}},
        {"flash": {}},
        {"sound": {"seconds": 1}},
    ],
)
def test_what_does_not_fit_together_is_refused(broken: dict[str, Any]) -> None:
    with pytest.raises((KeyError, ValueError)):
        measurements_of({**record(MEASURED), **broken})
