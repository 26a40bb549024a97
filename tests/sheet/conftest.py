"""What the tests of the sheet room share: an ear for the words that are drawn."""

from __future__ import annotations

import pytest

from mediacheck.paper.png import PngCanvas


@pytest.fixture
def drawn(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """All words that go onto the page, in the order of drawing."""
    words: list[str] = []
    draw = PngCanvas.text

    def noted(*given: object, **more: object) -> None:
        words.append(str(given[2]))
        draw(*given, **more)  # type: ignore[arg-type]

    monkeypatch.setattr(PngCanvas, "text", noted)
    return words
