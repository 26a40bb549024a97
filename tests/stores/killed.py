"""Adding that is killed at random moments: what was confirmed is there, and nothing is there by half.

python -m tests.stores.killed 200
"""

from __future__ import annotations

import os
import random
import signal
import subprocess
import sys
import tempfile
import time
from datetime import timedelta
from pathlib import Path

from mediacheck.stores.ledger import Ledger
from mediacheck.stores.opening import open_ledger
from tests.stores.made import NOW, PLAN, WATER, packed, report

SEED = 7
FILES = 750
"""Sent before each kill: three confirmations."""
BLOCK = 10
LIMIT_S = 60.0


def prepared(folder: Path, number: int) -> Path:
    """New files to add."""
    sent = folder / f"sent{number:03}"
    sent.mkdir()
    for place in range(FILES):
        record = report("water-2", face=WATER, at=NOW - timedelta(days=number, minutes=place))
        (sent / f"0117_aisle side {number:03} {place:05}.json").write_bytes(packed(record))
    return sent


def one_kill(sent: Path, place: str, after_s: float) -> set[str]:
    """Add, and be killed so long after the first file is confirmed; names of all that were confirmed."""
    command = [sys.executable, "-m", "mediacheck", "stores", "add", str(sent), "--list", "--ledger", place]
    with subprocess.Popen(
        command, stdout=subprocess.PIPE, env={**os.environ, "PYTHONUNBUFFERED": "1"}
    ) as running:
        assert running.stdout is not None
        time.sleep(after_s)
        running.send_signal(signal.SIGKILL)
        told = running.stdout.read().decode()
    lines = told.split("\n")[:-1]  # a line that breaks off was not told
    return {Path(line).name for line in lines if line.startswith(str(sent))}


def demand_whole(ledger: Ledger, confirmed: set[str]) -> int:
    """Every confirmed file is there, and every file that is there can be read. How many there are."""
    history = ledger.history("0117")
    names = {name for _, name, _ in history}
    assert confirmed <= names, f"lost: {sorted(confirmed - names)[:3]}"
    for evidence, _, _ in history:
        assert ledger.document(evidence.document).content
    return len(history)


def sweep(kills: int, place: str, folder: Path, seed: int = SEED) -> int:
    """So many runs, each with new files and killed somewhere; then all are added. How many files."""
    ledger = open_ledger(place, create=True)
    ledger.put_plan(PLAN)
    chance, confirmed = random.Random(seed), set[str]()
    for number in range(kills):
        sent = prepared(folder, number)
        confirmed |= one_kill(sent, place, chance.uniform(0.4, 1.4))
        demand_whole(ledger, confirmed)
    command = [sys.executable, "-m", "mediacheck", "stores", "add", str(folder), "--ledger", place]
    subprocess.run(command, check=True, timeout=LIMIT_S + kills, stdout=subprocess.DEVNULL)
    found = demand_whole(ledger, confirmed)
    ledger.close()
    return found


def sweeps(kills: int) -> int:
    """The same with a new ledger after each `BLOCK` kills: all of it is read after every kill."""
    files = 0
    for number in range(-(-kills // BLOCK)):
        with tempfile.TemporaryDirectory() as name:
            sent = Path(name) / "sent"
            sent.mkdir()
            files += sweep(
                min(BLOCK, kills - number * BLOCK), str(Path(name) / "stores.ledger"), sent, number
            )
    return files


if __name__ == "__main__":
    count = sweeps(int(sys.argv[1]))
    print(f"{sys.argv[1]} kills: every confirmed file is there and whole; {count} files in all")
