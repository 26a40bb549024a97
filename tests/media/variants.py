"""All the clips on which our facts are compared with ffprobe's and with what was asked for.

It must not hold recipes of its own.
"""

from __future__ import annotations

from tests.media.clips_h264_h265 import H264, H265
from tests.media.clips_other import NEWER, OLDER, SOUND

VARIANTS = (*H264, *H265, *OLDER, *NEWER, *SOUND)
BY_NAME = {variant.file_name: variant for variant in VARIANTS}
