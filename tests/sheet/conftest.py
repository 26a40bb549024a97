"""What the tests of the sheet room share: an ear for the words that are drawn."""

from __future__ import annotations

import pytest

from mediacheck.sheet.text import draw


@pytest.fixture
def drawn(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """All words that go onto the page, in the order of drawing."""
    words: list[str] = []

    def noted(*given: object, **more: object) -> int:
        words.append(str(given[2]))
        return draw(*given, **more)  # type: ignore[arg-type]

    for room in ("contact", "heading", "item_view"):
        monkeypatch.setattr(f"mediacheck.sheet.{room}.draw", noted)
    return words
