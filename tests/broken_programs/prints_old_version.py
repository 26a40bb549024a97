"""An ffmpeg that works and is too old."""

print("ffmpeg version 4.4.2-0ubuntu0.22.04.1 Copyright (c) 2000-2021 the FFmpeg developers")
print("libavutil      56. 70.100 / 56. 70.100")
