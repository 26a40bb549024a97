"""Where the program starts; kept light, since each worker process imports it again."""

import sys


def main() -> None:
    """Run the command line and leave with its exit code."""
    from mediacheck.cli.app import run

    sys.exit(run(sys.argv[1:]))


if __name__ == "__main__":
    main()
