"""What the manifest says of a card that was built although its check failed."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from pathlib import Path

from mediacheck.build.record import manifest_of
from mediacheck.names import VerdictWord
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


def test_a_card_that_passed_its_check_was_not_built_in_spite_of_it(tmp_path: Path) -> None:
    plan = made.planned(made.folder_of(tmp_path))
    verdicts: tuple[VerdictWord, ...] = ("pass", "warn", "fail", "incomplete")
    reports = [replace(plan.report, verdict=verdict) for verdict in verdicts]
    asked = [manifest_of(report, plan.content, True, None).even_so for report in reports]
    not_asked = [manifest_of(report, plan.content, False, None).even_so for report in reports]
    assert (asked, not_asked) == ([False, False, True, True], [False] * 4)
