"""Where the program starts; kept light, since each worker process imports it again."""

import gc
import sys


def main() -> None:
    """Run the command line and leave with its exit code."""
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


if __name__ == "__main__":
    main()
