"""The command line: which commands there are, and the one place that turns errors into exit codes.

It must not hold any work of its own; heavy libraries are imported by the commands that need them.
"""

from __future__ import annotations

import copy
import errno
import sys
import traceback
from collections.abc import Sequence
from typing import Annotated

import typer

from mediacheck.cli import (
    build,
    capacity,
    check,
    compare,
    demo,
    fix,
    identify,
    profile,
    rules,
    sheet,
    stores,
    trouble,
    verify,
    worksheet,
    write,
)
from mediacheck.cli.pipe import readers_may_leave
from mediacheck.errors import MediacheckError

INTERRUPTED = 130
OUR_MISTAKE = 70

app = typer.Typer(
    no_args_is_help=True,
    add_completion=False,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["-h", "--help"]},
)
app.command("check", epilog=check.EXAMPLE)(check.check_command)
app.command("compare", epilog=compare.EXAMPLE)(compare.compare_command)
app.command("rules", epilog=rules.EXAMPLE)(rules.rules_command)
app.command("fix", epilog=fix.EXAMPLE)(fix.fix_command)
app.command("build", epilog=build.EXAMPLE)(build.build_command)
app.command("verify", epilog=verify.EXAMPLE)(verify.verify_command)
app.command("write", epilog=write.EXAMPLE)(write.write_command)
app.command("capacity", epilog=capacity.EXAMPLE)(capacity.capacity_command)
app.command("worksheet", epilog=worksheet.EXAMPLE)(worksheet.worksheet_command)
app.command("trouble", epilog=trouble.EXAMPLE)(trouble.trouble_command)
app.command("sheet", epilog=sheet.EXAMPLE)(sheet.sheet_command)
app.command("identify", epilog=identify.EXAMPLE)(identify.identify_command)
app.command("demo", epilog=demo.EXAMPLE)(demo.demo_command)
app.add_typer(stores.app, name="stores")
app.add_typer(profile.app, name="profile")


def _print_version(wanted: bool) -> None:
    if wanted:
        from mediacheck.cli.version import version_lines

        typer.echo("\n".join(version_lines()))
        raise typer.Exit


@app.callback(epilog="Example: mediacheck check /media/card --profile basic-1080p")
def _main(
    version: Annotated[
        bool,
        typer.Option(
            "--version", callback=_print_version, is_eager=True, help="Print the versions in use and leave."
        ),
    ] = False,
    debug: Annotated[
        bool, typer.Option("--debug", help="Show the traceback of an error. Works after any command too.")
    ] = False,
) -> None:
    """Tell whether the card of a media player will play, in which order, and if not, why.

    Exit codes: 0 pass, or warnings only; 1 something will not play; 2 wrong use; 3 something could not
    be checked; 70 a mistake of ours; 130 stopped with Ctrl-C.
    """


def run(arguments: Sequence[str]) -> int:
    """Carry out one command line and return its exit code. Errors are one sentence on standard error."""
    debug = "--debug" in arguments
    rest = [argument for argument in arguments if argument != "--debug"]
    try:
        result = None
        with readers_may_leave():
            command = typer.main.get_command(_called(rest))
            result = command.main(args=rest, prog_name="mediacheck", standalone_mode=False)
        if result == INTERRUPTED:  # typer turns Ctrl-C into this code
            raise KeyboardInterrupt
        return result if isinstance(result, int) else 0
    except (KeyboardInterrupt, typer.Abort):
        print("Stopped.", file=sys.stderr)
        return INTERRUPTED
    except Exception as error:
        if debug:
            traceback.print_exc()
        return _told(error)


def _called(arguments: Sequence[str]) -> typer.Typer:
    """The program with the one command that is called, if any: to build all takes longer than to read one."""
    named = [each for each in app.registered_commands if arguments and each.name == arguments[0]]
    if not named:
        return app
    called = copy.copy(app)
    called.registered_commands, called.registered_groups = named, []
    return called


def _told(error: Exception) -> int:
    """Print what a person needs to know of an error, and give its exit code."""
    usage = getattr(error, "format_message", None)
    if usage is not None:  # what typer raises for a wrong command line
        print(f"mediacheck: {usage().replace('Value error, ', '')}", file=sys.stderr)
        return 2
    if isinstance(error, MediacheckError):
        text = str(error)
        between = "\n" if "\n" in text else " " if text.endswith((".", "?", "!")) else ". "
        print(f"mediacheck: {text}{between}{error.advice}".rstrip(), file=sys.stderr)
        return error.exit_code
    if isinstance(error, OSError) and error.errno == errno.ENOSPC:
        print("mediacheck: the answer cannot be printed: the disk is full.", file=sys.stderr)
        return 2
    print(
        f"mediacheck: a mistake of ours: {type(error).__name__}: {error} (run again with --debug)",
        file=sys.stderr,
    )
    return OUR_MISTAKE
