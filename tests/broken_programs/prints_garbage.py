"""A program called ffmpeg that is something else."""

import sys

sys.stdout.buffer.write(bytes(range(256)) * 4)
