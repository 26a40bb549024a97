"""What the manifest says of a card that was built although its check failed."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from pathlib import Path

from mediacheck.build.record import manifest_of
from mediacheck.report.model import PlayItem
from tests.build import made


def test_what_is_not_on_the_card_is_not_played(tmp_path: Path) -> None:
    plan = made.planned(made.folder_of(tmp_path))
    here = [PlayItem(path, Fraction(3, 2), False) for path in ("02 Watering can.mp4", "01 Seeds.mp4")]
    left_out = PlayItem("a link to nothing.mp4", None, True)
    report = replace(plan.report, items=(here[0], left_out, here[1]), loop_seconds=None)
    manifest = manifest_of(report, plan.content, True, None)
    assert (manifest.play_order, manifest.loop_seconds) == (("02 Watering can.mp4", "01 Seeds.mp4"), 3.0)
    unknown = replace(report, items=(*here, PlayItem("03 Späte Blüte 🌻.mp4", None, False)))
    assert manifest_of(unknown, plan.content, True, None).loop_seconds is None
