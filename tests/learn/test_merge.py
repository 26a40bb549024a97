"""Merging into a profile that is there: it widens, keeps what people wrote, and never tightens."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from mediacheck.learn.document import document
from mediacheck.learn.merge import Merged, merged
from mediacheck.learn.model import Learned, Plain, Value
from mediacheck.learn.plain import flow
from mediacheck.profile_files import bundled_folder, bundled_names
from mediacheck.strict_yaml import InvalidFile
from tests.learn.plain_values import at, learned, learnings, once
from tests.learn.test_document import profile_of

H264 = ("video", "codecs", "H.264")
H265 = ("video", "codecs", "H.265")


def written(*values: tuple[Any, Plain]) -> str:
    """A profile that was learned from these."""
    return document(learned(*values), "my-player", "My player")


def after(old: tuple[Any, Plain], *new: tuple[Any, Plain]) -> Any:
    """The value of the old key after a merge of the new ones."""
    text = merged(written(old), learned(*new)).text
    key = tuple(old[0].split(".")) if isinstance(old[0], str) else old[0]
    return at(profile_of(text), key)


@pytest.mark.parametrize(
    ("key", "old", "new", "both"),
    [
        ("card.file_systems", ("exFAT",), ("FAT32",), ("FAT32", "exFAT")),
        ("card.cluster_bytes_max", 4096, 32768, 32768),
        ("card.cluster_bytes_max", 32768, 4096, 32768),
        ("card.free_percent_min", 10.5, 2, 2.0),
        ("layout.ascii_only", True, False, False),
        ("layout.ascii_only", True, True, True),
        ("layout.subfolders", False, True, True),
        ("layout.subfolders", True, False, True),
        ("layout.other_files", ("*.txt",), ("*.pdf",), ("*.txt", "*.pdf")),
        ("layout.required_files", ("a.txt", "b.txt"), ("b.txt",), ("b.txt",)),
        ("layout.media_folder", "/", "clips", "/"),
        ("layout.media_folder", "/Media/loop", "media/LOOP", "/Media/loop"),
        ("layout.media_folder", "/Media/loop", "media/other", "/Media"),
        ("layout.media_folder", "/media", "/clips", "/"),
        ("video.containers", ("MKV",), ("MP4",), ("MP4", "MKV")),
        ("video.chroma", ("4:2:2",), ("4:2:0",), ("4:2:0", "4:2:2")),
        ("video.bit_depths", (10,), (8,), (8, 10)),
        ("video.scan", "progressive", "interlaced", None),
        ((*H264, "profiles"), ("High",), ("Main", "Baseline"), ("Baseline", "Main", "High")),
        ((*H264, "level_max"), "1b", "1.1", "1.1"),
        ((*H264, "level_max"), "1.1", "1b", "1.1"),
        ((*H264, "level_max"), "4.1", "5", "5"),
        (("video", "codecs", "MPEG-2", "level_max"), "Main", "High", "High"),
        (("video", "codecs", "MPEG-2", "level_max"), "High", "High-1440", "High"),
        ("audio.use", "none", "required", "allowed"),
        ("audio.use", "required", "required", "required"),
        ("audio.codecs.AAC.sample_rates", (48000,), (44100,), (44100, 48000)),
        ("audio.codecs.AAC.channels_max", 1, 2, 2),
        ("stills.formats", (), ("JPEG",), ("JPEG",)),
        ("loop.items_min", 3, 1, 1),
        ("loop.seamless", True, False, False),
        ("loop.seconds_max", 60, 90.5, 90.5),
        ("rules.file-name", "note", "off", "off"),
        ("rules.file-name", "off", "note", "off"),
    ],
)
def test_a_learned_value_widens_to_both(key: Any, old: Plain, new: Plain, both: Any) -> None:
    held = after((key, old), (key, new))
    assert (held, type(held)) == (both, type(both))


def test_rates_that_mean_the_same_stand_once_and_rise() -> None:
    text = merged(
        written(("video.frame_rates", (60, 29.97))), learned(("video.frame_rates", ("30000/1001", 25)))
    )
    assert "frame_rates: [25, 29.97, 60]\n" in text.text


def test_a_widened_value_says_what_it_was_and_who_widened_it() -> None:
    before = written(((*H264, "level_max"), "4"))
    now = merged(before, learned(((*H264, "level_max"), "4.1"), evidence="seen on 1 of 1 card: 2 files"))
    assert now.text == before.replace(
        '      # learned "4": seen on 3 of 3 cards: 12 files\n      level_max: "4"\n',
        '      # learned "4.1": "4" before (seen on 3 of 3 cards: 12 files); '
        "seen on 1 of 1 card: 2 files (card-b)\n"
        '      level_max: "4.1"\n',
    )
    assert now.widened == ("video.codecs.H.264.level_max: 4.1 now, 4 before (seen on 1 of 1 card: 2 files).",)
    assert now.kept == ()
    assert merged(now.text, learned(((*H264, "level_max"), "4.2"))).text.count("before (") == 2


@pytest.mark.parametrize(
    ("edit", "stays"),
    [
        (('level_max: "4.1"', 'level_max: "4"'), "4"),
        (('level_max: "4.1"', "level_max: 4.1"), "4.1"),
        (('      # learned "4.1": seen on 3 of 3 cards: 12 files\n', ""), "4.1"),
        (("# learned", "# known"), "4.1"),
        (('"4.1": seen', '"4.1" seen'), "4.1"),
    ],
)
def test_what_a_person_edited_stays_and_is_named(edit: tuple[str, str], stays: str) -> None:
    edited = written(((*H264, "level_max"), "4.1")).replace(*edit)
    now = merged(edited, learned(((*H264, "level_max"), "5"), evidence="seen on 1 of 1 card: 2 files"))
    assert now == Merged(
        edited,
        (),
        (
            f"video.codecs.H.264.level_max stays {stays} as you wrote it; 5 was found on card-b "
            "(seen on 1 of 1 card: 2 files).",
        ),
    )


def test_an_edited_value_that_holds_is_not_worth_a_word() -> None:
    edited = written(((*H264, "level_max"), "4.1")).replace('max: "4.1"', 'max: "5"')
    assert merged(edited, learned(((*H264, "level_max"), "4.2"))) == Merged(edited, (), ())


def test_comments_spaces_and_quotes_of_people_stay_to_the_last_character() -> None:
    before = written(("video.frame_rates", (25,)), ("loop.items_max", 9))
    mine = (
        before.replace("  frame_rates: [25]", "  frame_rates:   [ 25 ]    # asked the maker")
        .replace("loop:", "\n\n# mine\nloop:   # all of it\n  seamless : false\n")
        .replace("title: My player", "title:   'My player' ")
    ) + "# the end"
    now = merged(mine, learned(("video.frame_rates", (30,)), ("loop.items_max", 3)))
    expected = mine.replace("[ 25 ]", "[25, 30]")
    expected = re.sub(
        r"# learned \[25\]: (.*)",
        r"# learned [25, 30]: [25] before (\1); \1 (card-b)",
        expected,
        count=1,
    )
    assert now.text == expected


def test_a_value_that_was_broken_into_lines_is_a_persons() -> None:
    edited = written(("video.frame_rates", (25, 30))).replace("[25, 30]\n", "\n    - 25  # a\n    - 30\n", 1)
    edited = edited.replace("frame_rates: \n", "frame_rates:\n").replace(
        "# learned \n    -", "# learned [25, 30]"
    )
    assert merged(edited, learned(("video.frame_rates", (50,)))).text == edited


def test_what_is_not_limited_stays_so() -> None:
    before = written(("card.file_systems", ("FAT32",)))
    more = learned(
        ("card.cluster_bytes_max", 4096), ("video.width", 640), ("audio.codecs.AAC.channels_max", 2)
    )
    assert merged(before, more) == Merged(before, (), ())


def test_exact_sizes_that_differ_become_greatest_ones() -> None:
    before = written(("video.width", 1920), ("video.height", 1080))
    now = merged(before, learned(("video.width", 1280), ("video.height", 1080)))
    profile = profile_of(now.text)
    assert (profile.video.width, profile.video.width_max) == (None, 1920)
    assert (profile.video.height, profile.video.height_max) == (1080, None)
    assert now.widened[0].startswith("video.width: at most 1920 pixels now, exactly 1920 pixels before")


@pytest.mark.parametrize("new", [(("video.width_max", 1920)), (("video.width_max", 640))])
def test_a_greatest_size_takes_the_place_of_an_exact_one(new: tuple[str, int]) -> None:
    profile = profile_of(merged(written(("video.width", 1280)), learned(new)).text)
    assert (profile.video.width, profile.video.width_max) == (None, max(1280, new[1]))


def test_a_codec_that_is_new_gets_a_place_of_its_own() -> None:
    before = written(((*H264, "level_max"), "4"), ("video.width", 1920), ("loop.items_min", 1))
    limits = learned(((*H265, "level_max"), "5"), ("video.width", 1920))
    single = replace(limits, values=(*limits.values, once((*H265, "profiles"), ("Main",))))
    now = merged(before, single)
    block = (
        "    H.265:\n"
        '      # learned "5": seen on 3 of 3 cards: 12 files\n      level_max: "5"\n'
        "      # profiles: [Main]  # seen on 1 of 1 card: 1 file; one file is too little for a limit\n"
    )
    assert now.text.index(block) == now.text.index("  # learned 1920") - len(block)
    assert "  # learned [H.264, H.265]:" in now.text
    assert set(profile_of(now.text).video.codecs or ()) == {"H.264", "H.265"}
    assert now.widened == ("video.codecs: H.264, H.265 now, H.264 before (what was seen on the cards).",)


def test_a_codec_that_a_person_took_out_stays_out() -> None:
    before = written(((*H264, "level_max"), "4"), ((*H265, "level_max"), "5"), ("loop.items_min", 1))
    start, end = before.index("    H.265:"), before.index("\nloop:")
    edited = before[:start] + before[end:]
    now = merged(edited, learned(((*H265, "level_max"), "5")))
    assert now.text == edited
    assert now.kept == (
        "video.codecs stays H.264 as you wrote it; H.265 was found on card-b (what was seen on the cards).",
    )


def test_what_holds_for_all_codecs_widens_what_one_codec_has_of_its_own() -> None:
    before = written(((*H264, "bit_rate_max"), 5_000_000), ("video.bit_rate_max", 9_000_000))
    limits = learned((("video", "codecs"), ("H.264",)), ("video.bit_rate_max", 7_000_000))
    profile = profile_of(merged(before, limits).text)
    assert profile.video.limits_for("H.264").bit_rate_max == 7_000_000
    assert profile.video.bit_rate_max == 9_000_000


def test_what_one_codec_has_of_its_own_widens_what_holds_for_all() -> None:
    before = written(((*H264, "level_max"), "4"), ("video.width", 1920))
    text = merged(before, learned(((*H264, "width"), 1280))).text
    assert profile_of(text).video.limits_for("H.264").width_max == 1920


def test_one_file_widens_what_is_there_and_adds_nothing() -> None:
    before = written(("video.bit_rate_max", 5_000_000))
    values = (once("video.bit_rate_max", 7_000_000), once("video.chroma", ("4:2:0",)))
    now = merged(before, Learned(values, ("card-b",), ""))
    assert profile_of(now.text).video.bit_rate_max == 7_000_000
    assert "chroma" not in now.text
    assert "5000000 before (seen on 3 of 3 cards: 12 files); seen on 1 of 1 card: 1 file (card-b)" in now.text


def test_a_limit_goes_where_files_were_seen_that_cannot_be_held_against_it() -> None:
    before = written(("video.chroma", ("4:2:0",)), ("loop.items_min", 1))
    value = Value(("video", "chroma"), ("4:2:0",), "2 files do not say it", is_limit=False)
    now = merged(before, Learned((value,), ("card-b",), ""))
    assert profile_of(now.text).video.chroma is None
    assert "video: {}\n" in now.text
    assert '  # chroma: ["4:2:0"]\n' in now.text
    assert now.widened == ("video.chroma: no limit now, 4:2:0 before (2 files do not say it).",)


def test_codecs_that_cannot_be_named_turn_their_rule_off() -> None:
    before = written((("video", "codecs"), ("H.264",)), ((*H264, "level_max"), "4"))
    value = Value(
        ("video", "codecs"), ("H.264",), "FLV1 was seen as well and cannot be named", is_limit=False
    )
    now = merged(before, Learned((value,), ("card-b",), ""))
    profile = profile_of(now.text)
    assert (tuple(profile.video.codecs or ()), profile.rules) == (("H.264",), {"video-codec": "off"})
    assert merged(now.text, Learned((value,), ("card-b",), "")).text == now.text


def test_a_limit_goes_of_which_nothing_was_learned_though_there_were_such_files() -> None:
    before = written(
        ("video.containers", ("MP4",)),
        ("video.chroma", ("4:2:0",)),
        ("video.width", 640),
        ("stills.formats", ()),
    )
    now = merged(before, learned(("video.width", 640), ("stills.width_max", 640)))
    profile = profile_of(now.text)
    assert (profile.video.containers, profile.video.chroma, profile.stills.formats) == (None, None, None)
    assert profile.video.width == 640
    without = merged(before, learned(("loop.items_min", 2)))
    assert without == Merged(before, (), ())


def test_scan_goes_where_both_kinds_were_seen() -> None:
    before = written(("video.scan", "progressive"), ("video.width", 720))
    now = merged(before, learned(("video.width", 720)))
    assert profile_of(now.text).video.scan is None


def test_a_limit_of_a_codec_stays_where_a_stricter_one_would_take_its_place() -> None:
    learned_all = written(((*H264, "scan"), "interlaced"), ("video.scan", "progressive"))
    gone = profile_of(merged(learned_all, learned(((*H264, "scan"), "progressive"))).text).video
    assert (gone.scan, gone.limits_for("H.264").scan) == (None, None)
    before = learned_all.replace("  # learned progressive: seen on 3 of 3 cards: 12 files\n", "")
    now = merged(before, learned(((*H264, "scan"), "progressive")))
    assert now.text == before
    assert now.kept[0].startswith("video.codecs.H.264.scan stays interlaced; progressive was found")


KEPT_BY_NONE = "what cards that play do not keep"
FILE_NAME = "  # learned SET: seen on 3 of 3 cards: 12 files\n  file-name: SET\n"


@pytest.mark.parametrize("setting", ["off", "note"])
def test_a_rule_that_is_not_named_becomes_lighter(setting: str) -> None:
    before = written(("loop.items_min", 1)) + "\n# a remark at the end\n"
    now = merged(before, learned(("rules.file-name", setting)))
    assert now.text == f"{before}\n# learned [file-name]: {KEPT_BY_NONE}\nrules:\n{FILE_NAME}".replace(
        "SET", flow(setting)
    )
    assert profile_of(now.text).rules == {"file-name": setting}
    again = merged(now.text, learned(("rules.video-gop", setting), ("rules.file-name", "note")))
    assert profile_of(again.text).rules == {"file-name": setting, "video-gop": setting}


def test_a_rule_never_becomes_heavier() -> None:
    before = written(("loop.items_min", 1))
    assert merged(before, learned(("rules.file-name", "fail"), ("rules.video-gop", "warn"))).text == before


def test_a_rule_that_a_person_took_out_stays_out_and_one_that_is_new_comes_in() -> None:
    before = written(("rules.file-name", "note"), ("rules.video-gop", "note"))
    start = before.index("  # learned note", before.index("file-name: note"))
    edited = before[:start]
    now = merged(edited, learned(("rules.video-gop", "note"), ("rules.audio-silent", "note")))
    assert profile_of(now.text).rules == {"file-name": "note", "audio-silent": "note"}
    assert now.kept == (
        "rules.video-gop stays as usual as you wrote it; note was found on card-b "
        "(seen on 3 of 3 cards: 12 files).",
    )
    assert now.widened == (
        "rules.audio-silent: note now, not named before (seen on 3 of 3 cards: 12 files).",
    )
    assert merged(now.text, learned(("rules.video-gop", "note"))).text == now.text


def test_rules_that_only_a_person_named_stay_all_that_are_named() -> None:
    before = "id: x\nrules:\n  file-name: off\n"
    now = merged(before, learned(("rules.video-gop", "note")))
    assert (now.text, len(now.kept)) == (before, 1)


@pytest.mark.parametrize("subfolders", [True, False])
def test_folders_that_differ_mean_that_files_lie_below(subfolders: bool) -> None:
    before = written(("layout.media_folder", "/media/a"), ("layout.subfolders", subfolders))
    now = merged(before, learned(("layout.media_folder", "/media/b"), ("layout.subfolders", False)))
    layout = profile_of(now.text).layout
    assert (layout.media_folder, layout.subfolders) == ("/media", True)


@pytest.mark.parametrize("seen", ["/", "/media/b"])
def test_the_folder_stays_where_a_person_wrote_that_none_below_it_counts(seen: str) -> None:
    """A folder above it, without those below, would refuse the very files that were taken before."""
    layout = written(("layout.media_folder", "/media/a"), ("layout.subfolders", False))
    lines = [line for line in layout.splitlines() if "subfolders" not in line]
    place = next(number for number, line in enumerate(lines) if "media_folder" in line)
    before = "\n".join((*lines[: place + 1], "  subfolders: false  # MINE", *lines[place + 1 :])) + "\n"
    now = merged(before, learned(("layout.media_folder", seen), ("layout.subfolders", False)))
    assert profile_of(now.text).layout == profile_of(before).layout
    assert [kept.partition(";")[0] for kept in now.kept] == [
        "layout.subfolders stays no as you wrote it", "layout.media_folder stays /media/a"
    ]  # fmt: skip


def test_the_order_of_the_player_is_no_limit_and_stays() -> None:
    before = written(("player.order", "name"))
    now = merged(before, learned(("player.order", "disk")))
    assert now.text == before
    assert now.kept[0].startswith("player.order stays name; disk was found on card-b")


@pytest.mark.parametrize("end", ["\n", "\r\n"])
@pytest.mark.parametrize("mark", ["", "\ufeff"])
def test_line_ends_and_the_mark_of_the_encoding_stay(end: str, mark: str) -> None:
    before = written(((*H264, "level_max"), "4"))
    limits = learned(((*H264, "level_max"), "5"), ((*H265, "level_max"), "5"))
    there = mark + before.replace("\n", end)
    assert merged(there, limits).text == mark + merged(before, limits).text.replace("\n", end)


@pytest.mark.parametrize("name", bundled_names())
@settings(max_examples=4, deadline=None)
@given(taught=learnings(st.just("")))
def test_a_profile_that_people_wrote_keeps_every_character(name: str, taught: Learned) -> None:
    text = (bundled_folder() / f"{name}.yaml").read_text("utf-8")
    now = merged(text, taught)
    assert now.text == text
    assert now.widened == ()


def test_what_is_no_profile_is_refused() -> None:
    with pytest.raises(InvalidFile):
        merged("id: [", learned())


def test_a_greatest_size_beside_an_exact_one_of_a_person_is_said_to_be_the_greatest() -> None:
    edited = written(("video.width", 1280)).replace("# learned 1280", "# known")
    now = merged(edited, learned(("video.width_max", 1280), evidence="seen on 1 of 1 card: 2 files"))
    (kept,) = now.kept
    assert kept.startswith("video.width stays 1280 pixels as you wrote it; at most 1280 pixels was found on ")
