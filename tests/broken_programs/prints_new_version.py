"""Not broken: an ffmpeg that is new enough, to show that the others are refused for what they do."""

print("ffmpeg version 6.0 Copyright (c) 2000-2023 the FFmpeg developers")
print("libavutil      58.  2.100 / 58.  2.100")
