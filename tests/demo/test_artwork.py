"""Every scene is drawn whole, inside its canvas, and legibly."""

from __future__ import annotations

import numpy as np
import pytest
from PIL import Image, ImageColor, ImageDraw

from mediacheck.demo.artwork import SOIL, Artwork, Canvas, artwork
from mediacheck.demo.motifs import MOTIFS
from mediacheck.demo.scenes import MEADOW, SCENES_MEADOW, SCENES_WATER, WATERING, Scene
from mediacheck.demo.sketch import Sketch

LANDSCAPE, PORTRAIT = Canvas(640, 360), Canvas(360, 640)
TRAVEL_PX = 168
SCENES = {**SCENES_WATER, **SCENES_MEADOW}
CONTRAST_MIN = 3.0
"""For large text (WCAG 2.2, success criterion 1.4.3)."""


def drawn(name: str) -> tuple[Canvas, Artwork]:
    canvas = LANDSCAPE if name in SCENES_WATER else PORTRAIT
    return canvas, artwork(SCENES[name], canvas, TRAVEL_PX)


def luminance(colour: str) -> float:
    """Relative luminance, as WCAG 2.2 defines it."""
    shares = [value / 255 for value in ImageColor.getrgb(colour)[:3]]
    linear = [s / 12.92 if s <= 0.04045 else ((s + 0.055) / 1.055) ** 2.4 for s in shares]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


@pytest.mark.parametrize("name", SCENES)
def test_the_words_stand_out_from_the_ground_and_from_its_pattern(name: str) -> None:
    scene = SCENES[name]
    assert contrast(scene.ink, scene.ground) >= CONTRAST_MIN
    assert contrast(scene.ink, scene.pattern_colour) >= CONTRAST_MIN * 0.8


@pytest.mark.parametrize("name", SCENES)
def test_the_title_and_the_line_have_ink_within_the_canvas_and_not_on_the_disc(name: str) -> None:
    canvas, parts = drawn(name)
    disc = parts.layers["disc"]
    for layer in ("title", "line"):
        part = parts.layers[layer]
        box = part.image.getchannel("A").getbbox()
        assert box is not None
        assert box[1] > 0, "the letters are cut off above"
        assert box[3] < part.image.height, "the letters are cut off below"
        left, top, right, bottom = part.x + box[0], part.y + box[1], part.x + box[2], part.y + box[3]
        assert left >= 0
        assert top >= 0
        assert right <= (canvas.width_px if canvas.is_upright else disc.x)
        assert bottom <= (disc.y if canvas.is_upright else parts.layers["hill"].y)


@pytest.mark.parametrize("name", SCENES)
def test_a_title_can_be_read_from_afar(name: str) -> None:
    """Its capitals take at least a sixteenth of the longer side of the picture."""
    canvas, parts = drawn(name)
    box = parts.layers["title"].image.getchannel("A").getbbox()
    assert box is not None
    line_px = (box[3] - box[1]) / len(SCENES[name].title)
    assert line_px >= max(canvas.width_px, canvas.height_px) / 16


@pytest.mark.parametrize("name", SCENES)
def test_the_ground_repeats_so_that_it_can_roll_for_ever(name: str) -> None:
    canvas, parts = drawn(name)
    ground = np.asarray(parts.ground.image)
    assert ground.shape == (canvas.height_px + TRAVEL_PX, canvas.width_px, 3)
    assert np.array_equal(ground[TRAVEL_PX:], ground[: canvas.height_px])
    assert len(np.unique(ground.reshape(-1, 3), axis=0)) > 1


@pytest.mark.parametrize("name", ["drizzle", "bees"])
def test_sides_and_places_are_even_for_colour_at_half_resolution(name: str) -> None:
    _, parts = drawn(name)
    odd = [
        layer
        for layer, part in parts.layers.items()
        if any(number % 2 for number in (*part.image.size, part.x, part.y))
    ]
    assert odd == []


def test_what_is_transparent_has_the_colour_of_the_ground() -> None:
    _, parts = drawn("drizzle")
    title = np.asarray(parts.layers["title"].image)
    hidden = np.unique(title[title[:, :, 3] == 0][:, :3], axis=0)
    assert [tuple(colour) for colour in hidden] == [ImageColor.getrgb(SCENES["drizzle"].ground)]


def test_the_bottom_of_the_hill_is_soil_with_the_name_of_the_chain_on_it() -> None:
    hill = drawn("drizzle")[1].layers["hill"].image.convert("RGB")
    soil = ImageColor.getrgb(SOIL)
    bottom = hill.crop((0, hill.height - 4, hill.width, hill.height))
    assert [colour for _, colour in bottom.getcolors() or []] == [soil]
    sign = np.asarray(hill.crop((hill.width // 8, hill.height // 2, hill.width // 3, hill.height)))
    assert (sign.min(axis=2) > 180).mean() > 0.02


def test_the_faces_can_be_told_apart_by_colour_at_a_glance() -> None:
    """Water is blue or green on every scene, the meadow never is."""

    def cold(scene: Scene) -> bool:
        red, _, blue = ImageColor.getrgb(scene.ground)[:3]
        return blue > red

    assert {cold(scene) for scene in SCENES_WATER.values()} == {True}
    assert {cold(scene) for scene in SCENES_MEADOW.values()} == {False}
    assert {scene.product for scene in SCENES_WATER.values()} == {WATERING}
    assert {scene.product for scene in SCENES_MEADOW.values()} == {MEADOW}


@pytest.mark.parametrize("name", MOTIFS)
def test_a_motif_is_seen_and_keeps_within_its_square(name: str) -> None:
    pen = Sketch(200, 200)
    MOTIFS[name](pen)
    alpha = np.asarray(pen.finished().getchannel("A"))
    assert (alpha > 128).mean() > 0.08
    border = np.concatenate([alpha[0], alpha[-1], alpha[:, 0], alpha[:, -1]])
    assert (border > 128).sum() == 0


def test_every_scene_has_its_own_title_motif_and_ground() -> None:
    scenes = list(SCENES.values())
    assert len({scene.title for scene in scenes}) == len(scenes)
    assert len({scene.ground for scene in scenes}) == len(scenes)
    assert len({scene.motif for scene in scenes}) == len(scenes)


def test_the_font_has_the_letters_of_the_titles() -> None:
    """The letter ü is drawn, not the box that stands for a missing one."""
    from mediacheck.demo.artwork import _font

    def image_of(letter: str) -> bytes:
        image = Image.new("L", (60, 60))
        ImageDraw.Draw(image).text((5, 50), letter, 255, _font("bold", 40), anchor="ls")
        return image.tobytes()

    assert image_of("ü") not in {image_of("\U0010fffd"), image_of("u")}
