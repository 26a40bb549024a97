"""Small forms of the demo for its tests: the same recipes, less of them."""

from __future__ import annotations

from dataclasses import replace

from mediacheck.demo.cards import DemoFace, Planned
from mediacheck.demo.clips import Clip, Flaw
from mediacheck.demo.scenes import SCENES_MEADOW, SCENES_WATER


def small_clip(flaw: Flaw | None = None, *, upright: bool = False) -> Clip:
    """One second on a ninth of the usual size."""
    scene = SCENES_MEADOW["meadow"] if upright else SCENES_WATER["drizzle"]
    return Clip(scene, 1, 640, 360, upright=upright, flaw=flaw)


def small_face() -> DemoFace:
    """A card with two small clips, one of them in a folder."""
    items = (Planned("01-a.mp4", small_clip()), Planned("new/02-b.mp4", small_clip()))
    return DemoFace("small side", "card-small", "basic-1080p", items)


def short(face: DemoFace, seconds: int) -> DemoFace:
    """The face with clips of the full size that take less time to make."""
    items = tuple(replace(item, clip=replace(item.clip, seconds=seconds)) for item in face.items)
    return replace(face, items=items)
