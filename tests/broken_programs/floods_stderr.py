"""A program that complains without end of lines for 8 MB, then in 5000 lines, and then ends well."""

import sys

for _ in range(8):
    sys.stderr.write("x" * 1_000_000)
for number in range(5000):
    print(f"\rerror in frame {number}", file=sys.stderr)
print("done")
