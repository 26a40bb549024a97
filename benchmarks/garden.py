"""The profile that masters are mended for, in the size of a benchmark.

It must not measure.
"""

from __future__ import annotations

_PROFILE = """
id: garden
title: Garden display
video:
  containers: [MP4]
  codecs: {{H.264: {{profiles: [Main, High], level_max: 4.1}}}}
  width: {width}
  height: {height}
  frame_rates: [25, 30]
  bit_rate_max: 20000000
"""


def garden(size: str) -> str:
    """As YAML. `size`: such as 1280x720."""
    width, _, height = size.partition("x")
    return _PROFILE.format(width=width, height=height)
