"""A program that starts a child, says so, and never ends."""

import subprocess
import sys
import time

child = subprocess.Popen([sys.executable, "-c", "import time; time.sleep(60)"])
print(f"waiting for {child.pid}", file=sys.stderr, flush=True)
time.sleep(60)
