"""Which cards cannot teach, and that a person is told why in sentences."""

from __future__ import annotations

from dataclasses import replace

import pytest

from mediacheck.card.model import Damage
from mediacheck.learn.derive import learned
from mediacheck.learn.meaning import (
    BROKEN,
    BY_DISPLAY,
    BY_MANIFEST,
    HAZARD,
    LIMITED,
    OF_THE_MATERIAL,
    OF_THE_PLAYER,
    REMARK_ONLY,
)
from mediacheck.learn.model import Taught
from mediacheck.learn.refusal import refusals
from mediacheck.loop import File
from mediacheck.measure.model import DecodeError, Flash, NotMeasured
from mediacheck.names import Depth
from mediacheck.rules.catalogue import RULES
from tests.learn.cards import limits, report, taught, two
from tests.rules import make, measuring


def reasons(*cards: Taught, depth: Depth = "quick") -> dict[str, tuple[str, ...]]:
    return {each.card: each.reasons for each in refusals(cards, depth)}


def with_file(file: File, **changes: object) -> Taught:
    return taught("it", make.video_file("a.mp4"), make.video_file("b.mp4"), file, **changes)


def test_every_rule_has_one_meaning_for_learning() -> None:
    sets = (BROKEN, HAZARD, OF_THE_PLAYER, OF_THE_MATERIAL, REMARK_ONLY, BY_MANIFEST, BY_DISPLAY, LIMITED)
    assert sorted(rule for each in sets for rule in each) == sorted(rule.name for rule in RULES)


def test_a_good_card_is_not_refused() -> None:
    assert reasons(two(), two("other")) == {}


@pytest.mark.parametrize(
    ("card", "words"),
    [
        (
            taught("it", make.video_file("a.mp4"), damage=(Damage("a chain is broken", "a.mp4"),)),
            "Damage on the",
        ),
        (
            taught("it", make.video_file("a.mp4"), damage=(Damage("a count is wrong", only_writing=True),)),
            "Damage on the card: a count is wrong",
        ),
        (taught("it", make.video_file("a.mp4"), volume=make.volume(dirty=True)), "taken out before"),
        (taught("it", make.video_file("a.mp4"), volume=make.volume(claimed_bytes=10**12)), "is lost"),
        (taught("it", unlisted="it is not formatted"), "could not be listed: it is not formatted."),
        (taught("it", make.other_file("x.txt")), "nothing on this card that the player would play"),
        (with_file(make.junk_file("._a.mp4")), "A computer left this file behind"),
        (with_file(make.junk_file(".DS_Store")), "A computer left this file behind"),
        (with_file(make.video_file("c.mp4", size_bytes=0)), "This file is empty"),
        (with_file(make.unreadable_file("c.mp4")), "The file holds no picture, so"),
        (
            with_file(make.video_file("c.mp4", container=make.container_facts(truncated="it ends early"))),
            "cut off (it ends early)",
        ),
        (with_file(make.video_file("c.mp4", container=make.container_facts(encrypted=True))), "locked with"),
        (with_file(make.still_file("c.jpg", still=make.still_facts(damaged="it ends early"))), "is damaged"),
        (with_file(make.video_file("c.mp4", facts={"video": None})), "holds only sound"),
        (with_file(make.video_file("c?.mp4")), "The name of this file does not work"),
        (
            with_file(make.video_file("c.mp4", video=make.video_facts(level=None))),
            '"c.mp4": Not everything could be checked, since the file does not say its level.',
        ),
    ],
)
def test_what_cannot_teach_is_refused_with_one_reason(card: Taught, words: str) -> None:
    (reason,) = reasons(card)["it"]
    assert words in reason
    assert reason.endswith(".")


def test_full_depth_also_refuses_damage_inside_pictures_and_what_could_not_be_decoded() -> None:
    damaged = measuring.clip("a.mp4", decode_errors=(DecodeError("bad", 2.0),), decode_error_count=1)
    undecoded = make.video_file("b.mp4", measurements=NotMeasured("the decoder gave no answer", False))
    found = reasons(taught("it", damaged, undecoded), depth="full")["it"]
    assert [reason.split(":")[0] for reason in found] == ['"a.mp4"', '"b.mp4"']
    assert "damaged (1 decoding error at 2.0 s)" in found[0]
    assert found[1] == '"b.mp4": Not everything could be checked, since the decoder gave no answer.'


def test_flashes_are_refused_as_a_hazard_and_are_never_made_light_of() -> None:
    card = taught("it", measuring.clip("a.mp4", flash=Flash(9, 1.0, 0, None)), measuring.clip("b.mp4"))
    (reason,) = reasons(card, depth="full")["it"]
    assert reason.endswith("That it plays does not make it right, so nothing is learned from it.")
    assert [value.key for value in learned((card,), "full").values if value.key[0] == "rules"] == []


def test_files_with_the_same_fault_share_one_reason() -> None:
    card = taught("it", make.video_file("a.mp4"), *map(make.junk_file, (".DS_Store", "x/.DS_Store")))
    (reason,) = reasons(card)["it"]
    assert reason.startswith('".DS_Store", "x/.DS_Store": A computer left this file behind')


def test_what_is_odd_and_plays_is_no_reason_to_refuse() -> None:
    odd = make.video_facts(rotation=90, frame_rate_mode="variable", level="3")
    card = taught(
        "it",
        make.video_file("a.mov", video=odd, container=make.container_facts(index="last", fragmented=True)),
        make.still_file("b.jpg", still=make.still_facts(progressive=True, colour="CMYK", orientation=6)),
    )
    assert reasons(card) == {}
    assert report(card, (card,)).verdict == "pass"


def test_broken_files_of_a_card_that_is_used_in_spite_of_them_teach_nothing() -> None:
    broken = make.video_file(
        "a long name.mkv",
        container=make.container_facts(name="MKV", truncated="it ends early"),
        video=make.video_facts(width=9999, bit_rate=90_000_000),
    )
    spoilt, good = with_file(broken), with_file(make.junk_file(".DS_Store"))
    plain = replace(two("it"), shown="it")
    assert limits(spoilt) == limits(good) == limits(taught("it", *plain.surveyed.files))
    assert "in spite of what is wrong with it:" in learned((spoilt,), "quick").notes
    assert "in spite" not in learned((plain,), "quick").notes


def test_a_card_with_nothing_to_play_teaches_nothing_even_in_spite_of_that() -> None:
    empty = taught("empty", make.other_file("x.txt"))
    assert learned((empty,), "quick").values == ()
    assert limits(two(), empty) == limits(two())
