"""The example name fits the profile, or there is none."""

from __future__ import annotations

import pytest

from mediacheck.encoding.naming import example_name
from mediacheck.profile import Layout


@pytest.mark.parametrize(
    ("layout", "expected"),
    [
        ({}, "01-item.mp4"),
        ({"name_length_max": 7}, "01.mp4"),
        ({"name_pattern": r"[0-9]{3}\.mp4"}, "001.mp4"),
        ({"name_pattern": r"[A-Z0-9]{1,8}\.MP4"}, "01.MP4"),
        ({"name_pattern": r"video_\d+\.mp4"}, None),
        ({"name_length_max": 3}, None),
    ],
)
def test_example(layout: dict[str, object], expected: str | None) -> None:
    assert example_name(Layout.model_validate(layout), ".mp4") == expected
