"""The model of a display: what people may write, what it becomes, and what they are told of mistakes."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError

from mediacheck.display import FACES_MAX, LINE_MAX, Display, EarlierLoop, Face, FaceLoop, LoopItem
from mediacheck.face_names import folded, the_face
from mediacheck.strict_yaml import InvalidFile, parse_mapping
from mediacheck.validated import validated

SHA256 = "0123456789abcdef" * 4
WHOLE = f"""
id: loam
title: Loam & Lantern
version: spring 2026
notes: Two screens.
faces:
  - name: aisle side
    place: towards the tills
    profile: basic-1080p
    card_label: AISLE
    input: HDMI 1
    notes: >
      Below the cover.
      Slot down.
    loop:
      title: Water
      version: 3
      manifest: loops/aisle.manifest.json
      earlier:
        - loops/aisle-1.manifest.json
        - {{version: 2.0, manifest: loops/aisle-2.manifest.json}}
      items:
        - {{name: /01-can.mp4, title: The can, sha256: {SHA256.upper()}}}
        - {{name: more/02-rain.mp4}}
      library: water
  - {{name: window side, profile: mine.yaml}}
"""


def display_of(text: str) -> Display:
    """The display in a text."""
    return validated(parse_mapping(text.encode(), "d.yaml"), Display)


def problems_of(text: str) -> list[tuple[int | None, str, str, str, str | None]]:
    """Line, key, expected, found and nearest of each problem."""
    with pytest.raises(InvalidFile) as refused:
        display_of(text)
    return [(p.line, p.key, p.expected, p.found, p.nearest) for p in refused.value.problems]


def test_every_key_is_read() -> None:
    loop = FaceLoop(
        title="Water",
        version="3",
        manifest="loops/aisle.manifest.json",
        earlier=(
            EarlierLoop(manifest="loops/aisle-1.manifest.json"),
            EarlierLoop(version="2.0", manifest="loops/aisle-2.manifest.json"),
        ),
        items=(
            LoopItem(name="01-can.mp4", title="The can", sha256=SHA256),
            LoopItem(name="more/02-rain.mp4"),
        ),
        library="water",
    )
    aisle = Face(
        name="aisle side",
        place="towards the tills",
        profile="basic-1080p",
        card_label="AISLE",
        input="HDMI 1",
        notes="Below the cover. Slot down.\n",
        loop=loop,
    )
    assert display_of(WHOLE) == Display(
        id="loam",
        title="Loam & Lantern",
        version="spring 2026",
        notes="Two screens.",
        faces=(aisle, Face(name="window side", profile="mine.yaml")),
    )


def test_only_faces_with_a_name_and_a_profile_are_needed() -> None:
    face = display_of("faces: [{name: A, profile: basic-1080p}]").faces[0]
    empty = {"place": "", "card_label": "", "input": "", "notes": ""}
    assert face.model_dump() == {
        "name": "A",
        "profile": "basic-1080p",
        **empty,
        "loop": {"title": "", "version": "", "manifest": None, "earlier": (), "items": (), "library": ""},
    }


def test_earlier_versions_are_called_as_people_say_or_by_their_manifests() -> None:
    earlier = display_of(WHOLE).faces[0].loop.earlier
    assert [version.name for version in earlier] == ["loops/aisle-1", "2.0"]


def test_one_earlier_version_need_not_be_a_list() -> None:
    loop = display_of("faces: [{name: A, profile: p, loop: {earlier: a.json}}]").faces[0].loop
    assert loop.earlier == (EarlierLoop(manifest="a.json"),)


@pytest.mark.parametrize(
    ("text", "problem"),
    [
        ("id: a\n", (1, "faces", "a value", "nothing", None)),
        ("faces: []\n", (1, "faces", "at least one entry", "an empty list", None)),
        ("faces:\n  name: A\n", (1, "faces", "a list, such as [a, b]", "keys with values", None)),
        ("faces:\n  - A\n", (2, "faces[1]", "keys with values", 'the text "A"', None)),
        ("faces:\n  - name: A\n", (2, "faces[1].profile", "a value", "nothing", None)),
        (
            "faces:\n  - {name: '', profile: p}\n",
            (2, "faces[1].name", "a name, such as aisle side", 'the text ""', None),
        ),
        (
            "faces:\n  - {name: ' ', profile: p}\n",
            (2, "faces[1].name", "a name, such as aisle side", 'the text " "', None),
        ),
        (
            'faces:\n  - {name: "A\\nB", profile: p}\n',
            (2, "faces[1].name", "one line of text, with at most 120 characters", 'the text "A\nB"', None),
        ),
        (
            "faces:\n  - {name: A, profile: p, card_lable: x}\n",
            (2, "faces[1].card_lable", "a key that is known here", '"card_lable"', "faces[1].card_label"),
        ),
        (
            "faces:\n  - name: A\n    profile: p\n    loop:\n      items:\n        - {name: a, sha256: 12}\n",
            (
                6,
                "faces[1].loop.items[1].sha256",
                "a SHA-256, which has 64 digits and letters from a to f",
                "12",
                None,
            ),
        ),
        (
            "faces:\n  - {name: A, profile: p, loop: {items: [{name: ../a}]}}\n",
            (
                2,
                "faces[1].loop.items[1].name",
                "a path on the card with forward slashes, such as /media/loop",
                'the text "../a"',
                None,
            ),
        ),
        (
            "faces:\n  - {name: A, profile: p, loop: {items: [{name: /}]}}\n",
            (
                2,
                "faces[1].loop.items[1].name",
                "the path of a file on the card, such as 01-seeds.mp4",
                'the text "/"',
                None,
            ),
        ),
        (
            "faces:\n  - {name: A, profile: p, loop: {manifest: ''}}\n",
            (2, "faces[1].loop.manifest", "a path, such as loops/aisle.manifest.json", 'the text ""', None),
        ),
        (
            "faces:\n  - {name: A, profile: p, loop: {earlier: [{version: 1}]}}\n",
            (2, "faces[1].loop.earlier[1].manifest", "a value", "nothing", None),
        ),
        (
            "faces:\n  - {name: Aisle  Side, profile: p}\n  - {name: aisle side, profile: p}\n",
            (1, "faces", "each name once, whatever its capitals", 'more than one "Aisle  Side"', None),
        ),
        (
            "faces:\n  - name: A\n    profile: p\n    loop:\n      items: [{name: a.mp4}, {name: A.mp4}]\n",
            (5, "faces[1].loop.items", "each file once", 'more than one "a.mp4"', None),
        ),
    ],
)
def test_a_mistake_is_told_with_its_line_and_key(text: str, problem: tuple[Any, ...]) -> None:
    assert problems_of(text) == [problem]


def test_all_mistakes_are_told_at_once() -> None:
    text = "titel: x\nfaces:\n  - name: A\n    profil: p\n  - {name: B, profile: p, loop: {version: [1]}}\n"
    assert [(line, key) for line, key, *_ in problems_of(text)] == [
        (1, "titel"),
        (3, "faces[1].profile"),
        (4, "faces[1].profil"),
        (5, "faces[2].loop.version"),
    ]


def test_too_many_faces_are_no_display() -> None:
    faces = [f"{{name: f{number}, profile: p}}" for number in range(FACES_MAX + 1)]
    assert len(display_of(f"faces: [{', '.join(faces[:FACES_MAX])}]").faces) == FACES_MAX
    assert problems_of(f"faces: [{', '.join(faces)}]") == [(1, "faces", "at most 16 entries", "a list", None)]


@pytest.mark.parametrize("name", ["پنجره\u200cها", "खिड़की", "窓側", "💧 side", "Fenêtre", "x" * LINE_MAX])
def test_names_of_any_script_are_taken(name: str) -> None:
    assert Face(name=f" {name} " if len(name) < LINE_MAX else name, profile="p").name == name


@given(st.text(max_size=140))
def test_a_name_is_one_line_or_refused(text: str) -> None:
    try:
        name = Face(name=text, profile="p").name
    except ValidationError:
        return
    assert name == text.strip()
    assert 0 < len(name) <= LINE_MAX
    assert len(name.splitlines()) == 1


def test_a_display_cannot_be_changed() -> None:
    display = display_of(WHOLE)
    with pytest.raises(ValidationError):
        setattr(display.faces[0].loop, "version", "4")  # noqa: B010  # types refuse it too
    assert hash(display) == hash(display_of(WHOLE))


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("aisle side", "the aisle side"),
        ("the pillar", "the pillar"),
        ("A", 'the face "A"'),
        ("窓側", 'the face "窓側"'),
        ("2", 'the face "2"'),
    ],
)
def test_a_face_has_words_for_a_sentence(name: str, words: str) -> None:
    assert the_face(name) == words


def test_names_are_compared_without_capitals_and_blanks() -> None:
    assert folded("  Aisle \t SIDE ") == folded("aisle side") == "aisle side"
