"""A program that ends at once while its child goes on and holds its pipes open."""

import subprocess
import sys

subprocess.Popen([sys.executable, "-c", "import time; time.sleep(60)"])
