"""What the rules find on the bad card alone: nothing of it is lost, and what matters comes first."""

from __future__ import annotations

from fractions import Fraction

from mediacheck.check import judged
from mediacheck.compare.run import UNRESTRICTED
from mediacheck.media.facts import ContainerFacts
from mediacheck.profile_files import LoadedProfile
from mediacheck.survey import Surveyed
from tests.compare.make import brief, clip, compared, encoded_again, measured, still, surveyed
from tests.rules import make
from tests.rules.make import container_facts, still_facts, video_facts


def test_a_cut_off_file_on_the_bad_card_only() -> None:
    cut = encoded_again(container=container_facts(truncated="the last part is missing"))
    assert brief(compared([clip()], [cut]).differences)[0] == (
        "fail",
        "container-truncated",
        "a.mp4",
        "a.mp4",
    )
    assert compared([cut], [cut]).differences == ()
    assert "container-truncated" not in {each.rule for each in compared([cut], [clip()]).differences}


def test_decoding_errors_on_the_bad_card_only() -> None:
    good = clip(measurements=measured(range(20), frames=300, seconds=10.0))
    bad = encoded_again(measurements=measured(range(20), frames=300, seconds=10.0, decode_error_count=4))
    found = compared([good], [bad], depth="full")
    assert brief(found.differences)[0] == ("fail", "picture-damaged", "a.mp4", "a.mp4")
    assert [each.how for each in found.matched] == ["same picture, encoded again"]


def test_a_damaged_still_on_the_bad_card_only() -> None:
    bad = still("a.jpg", "again", still=still_facts(damaged="the lower half cannot be decoded"))
    assert brief(compared([still()], [bad]).differences)[0] == ("fail", "still-damaged", "a.jpg", "a.jpg")


def test_what_files_of_the_good_card_are_too_weighs_less_but_damage_does_not() -> None:
    last = ContainerFacts("MP4", "last")
    wrong = ContainerFacts("MP4", "first", truncated="the last part is missing")
    good = [clip("a.mp4", container=last), clip("b.mp4", container=wrong)]
    found = compared(good, [*good, clip("c.mp4", container=last), clip("d.mp4", container=wrong)])
    told = {(each.rule, each.bad_path): each.severity for each in found.differences if each.rule}
    assert told == {
        ("container-index", "c.mp4"): "note",
        ("container-truncated", "d.mp4"): "fail",
    }


def test_a_name_that_no_card_can_hold_is_told_though_the_name_is_only_another() -> None:
    for name in ("AUX.mp4", "a.mp4 "):
        first = compared([clip("clip-1.mp4", "x")], [clip(name, "x")]).differences[0]
        assert (first.severity, first.rule, first.bad_path) == ("fail", "file-name", name)
        assert first.message.startswith("The name of this file does not work: ")


def test_what_the_rule_says_stands_where_it_weighs_more() -> None:
    """Fewer bits ask less of most players; of one that takes 10 only, they do not."""
    profile = make.bare_profile(video={"bit_depths": [10]})
    good, bad = clip(video=video_facts(bit_depth=10)), encoded_again()
    first, without = (compared([good], [bad], each).differences for each in (profile, None))
    assert (first[0].severity, first[0].rule, "hardly" in first[0].message) == (
        "fail",
        "video-bit-depth",
        False,
    )
    assert ["hardly" in each.message for each in without if each.rule == "video-bit-depth"] == [True]


def test_what_was_not_looked_at_on_the_good_card_is_not_said_to_be_well_there() -> None:
    files = [clip(), make.junk_file("._a.mp4")]
    dirty = surveyed(files, make.card(*files, volume=make.volume(dirty=True)))
    unlisted = Surveyed(make.card(unlisted="it is not formatted"), (), {})
    folder = Surveyed(make.plain_folder(*files[:1]), make.placed(files[:1]), {})
    nothing, unseen = "nothing of the kind was found", "this was not looked at"
    for good, expected in (
        (surveyed(files[:1]), {"file-junk": nothing, "card-dirty": nothing}),
        (unlisted, {"file-junk": unseen, "card-dirty": nothing}),
        (folder, {"file-junk": nothing, "card-dirty": unseen}),
    ):
        assert {each.rule: each.good for each in compared(good, dirty).differences} == expected


def test_files_that_could_not_be_listed_are_one_gap() -> None:
    unlisted = Surveyed(make.card(unlisted="it is not formatted"), (), {})
    for good, bad in ((unlisted, surveyed([clip()])), (surveyed([clip()]), unlisted)):
        gaps = [gap.what for gap in compared(good, bad).not_compared if not gap.expected]
        assert gaps == ["folders, names, order and files"]


def test_every_finding_of_the_bad_card_alone_is_told() -> None:
    good = [clip("a.mp4"), clip("b.mp4")]
    bad = [
        encoded_again("a.mp4", video=video_facts(codec="VP9", width=640, frame_rate=Fraction(50))),
        clip("ü.mov", container=container_facts(name="MKV", index="last", fragmented=True)),
        make.junk_file("._a.mp4"),
        make.unreadable_file("c.mp4"),
        make.other_file("x.exe", size_bytes=0),
    ]
    for profile in (None, make.profile()):
        loaded = LoadedProfile(profile, "by hand", "0" * 64) if profile else UNRESTRICTED
        alone = {f.rule for f in judged(surveyed(bad), loaded, "quick").findings}
        alone -= {f.rule for f in judged(surveyed(good), loaded, "quick").findings}
        assert alone - {each.rule for each in compared(good, bad, profile).differences} == set()


def test_what_matters_to_the_profile_comes_first() -> None:
    """The profile takes H.265 and not 50 frames per second: the codec, first by rule, comes second."""
    profile = make.bare_profile(
        video={"codecs": {"H.264": {}, "H.265": {}}, "frame_rates": [25, 30]}, rules={"video-codec": "fail"}
    )
    bad = encoded_again(video=video_facts(codec="H.265", profile="Main", frame_rate=Fraction(50)))
    without = compared([clip()], [bad]).differences
    assert [(each.rule, each.matters) for each in without][:2] == [
        ("video-codec", None),
        ("video-frame-rate", None),
    ]
    found = compared([clip()], [bad], profile).differences
    assert [(each.rule, each.matters) for each in found][:2] == [
        ("video-frame-rate", True),
        ("video-codec", False),
    ]


def test_a_finding_that_no_difference_stands_for_is_added() -> None:
    profile = make.bare_profile(layout={"required_files": ["play.cfg"]}, stills={"width_max": 1000})
    good = [clip(), make.other_file("play.cfg", sha256="1" * 64)]
    found = compared(good, [clip(), still("b.jpg")], profile)
    assert [(each.rule, each.matters) for each in found.differences if each.matters] == [
        ("folder-missing", True),
        ("still-resolution", True),
    ]


def test_what_the_good_card_breaks_too_does_not_matter() -> None:
    profile = make.bare_profile(video={"codecs": {"MPEG-2": {}}})
    bad = encoded_again(video=video_facts(codec="VP9"))
    told = {each.rule: each.matters for each in compared([clip()], [bad], profile).differences}
    assert told["video-codec"] is False


def test_the_profile_may_weigh_a_difference_more_than_usual() -> None:
    profile = make.bare_profile(
        card={"label_pattern": "ROSE_LEFT"}, rules={"card-label": "fail"}, player={"order": "name"}
    )
    files = [clip()]
    good = surveyed(files)
    bad = surveyed(files, make.card(*files, volume=make.volume(label="ROSE_RIGHT")))
    assert [(d.rule, d.severity, d.matters) for d in compared(good, bad, profile).differences] == [
        ("card-label", "fail", True)
    ]
