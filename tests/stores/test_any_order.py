"""In whichever order reports come, and however often: the same ledger tells the same status."""

from __future__ import annotations

import tempfile
from datetime import timedelta
from pathlib import Path
from typing import Any

from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import Bundle, RuleBasedStateMachine, initialize, invariant, rule

from mediacheck.stores.adding import add
from mediacheck.stores.opening import open_ledger
from mediacheck.stores.record import as_record
from mediacheck.stores.status import Wanted, status_of
from tests.stores.made import NOW, PLAN, SEEDS, WATER, identification, packed, report

CONTENTS = (("water-1",), ("water-2",), ("seeds-1", "seeds-still"), ("unknown",))
FINDINGS = (("video-codec", "fail", "It is skipped."), ("video-gop", "warn", "It jumps."))
Sent = tuple[str, bytes]


def sent(store: str, face: str, names: tuple[str, ...], hours: int, findings: int) -> Sent:
    some = FINDINGS[:findings]
    verdict = "fail" if findings else "pass"
    record = report(*names, face=face, at=NOW - timedelta(hours=hours), verdict=verdict, findings=some)
    return f"{store}_{face}.json", packed(record)


class Ledgers(RuleBasedStateMachine):
    """Two ledgers that are sent the same files in other orders."""

    files = Bundle("files")

    @initialize()
    def begin(self) -> None:
        self.folder = tempfile.TemporaryDirectory()
        self.first = open_ledger(str(Path(self.folder.name) / "first.ledger"), create=True)
        self.second = open_ledger(str(Path(self.folder.name) / "second.ledger"), create=True)
        self.first.put_plan(PLAN)
        self.second.put_plan(PLAN)
        self.waiting: list[Sent] = []

    @rule(
        target=files,
        store=st.sampled_from(["0117", "0118"]),
        face=st.sampled_from([WATER, SEEDS]),
        names=st.sampled_from(CONTENTS),
        hours=st.integers(0, 300),
        findings=st.integers(0, 2),
    )
    def report_comes(self, **told: Any) -> Sent:
        return self._took(sent(**told))

    @rule(
        target=files,
        answer=st.sampled_from(["match", "other version", "one of", "none", "retake"]),
        face=st.sampled_from([WATER, SEEDS]),
        hours=st.integers(0, 300),
    )
    def photo_is_recognised(self, answer: str, face: str, hours: int) -> Sent:
        record = identification(answer, at=NOW - timedelta(hours=hours), face=face, version="1")
        return self._took((f"0117_{WATER}.json", packed(record)))

    @rule(file=files)
    def comes_again(self, file: Sent) -> None:
        self._add(self.first, file)

    @rule(reverse=st.booleans())
    def the_other_catches_up(self, reverse: bool) -> None:
        for file in reversed(self.waiting) if reverse else self.waiting:
            self._add(self.second, file)
        self.waiting = []

    @invariant()
    def the_same_is_told(self) -> None:
        if not hasattr(self, "waiting") or self.waiting:
            return
        told = [as_record(status_of(one, Wanted(), NOW)) for one in (self.first, self.second)]
        assert told[0] == told[1]
        totals = told[0]["totals"]
        assert isinstance(totals, dict)
        assert sum(totals.values()) == 6

    def _took(self, file: Sent) -> Sent:
        self._add(self.first, file)
        self.waiting.append(file)
        return file

    def _add(self, ledger: Any, file: Sent) -> None:
        with tempfile.TemporaryDirectory() as name:
            place = Path(name) / file[0]
            place.write_bytes(file[1])
            assert add(ledger, [place], now=NOW).refused == ()

    def teardown(self) -> None:
        if hasattr(self, "folder"):
            self.first.close()
            self.second.close()
            self.folder.cleanup()


TestLedgers = Ledgers.TestCase
TestLedgers.settings = settings(max_examples=25, stateful_step_count=15, deadline=None)
