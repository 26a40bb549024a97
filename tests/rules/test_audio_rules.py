"""Rules about sound: each finds its defect, passes the clean twin, and leaves the others silent."""

from __future__ import annotations

from typing import Any

import pytest

from mediacheck.media.facts import AudioFacts
from mediacheck.profile import Profile
from mediacheck.rules.model import NOT_APPLICABLE, PASSED, One
from tests.rules.judging import RULES, Defect, answer, failing, findings, holds, reads_well, reason
from tests.rules.make import audio_facts, bare_profile, one, profile, unreadable_file, video_file

AUDIO_RULES = [name for name, rule in RULES.items() if name.startswith("audio-") and rule.depth == "quick"]
LIMIT_RULES = ["audio-codec", "audio-sample-rate", "audio-channels", "audio-bit-rate"]
SILENT = profile(audio={"use": "none"})
WITH_SOUND = profile(audio={"use": "required"})


def with_sound(*tracks: AudioFacts, limits: Profile | None = None) -> One:
    """A conforming clip with these sound tracks."""
    return one(video_file(audio=tracks), limits)


def only(**limits: Any) -> Profile:
    """A profile whose only limit on AAC is this one."""
    return profile(audio={"codecs": {"AAC": limits}})


DEFECTS = {
    "sound where none is wanted": Defect(
        "audio-unwanted", one(profile=SILENT), "AAC", "no sound", "plays into the store"
    ),
    "sound that no limit fits, where none is wanted": Defect(
        "audio-unwanted",
        with_sound(audio_facts(codec="AC-3", channels=6), audio_facts(sample_rate=96_000), limits=SILENT),
        "AC-3 and AAC",
        "no sound",
        "meant to be silent",
    ),
    "no sound where it is wanted": Defect(
        "audio-missing", with_sound(limits=WITH_SOUND), "no sound", "sound", "falls silent", fixable=True
    ),
    "codec": Defect(
        "audio-codec",
        with_sound(audio_facts(codec="AC-3", profile=None)),
        "AC-3",
        "AAC",
        "The sound is packed as AC-3 and the player unpacks only AAC",
    ),
    "codec, several allowed": Defect(
        "audio-codec",
        with_sound(audio_facts(codec="Opus"), limits=profile(audio={"codecs": {"AAC": {}, "MP3": {}}})),
        "Opus",
        "AAC or MP3",
        "plays silent or is skipped",
    ),
    "codec, none allowed": Defect(
        "audio-codec",
        with_sound(audio_facts(), limits=profile(audio={"codecs": {}})),
        "AAC",
        "nothing",
        "silent",
    ),
    "codec of the second track": Defect(
        "audio-codec",
        with_sound(audio_facts(), audio_facts(codec="AC-3", channels=6)),
        "AC-3",
        "AAC",
        "Sound track 2 is packed as AC-3",
    ),
    "sample rate": Defect(
        "audio-sample-rate",
        with_sound(audio_facts(sample_rate=96_000)),
        "96,000 Hz",
        "44,100 or 48,000 Hz",
        "too fast or too slow",
    ),
    "channels": Defect(
        "audio-channels", with_sound(audio_facts(channels=6)), "6 channels", "up to 2", "speech, are missing"
    ),
    "channels of a mono player": Defect(
        "audio-channels", one(profile=only(channels_max=1)), "2 channels", "up to 1", "takes up to 1"
    ),
    "bit rate": Defect(
        "audio-bit-rate",
        with_sound(audio_facts(bit_rate=320_001)),
        "320.001 kbit/s",
        "up to 320 kbit/s",
        "the sound drops out",
    ),
    "second track beyond a limit, first one silent about it": Defect(
        "audio-bit-rate",
        with_sound(audio_facts(bit_rate=None), audio_facts(bit_rate=2_304_000)),
        "2.304 Mbit/s",
        "up to 320 kbit/s",
        "Sound track 2 takes 2.304 Mbit/s",
    ),
}


@pytest.mark.parametrize("defect", DEFECTS.values(), ids=DEFECTS.keys())
def test_a_defect_is_found_by_its_own_rule_and_fails_no_other(defect: Defect) -> None:
    holds(defect)


@pytest.mark.parametrize("rule", LIMIT_RULES)
@pytest.mark.parametrize(
    "track",
    [audio_facts(), audio_facts(sample_rate=44_100, channels=1), audio_facts(bit_rate=320_000)],
    ids=["usual", "mono at 44.1 kHz", "exactly the greatest bit rate"],
)
def test_a_conforming_track_passes(rule: str, track: AudioFacts) -> None:
    assert answer(rule, with_sound(track)) == PASSED


def test_wanted_sound_passes_where_it_is_and_silence_where_it_is_not() -> None:
    assert answer("audio-missing", one(profile=WITH_SOUND)) == PASSED
    assert answer("audio-unwanted", with_sound(limits=SILENT)) == PASSED


@pytest.mark.parametrize("rule", ["audio-unwanted", "audio-missing"])
def test_sound_that_is_merely_allowed_is_neither_unwanted_nor_missed(rule: str) -> None:
    assert answer(rule, one()) == NOT_APPLICABLE
    assert answer(rule, with_sound()) == NOT_APPLICABLE


@pytest.mark.parametrize("rule", LIMIT_RULES)
def test_where_no_sound_is_wanted_or_none_is_there_limits_say_nothing(rule: str) -> None:
    worst = audio_facts(codec="AC-3", channels=6, sample_rate=96_000, bit_rate=10**7)
    assert answer(rule, with_sound(worst, limits=SILENT)) == NOT_APPLICABLE
    assert answer(rule, with_sound()) == NOT_APPLICABLE


@pytest.mark.parametrize("rule", AUDIO_RULES)
def test_a_profile_without_limits_restricts_nothing(rule: str) -> None:
    worst = audio_facts(codec="WMA", channels=8, sample_rate=192_000, bit_rate=10**7)
    assert answer(rule, with_sound(worst, limits=bare_profile())) == NOT_APPLICABLE


@pytest.mark.parametrize("rule", ["audio-sample-rate", "audio-channels", "audio-bit-rate"])
def test_limits_of_a_codec_say_nothing_about_another(rule: str) -> None:
    other = audio_facts(codec="AC-3", channels=6, sample_rate=96_000, bit_rate=640_000)
    assert answer(rule, with_sound(other)) == NOT_APPLICABLE
    assert failing(with_sound(other)) == {"audio-codec"}


@pytest.mark.parametrize(
    ("rule", "fact", "words"),
    [
        ("audio-sample-rate", "sample_rate", "the sample rate of its sound"),
        ("audio-channels", "channels", "how many channels its sound has"),
        ("audio-bit-rate", "bit_rate", "the bit rate of its sound"),
    ],
)
def test_a_fact_that_the_file_leaves_out_is_not_passed(rule: str, fact: str, words: str) -> None:
    unknown = audio_facts(**{fact: None})
    assert reason(rule, with_sound(unknown)) == (f"the file does not say {words}", False)
    assert reason(rule, with_sound(audio_facts(), unknown)) == (f"the file does not say {words}", False)
    assert answer(rule, with_sound(unknown, limits=only())) == NOT_APPLICABLE


@pytest.mark.parametrize(
    ("rule", "limits"),
    [("audio-unwanted", SILENT), ("audio-missing", WITH_SOUND), *((rule, profile()) for rule in LIMIT_RULES)],
)
def test_a_file_that_could_not_be_read_is_not_checked(rule: str, limits: Profile) -> None:
    assert reason(rule, one(unreadable_file(), limits)) == (
        "the file could not be read, so its sound was not checked",
        False,
    )


def test_every_bad_track_is_a_finding_of_its_own() -> None:
    tracks = (audio_facts(channels=6), audio_facts(), audio_facts(channels=8))
    seen = findings(with_sound(*tracks))
    assert {name: [each.found for each in those] for name, those in seen.items()} == {
        "audio-channels": ["6 channels", "8 channels"]
    }
    assert [each.message[:13] for each in seen["audio-channels"]] == ["Sound track 1", "Sound track 3"]
    for each in seen["audio-channels"]:
        reads_well(each)
