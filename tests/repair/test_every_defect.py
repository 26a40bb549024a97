"""Each defect that can be mended is: by the least change, to a full check without a finding, as other
programs see it too."""

from __future__ import annotations

from pathlib import Path

import pytest

from mediacheck.repair.causes import WITH_BARS, WITH_ENDS, WITH_FIT
from tests.repair import seen_by_others
from tests.repair.bench import fixed, hashes
from tests.repair.case import Case
from tests.repair.defects import CASES
from tests.repair.seen_by_others import Programs


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_it_is_mended(case: Case, ffmpeg: str, ffprobe: str, tmp_path: Path) -> None:
    source, out = tmp_path / "masters", tmp_path / "ready"
    source.mkdir()
    case.make(source)
    before = hashes(source)
    found = fixed(source, out, case.profile, case.wishes)
    broken = [finding for finding in found.planned.before.findings if finding.rule == case.rule]
    assert broken
    asks_for_a_wish = case.rule in WITH_BARS | WITH_ENDS | WITH_FIT
    assert all(finding.fixable != asks_for_a_wish for finding in broken)
    assert hashes(source) == before, "a source is only read"
    assert found.after is not None
    assert [(f.rule, f.message) for f in found.after.findings if f.rule not in case.remains] == []
    assert found.verdict == ("warn" if case.remains else "pass")
    assert [(r.item.path, r.item.change) for r in found.results] == [(case.path, case.change)]
    assert list(hashes(out)) == [case.path]
    seen_by_others.holds(out / str(case.path), case.profile, case.change, Programs(ffmpeg, ffprobe))


def test_there_are_enough_of_them() -> None:
    assert len(CASES) >= 50
    assert len({case.name for case in CASES}) == len(CASES)
