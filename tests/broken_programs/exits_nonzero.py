"""A program that complains and ends with exit code 7."""

import sys

print("something came out first", flush=True)
print("clip.mp4: no such stream", file=sys.stderr)
sys.exit(7)
