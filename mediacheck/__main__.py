"""Where the program starts; kept light, since each worker process imports it again."""

import gc
import os
import sys

# What is made while libraries load stays; looking through it time and again takes a twentieth of a start.
gc.set_threshold(100_000, 10, 10)


def main() -> None:
    """Run the command line and leave with its exit code."""
    _fill_closed_streams()
    # Plugins of other packages would see what we read, and to look for them takes longer than to read it.
    os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "__all__")
    try:
        from mediacheck.early import begin

        begin(sys.argv[1:])
        from mediacheck.cli.app import run

        code = run(sys.argv[1:])
    except KeyboardInterrupt:  # while it was still being loaded
        print("Stopped.", file=sys.stderr)
        code = 130
    gc.freeze()  # Python would look through all that is in memory once more before it ends
    sys.exit(code)


def _fill_closed_streams() -> None:
    """A standard stream that was closed leads nowhere, as a service or `>&-` means it.

    Otherwise its number goes to whatever is opened next: to the pipe of a worker process, which takes it for
    its standard output and closes it, so that good files could not be read.
    """
    for name, mode in (("stdin", "r"), ("stdout", "w"), ("stderr", "w")):  # in the order of their numbers
        if getattr(sys, name) is None:
            # Open as long as the program runs, and before anything else is loaded.
            stream = open(os.devnull, mode, encoding="utf-8")  # noqa: PTH123, SIM115
            if os.name == "posix":
                os.set_inheritable(stream.fileno(), True)  # or it would be free again in a worker process
            setattr(sys, name, stream)


if __name__ == "__main__":
    main()
