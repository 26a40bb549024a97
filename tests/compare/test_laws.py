"""Laws of every comparison, over cards made up by chance: a copy has no differences; a swap is a mirror."""

from __future__ import annotations

from fractions import Fraction

from hypothesis import given, settings
from hypothesis import strategies as st

from mediacheck.card.model import Damage
from mediacheck.compare.weight import PLACES
from mediacheck.loop import File
from mediacheck.names import WORST_FIRST
from mediacheck.profile import Profile
from mediacheck.survey import Surveyed
from tests.compare.make import clip, compared, sha, still
from tests.rules import make

ITEMS = (
    "a.mp4",
    "b.mp4",
    "B.MOV",
    "ü.mp4",
    "in/a.mp4",
    "in/deep/long name of a clip.mp4",
    "c.jpg",
    "in/c.png",
)
PATHS = st.sampled_from((*ITEMS, "._a.mp4", ".DS_Store", "play.cfg", "music.mp3"))
PROFILES = st.sampled_from([None, make.profile(), make.bare_profile(player={"order": "disk"})])


@st.composite
def files(draw: st.DrawFn, path: str) -> File:
    """A file of that path, conforming or not, readable or not."""
    contents = sha(draw(st.integers(0, 4)))
    if path.startswith(".") or "/." in path:
        return make.junk_file(path)
    if path.endswith(".cfg"):
        return make.other_file(path, sha256=contents, size_bytes=draw(st.sampled_from([0, 9])))
    if path.endswith(".mp3"):
        return make.audio_file(path, sha256=contents)
    if draw(st.integers(0, 5)) == 0:
        return make.unreadable_file(path, sha256=contents)
    if path.endswith((".jpg", ".png")):
        return still(path, contents, still=make.still_facts(width=draw(st.sampled_from([800, 1920]))))
    video = make.video_facts(
        codec=draw(st.sampled_from(["H.264", "H.265"])),
        level=draw(st.sampled_from([None, "4", "5.1"])),
        frame_rate=draw(st.sampled_from([None, Fraction(25), Fraction(50)])),
        bit_rate=draw(st.integers(1, 40)) * 1_000_000,
    )
    box = make.container_facts(
        name=draw(st.sampled_from(["MP4", "MKV"])), index=draw(st.sampled_from([None, "first", "last"]))
    )
    audio = draw(st.sampled_from([(), (make.audio_facts(),), (make.audio_facts(codec="AC-3"),)]))
    return clip(path, contents, video=video, container=box, audio=audio)


@st.composite
def cards(draw: st.DrawFn) -> Surveyed:
    """A card or folder with any of these files in any order."""
    paths = draw(st.lists(PATHS, unique_by=str.casefold, max_size=7))
    there = make.placed([draw(files(path)) for path in paths])
    volume = make.volume(
        file_system=draw(st.sampled_from([None, "FAT32", "exFAT"])),
        label=draw(st.sampled_from([None, "", "ROSE"])),
        dirty=draw(st.booleans()),
    )
    damage = draw(st.sampled_from([None, (), (Damage("a chain runs in circles", "a.mp4"),)]))
    plain = draw(st.booleans())
    card = make.plain_folder(*there) if plain else make.card(*there, volume=volume, damage=damage)
    return Surveyed(card, there, {})


@settings(max_examples=60)
@given(cards(), PROFILES)
def test_a_copy_of_a_card_has_no_differences(card: Surveyed, profile: Profile | None) -> None:
    found = compared(card, card, profile)
    assert found.differences == ()
    assert [
        (match.good_path, match.how) for match in found.matched if match.good_path != match.bad_path
    ] == []


@settings(max_examples=60)
@given(cards(), cards())
def test_swapping_the_cards_mirrors_what_is_missing_and_extra(one: Surveyed, other: Surveyed) -> None:
    found, back = compared(one, other), compared(other, one)
    missing = [d.good_path for d in found.differences if d.subject == "item" and d.bad_path is None]
    extra = [
        d.bad_path for d in back.differences if d.subject == "item" and d.bad == "it is there" and d.bad_path
    ]
    assert sorted(map(str, missing)) == sorted(extra)
    assert {(m.good_path, m.bad_path, m.how) for m in found.matched} == {
        (m.bad_path, m.good_path, m.how) for m in back.matched
    }


@settings(max_examples=60)
@given(cards(), cards(), PROFILES)
def test_differences_stand_by_what_matters_then_weight_then_rule(
    good: Surveyed, bad: Surveyed, profile: Profile | None
) -> None:
    found = compared(good, bad, profile).differences
    keys = [
        (d.matters is not True, WORST_FIRST.index(d.severity), PLACES.get(d.rule or "", 999)) for d in found
    ]
    assert keys == sorted(keys)
    assert {d.matters is None for d in found} <= {profile is None}


@settings(max_examples=60)
@given(cards(), cards())
def test_nothing_is_called_the_same_that_differs_or_was_not_compared(good: Surveyed, bad: Surveyed) -> None:
    found = compared(good, bad)
    same = " ".join(found.same)
    if found.good.volume is None or found.bad.volume is None:
        assert "The file system" not in same
    if any(d.rule == "card-file-system" for d in found.differences):
        assert "The file system" not in same
    if any(not (side.order_known) for side in (good.card, bad.card)):
        assert "put onto the card" not in same
    codecs = {d.rule for d in found.differences if d.good_path and d.bad_path}
    told = next((words for words in found.same if words.startswith("In the")), "")
    assert not ("video-codec" in codecs and "the picture's codec" in told)
