"""What cards teach: each value with its evidence, and one step beyond it is found by its rule alone."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from typing import Any

import pytest

from mediacheck.learn.derive import learned
from mediacheck.learn.model import Taught
from mediacheck.loop import File
from mediacheck.measure.model import Leader, Span
from tests.learn.cards import fails, limits, report, taught, two, values
from tests.rules import make, measuring

HIGH_AT_4 = ("video", "codecs", "H.264")


def like(video: dict[str, Any] | None = None, **parts: Any) -> File:
    """A clip as on the good card but for what is given."""
    return make.video_file("c.mp4", video=make.video_facts(**(video or {})), **parts)


def beyond(*files: File, **changes: Any) -> Taught:
    """A card as good as the good one with one file more, or with another volume."""
    return taught("beyond", *two().surveyed.files, *files, **changes)


def one_more(path: str) -> File:
    return make.video_file(path)


GREATER = (40_000,) * 299 + (4_000_000,)


@pytest.mark.parametrize(
    ("card", "rule"),
    [
        (beyond(volume=make.volume(file_system="exFAT")), "card-file-system"),
        (beyond(volume=make.volume(partition_table="GPT")), "card-partition-table"),
        (beyond(volume=make.volume(medium_bytes=16_100_000_001)), "card-capacity"),
        (beyond(volume=make.volume(cluster_bytes=32_768)), "card-cluster-size"),
        (beyond(one_more("deeper/c.mp4")), "file-misplaced"),
        (beyond(make.other_file("x.txt")), "file-unexpected"),
        (beyond(make.audio_file("x.mp3")), "file-unexpected"),
        (beyond(one_more("cc.mp4")), "file-name-length"),
        (beyond(one_more("é.mp4")), "file-name"),
        (
            beyond(make.video_file("c.mkv", container=make.container_facts(name="MKV", index=None))),
            "container-format",
        ),
        (beyond(like({"codec": "MPEG-4", "profile": "Simple", "level": None})), "video-codec"),
        (beyond(like({"profile": "Main"})), "video-profile"),
        (beyond(like({"level": "4.1"})), "video-level"),
        (beyond(like({"width": 1904})), "video-resolution"),
        (beyond(like({"height": 1088})), "video-resolution"),
        (beyond(like({"frame_rate": Fraction(30000, 1001)})), "video-frame-rate"),
        (beyond(like({"frame_rate_mode": "variable"})), "video-frame-rate-variable"),
        (beyond(like({"bit_rate": 8_000_001})), "video-bit-rate"),
        (beyond(like({"packets": make.packet_facts(sizes_bytes=GREATER)})), "video-bit-rate-peak"),
        (beyond(like({"bit_depth": 10})), "video-bit-depth"),
        (beyond(like({"chroma": "4:2:2"})), "video-chroma"),
        (beyond(like({"scan": "interlaced"})), "video-interlaced"),
        (beyond(like({"packets": make.packet_facts(keyframe_every=60)})), "video-gop"),
        (beyond(like(facts={"audio": ()})), "audio-missing"),
        (beyond(like(audio=(make.audio_facts(codec="MP3"),))), "audio-codec"),
        (beyond(like(audio=(make.audio_facts(sample_rate=44_100),))), "audio-sample-rate"),
        (beyond(like(audio=(make.audio_facts(channels=6),))), "audio-channels"),
        (beyond(like(audio=(make.audio_facts(bit_rate=128_001),))), "audio-bit-rate"),
        (beyond(make.still_file("c.jpg")), "still-format"),
        (beyond(like(container=make.container_facts(index="last"))), "container-index"),
        (beyond(like({"level_needed": "4.1"})), "video-level-understated"),
    ],
)
def test_one_step_beyond_what_was_seen_is_found(card: Taught, rule: str) -> None:
    assert fails(two(), two()) == set()
    assert fails(card, two()) == {rule}
    assert fails(card, two(), card) == set()


def test_two_good_clips_teach_every_limit_that_they_bear_out() -> None:
    assert limits(two()) == {
        ("card", "file_systems"): ("FAT32",),
        ("card", "partition_tables"): ("MBR",),
        ("card", "capacity_max_gb"): 16.1,
        ("card", "cluster_bytes_max"): 16_384,
        ("layout", "media_folder"): "/",
        ("layout", "subfolders"): False,
        ("layout", "other_files"): (),
        ("layout", "name_length_max"): 5,
        ("layout", "ascii_only"): True,
        ("video", "containers"): ("MP4",),
        ("video", "codecs"): ("H.264",),
        (*HIGH_AT_4, "profiles"): ("High",),
        (*HIGH_AT_4, "level_max"): "4",
        ("video", "width"): 1920,
        ("video", "height"): 1080,
        ("video", "frame_rates"): (30,),
        ("video", "bit_rate_max"): 8_000_000,
        ("video", "bit_rate_peak_max"): 8_000_000,
        ("video", "bit_depths"): (8,),
        ("video", "chroma"): ("4:2:0",),
        ("video", "scan"): "progressive",
        ("video", "gop_seconds_max"): 1.0,
        ("audio", "use"): "required",
        ("audio", "codecs"): ("AAC",),
        ("audio", "codecs", "AAC", "sample_rates"): (48_000,),
        ("audio", "codecs", "AAC", "channels_max"): 2,
        ("audio", "codecs", "AAC", "bit_rate_max"): 128_000,
        ("stills", "formats"): (),
    }


def test_sections_come_in_the_order_of_a_profile() -> None:
    seen = list(dict.fromkeys(key[0] for key in values(two(), two("other", rotation=90))))
    assert seen == ["player", "card", "layout", "video", "audio", "stills", "loop", "rules"]


def test_nothing_of_one_file_is_a_limit_however_many_cards_hold_it() -> None:
    same = make.video_file("a.mp4", sha256="0" * 64)
    cards = [taught(name, same) for name in ("one", "two", "three")]
    of_cards = ("file_systems", "partition_tables", "capacity_max_gb", "cluster_bytes_max")
    assert set(limits(*cards)) == {("card", key) for key in of_cards}
    found = values(*cards)["video", "width"]
    assert (found.value, found.is_limit) == (1920, False)
    assert found.evidence == (
        "seen on 3 of 3 cards: 3 files, 1 of them different; one file is too little for a limit"
    )


def test_one_file_on_one_card_sets_no_limit_of_the_card_either() -> None:
    card = taught("one", one_more("a.mp4"))
    assert limits(card) == {}
    found = values(card, taught("folder", one_more("b.mp4"), volume=None))["card", "file_systems"]
    assert (found.value, found.is_limit) == (("FAT32",), False)
    assert found.evidence == "seen on 1 of 2 cards; one file is too little for a limit"


def test_lists_that_only_one_file_bears_out_are_no_limit() -> None:
    card = beyond(make.still_file("c.jpg"), make.other_file("x.txt"))
    found = values(card)
    for key in (("stills", "formats"), ("stills", "width_max"), ("layout", "other_files")):
        assert not found[key].is_limit
    assert found["layout", "other_files"].value == ("*.txt",)


def test_evidence_counts_cards_and_files_and_says_what_was_rounded() -> None:
    quick = make.video_facts(bit_rate=18_300_000, frame_rate=Fraction("24.999"))
    cards = (
        two(),
        taught("other", make.video_file("c.mp4", video=quick)),
        taught("third", one_more("d.mp4")),
    )
    found = values(*cards)
    assert found["video", "bit_rate_max"].value == 19_000_000
    assert found["video", "bit_rate_max"].evidence == (
        "seen on 3 of 3 cards: 4 files; rounded up from 18.3 Mbit/s to the next step"
    )
    assert found["video", "frame_rates"].evidence == (
        "seen on 3 of 3 cards: 4 files; 25 in 1 file, 30 in 3 files; 24.999 rounded to 25 (CTA-861)"
    )
    assert found["card", "file_systems"].evidence == "seen on 3 of 3 cards"


def test_a_codec_has_limits_of_its_own_where_they_differ_from_those_of_all() -> None:
    large = make.video_facts(
        codec="H.265", profile="Main 10", level="5.1", level_needed="5", width=3840, height=2160, bit_depth=10
    )
    films = (make.video_file("c.mp4", video=large), make.video_file("d.mp4", video=large))
    found = limits(two(), taught("large", *films))
    assert {key[2:]: value for key, value in found.items() if key[:2] == ("video", "codecs")} == {
        (): ("H.264", "H.265"),
        ("H.264", "profiles"): ("High",),
        ("H.264", "level_max"): "4",
        ("H.264", "width"): 1920,
        ("H.264", "height"): 1080,
        ("H.264", "bit_depths"): (8,),
        ("H.265", "profiles"): ("Main 10",),
        ("H.265", "level_max"): "5.1",
        ("H.265", "width"): 3840,
        ("H.265", "height"): 2160,
        ("H.265", "bit_depths"): (10,),
    }
    assert not {("video", key) for key in ("width", "width_max", "height", "bit_depths")} & set(found)
    large_h264 = taught("wrong", make.video_file("a.mp4"), like({"width": 3840, "height": 2160}))
    assert fails(large_h264, two(), taught("large", *films)) == {"video-resolution"}


def test_a_codec_seen_once_is_named_and_takes_the_limits_of_all() -> None:
    once = like({"codec": "H.265", "profile": "Main", "level_needed": "4"})
    found = values(beyond(once))
    assert found["video", "codecs"].value == ("H.264", "H.265")
    assert {key[-1] for key, value in found.items() if key[2:3] == ("H.265",) and value.is_limit} == set()
    assert found["video", "codecs", "H.265", "level_max"].value == "4"


def test_a_codec_without_a_name_in_profiles_leaves_the_codecs_open_and_the_rest_limited() -> None:
    strange = like({"codec": "FLV1", "profile": None, "level": None, "level_needed": None})
    found = values(beyond(strange))
    assert found["video", "codecs"].evidence == (
        "seen on 1 of 1 card: 3 files; FLV1 was seen as well and cannot be named in a profile"
    )
    own = [value for key, value in found.items() if key[:2] == ("video", "codecs")]
    assert [value.is_limit for value in own] == [False] * 3
    assert found["video", "width"].is_limit
    assert report(beyond(strange), (beyond(strange),)).verdict == "pass"


def test_different_sizes_are_greatest_ones_and_both_kinds_of_scan_are_no_limit() -> None:
    found = limits(beyond(like({"width": 1280, "height": 1080, "scan": "interlaced"})))
    sizes = {
        key[1]: value for key, value in found.items() if key[1] in ("width", "width_max", "height", "scan")
    }
    assert sizes == {"width_max": 1920, "height": 1080}


@pytest.mark.parametrize(
    ("stated", "needed", "learnt", "said"),
    [
        ("4", "3.1", "4", ""),
        ("4", "4.2", "4.2", "its header says less than that"),
        (None, "3.1", "3.1", "its header states none"),
    ],
)
def test_the_level_is_the_highest_that_is_stated_or_needed(
    stated: str | None, needed: str, learnt: str, said: str
) -> None:
    """ITU-T H.264 Table A-1 has the levels 3, 3.1, 3.2, 4, 4.1, 4.2 in this order."""
    found = values(two(level=stated, level_needed=needed))[*HIGH_AT_4, "level_max"]
    assert found.value == learnt
    assert found.evidence.endswith(said)
    assert ("ITU-T H.264 Table A-1" in found.evidence) == bool(said)


def test_what_no_level_allows_leaves_the_level_open() -> None:
    card = taught("it", *two().surveyed.files, like({"level": "6.2", "level_needed": "none"}))
    found = values(card)[*HIGH_AT_4, "level_max"]
    assert (found.value, found.is_limit) == ("4", False)
    assert "1 file needs more than any level allows" in found.evidence
    assert report(card, (card,)).verdict == "pass"


def test_a_fact_that_one_file_does_not_say_is_no_limit() -> None:
    found = values(beyond(like({"chroma": None})))["video", "chroma"]
    assert (found.value, found.is_limit) == (("4:2:0",), False)
    assert found.evidence == "seen on 1 of 1 card: 2 files; 1 file does not say it"


def test_uneven_rates_are_left_out_of_the_rates_and_told_by_their_rule() -> None:
    found = values(beyond(like({"frame_rate": Fraction(271, 10), "frame_rate_mode": "variable"})))
    assert found["video", "frame_rates"].value == (30,)
    assert found["video", "frame_rates"].evidence.endswith("1 file with an uneven rate left out")
    assert found["rules", "video-frame-rate-variable"].value == "note"
    assert found["rules", "video-frame-rate-variable"].evidence == "seen on 1 of 1 card: 1 file"


@pytest.mark.parametrize(("kept", "use"), [((), "none"), ((0,), "allowed"), ((0, 1), "required")])
def test_sound_is_as_it_was_seen(kept: tuple[int, ...], use: str) -> None:
    silent = {"audio": ()}
    named = [make.video_file(f"{at}.mp4", facts=None if at in kept else silent) for at in range(2)]
    assert limits(taught("it", *named))["audio", "use"] == use


def test_folders_are_those_that_all_cards_share_whatever_their_capitals() -> None:
    first = taught("one", one_more("Media/Loop/a.mp4"), one_more("Media/Loop/b.mp4"))
    second = taught("two", one_more("media/a.mp4"), one_more("media/x/b.mp4"))

    def folders(*cards: Taught) -> tuple[Any, Any]:
        found = limits(*cards)
        return found["layout", "media_folder"], found["layout", "subfolders"]

    assert folders(first) == ("/Media/Loop", False)
    assert folders(first, second) == ("/Media", True)
    assert folders(first, second, two()) == ("/", True)


def test_other_files_are_told_by_their_endings() -> None:
    names = ("a.TXT", "b.txt", "no ending", "odd[1]", "sub/x.nfo")
    found = limits(beyond(*map(make.other_file, names)))["layout", "other_files"]
    assert found == ("*.nfo", "*.txt", "no ending", "odd[[]1]")


def test_what_a_folder_does_not_tell_is_not_counted() -> None:
    found = values(two(), replace(two("folder"), surveyed=_as_folder(two("folder"))))
    assert found["card", "file_systems"].evidence == "seen on 1 of 2 cards"
    assert found["card", "file_systems"].is_limit


def _as_folder(card: Taught) -> Any:
    surveyed = card.surveyed
    return replace(surveyed, card=replace(surveyed.card, volume=None, order_known=False, damage=None))


def test_a_folder_with_a_file_that_fits_on_no_such_card_leaves_the_file_system_open() -> None:
    folder = taught("big", make.video_file("a.mp4", size_bytes=2**33))
    card = replace(folder, surveyed=_as_folder(folder))
    found = values(two(), card)["card", "file_systems"]
    assert (found.value, found.is_limit) == (("FAT32",), False)
    assert "do not fit on these" in found.evidence
    assert report(card, (two(), card)).verdict == "pass"


@pytest.mark.parametrize(
    ("names", "words"),
    [(("a.mp4", "b.mp4"), "in the order of their"), (("b.mp4", "a.mp4"), "in another order")],
)
def test_the_order_is_a_remark_only(names: tuple[str, str], words: str) -> None:
    found = values(taught("it", *map(one_more, names)))["player", "order"]
    assert (found.is_limit, words in found.evidence) == (False, True)


def test_loops_are_counted_by_card_and_one_loop_on_two_cards_is_one() -> None:
    copies = [replace(file, sha256=f"{at}") for at, file in enumerate(two().surveyed.files)]
    once, again = (Taught(name, taught(name, *copies).surveyed) for name in ("one", "two"))
    longer = taught("three", *map(one_more, ("d.mp4", "e.mp4", "f.mp4")))
    keys = [("loop", key) for key in ("items_min", "items_max", "seconds_min", "seconds_max")]

    def loops(*cards: Taught) -> list[Any]:
        found = limits(*cards)
        return [found.get(key) for key in keys]

    assert loops(once) == loops(once, again) == [None] * 4
    assert loops(once, longer) == [2, 3, 20, 30]
    assert fails(taught("one item", one_more("d.mp4")), once, longer) == {"loop-count", "loop-length"}


def test_a_video_of_unknown_length_leaves_the_length_of_the_loop_open() -> None:
    longer = taught("three", *map(one_more, ("d.mp4", "e.mp4", "f.mp4")))
    untimed = taught("untimed", one_more("a.mp4"), make.video_file("g.mp4", facts={"duration": None}))
    found = values(two(), longer, untimed)["loop", "seconds_max"]
    assert (found.value, found.is_limit) == (30, False)
    assert found.evidence == "seen on 2 of 3 cards; a video does not say how long it is"
    assert report(untimed, (two(), longer, untimed)).verdict == "pass"


def test_stills_teach_their_formats_and_greatest_sizes() -> None:
    small = make.still_file("a.png", still=make.still_facts(format="PNG", width=800, height=1200))
    found = limits(taught("it", make.still_file("b.jpg"), small))
    stills = {key[1]: value for key, value in found.items() if key[0] == "stills"}
    assert stills == {"formats": ("JPEG", "PNG"), "width_max": 1920, "height_max": 1200}
    assert found["video", "containers"] == ()
    card = taught("it", make.still_file("b.jpg"), small, make.still_file("c.jpg"))
    assert fails(card, card) == set()


def test_what_only_a_decode_shows_is_a_remark_and_matters_of_the_material_stay_notes() -> None:
    measured: dict[str, Any] = {"black": (Span(0.0, 1.23),), "leader": (Leader("countdown", 0.0, 2.0),)}
    card = taught("it", measuring.clip("a.mp4", **measured), measuring.clip("b.mp4"))
    found = values(card, depth="full")
    remarks = {key: value.value for key, value in found.items() if not value.is_limit}
    assert remarks["loop", "black_seconds_max"] == 1.3
    assert remarks["loop", "frozen_seconds_max"] == 0.0
    assert remarks["audio", "loudness_lufs"] == -23.0
    assert remarks["audio", "true_peak_dbtp_max"] == -3.0
    assert found["rules", "picture-leader"].value == "note"
    assert found["rules", "picture-leader"].evidence == (
        "seen on 1 of 1 card: 1 file; a matter of the material: take this line out to be warned of it"
    )
    assert report(card, (card,), "full").verdict == "pass"


def test_the_notes_say_where_it_comes_from_and_what_was_not_looked_at() -> None:
    assert learned((two(), two("other")), "quick").notes == (
        "Learned from 2 cards that play: good, other. What goes beyond these values was not seen to play; it "
        "may play or not. Only headers were read: whether pictures are damaged or flash was not looked at."
    )
    assert "headers" not in learned((two(),), "full").notes
