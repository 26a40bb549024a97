"""One family of exceptions; each class knows its exit code and its advice.

It must not import anything of mediacheck: every other room stands on it.
"""


class MediacheckError(Exception):
    """A failure that a person can be told in one sentence (`str(error)`).

    MediacheckError
    ├── WrongUse            2   what was asked for cannot be done as asked
    │   ├── ProfileError    2   a profile that cannot be used
    │   │   └── DisplayError 2  a display file that cannot be used
    │   ├── ManifestError   2   a manifest that cannot be used
    │   ├── RolloutError    2   a plan of many stores that cannot be used
    │   ├── LibraryError    2   a library of loops that cannot be used, or has nothing to compare with
    │   ├── LedgerError     2   a ledger of many stores that cannot be opened, or has not what was asked for
    │   ├── CardError       2   no card there, or one that cannot be listed
    │   ├── ClusterError    2   a cluster that cannot be used for this work
    │   └── OutputError     2   a result that cannot be written where it was wanted
    ├── ProgramError       70   an outside program is missing or failed in an unexpected way
    └── WorkerError        70   an inspection process failed
        ├── WorkerDied     70   it crashed
        └── WorkerTooSlow  70   it went over its time limit and was ended
    """

    exit_code = 70
    advice = "Please report this, with the command that was run and what it printed with --debug."


class WrongUse(MediacheckError):
    """Something in the call: an option, a path, a file that people write."""

    exit_code = 2
    advice = "See `mediacheck --help`."


class ProfileError(WrongUse):
    """A profile that is missing or does not validate."""

    advice = "See `mediacheck profile list` and `mediacheck profile validate FILE`."


class DisplayError(ProfileError):
    """A display file that is missing or does not validate, or that has not the face that was asked for."""

    advice = "A display file lists faces, each with name and profile; docs/display.schema.json has all keys."


class ManifestError(WrongUse):
    """A manifest or a list of checksums that is missing or cannot be used."""

    advice = "Give the manifest that was written beside the card's image, or a list made by `sha256sum`."


class RolloutError(WrongUse):
    """A rollout, or a table of stores, that is missing or does not validate."""

    advice = "Many stores go into a table (CSV). All keys of a rollout: docs/rollout.schema.json."


class LedgerError(WrongUse):
    """The ledger of many stores cannot be opened, or has not what was asked for."""

    advice = "Give the ledger with --ledger: a file, or the address of a PostgreSQL database."


class LibraryError(WrongUse):
    """A library of loops that is missing, damaged or empty."""

    advice = "Make one with `mediacheck identify --index FOLDER --library LIBRARY`."


class CardError(WrongUse):
    """There is no card at the path, or it cannot be read."""

    advice = "Give a folder, a mounted drive, a raw device or the image of a card."


class ClusterError(WrongUse):
    """A cluster that is not there, is not set up for this work, or was lost in the middle of it."""

    advice = "See that its scheduler and workers run, then run it again: what is done is kept."


class OutputError(WrongUse):
    """A report, sheet or folder that cannot be written."""

    advice = "Choose a place that you may write to."


class ProgramError(MediacheckError):
    """An outside program is missing, too old, or ended in a way that was not foreseen."""

    advice = "Run `mediacheck --version` to see which programs and libraries are in use."


class WorkerError(MediacheckError):
    """The process that inspected one file did not give an answer."""


class WorkerDied(WorkerError):
    """The process ended by itself, as when a decoder crashes."""


class WorkerTooSlow(WorkerError):
    """The process went over its time limit and was ended."""
