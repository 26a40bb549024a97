"""A program that crashes as a decoder does: it touches memory that is not its own."""

import os
import signal

os.kill(os.getpid(), signal.SIGSEGV)
