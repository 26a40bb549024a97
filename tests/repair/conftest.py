"""Fixtures of several tests of repairs.

It must not repair anything.
"""

from __future__ import annotations

from pathlib import Path

import pytest


@pytest.fixture
def empty_cache(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """What one test has converted and measured is not known to the next."""
    monkeypatch.setenv("MEDIACHECK_CACHE", str(tmp_path / "cache"))
    return tmp_path / "cache"
