"""Lists of checksums as GNU sha256sum writes and checks them: one line for each file.

It must not work out a checksum.

Coreutils, src/digest.c: 64 hexadecimal digits, a space, a space or an asterisk, and the name. Where the name
holds a backslash, a line feed or a carriage return, the line starts with a backslash and they are escaped.
With --zero, lines end in a null byte and nothing is escaped.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator

from mediacheck.errors import ManifestError
from mediacheck.manifest.paths import refusal, shown

ESCAPES = {"\\": "\\\\", "\n": "\\n", "\r": "\\r"}
MEANT = {written: letter for letter, written in ESCAPES.items()}

_GNU = re.compile(r"[ \t]*(\\?)([0-9A-Fa-f]{64}) [ *](.+)", re.DOTALL)
_BSD = re.compile(r"[ \t]*(\\?)SHA256 \((.+)\) = ([0-9A-Fa-f]{64})", re.DOTALL)
_OTHER = re.compile(
    r"[ \t]*\\?(?:([0-9A-Fa-f]{32,128}) [ *].+|[A-Z0-9-]+ \(.+\) = ([0-9A-Fa-f]{32,128}))", re.DOTALL
)
OTHER_DIGITS = {32: "MD5", 40: "SHA-1", 56: "SHA-224", 96: "SHA-384", 128: "SHA-512"}
PIPED = "-"
"""The name that sha256sum gives to what came through a pipe."""


def sums_text(pairs: Iterable[tuple[str, str]]) -> str:
    """A list that `sha256sum -c` accepts, of pairs of path and SHA-256, in their order."""
    return "".join(_line(path, sha256) for path, sha256 in pairs)


def sums_of(content: bytes, source: str) -> tuple[tuple[str, str], ...]:
    """Pairs of path and SHA-256 from a list; paths without the "./" that `find` puts before them.

    ManifestError with `source`, the name of the list: a line that is none, a path that is not below the
    folder where the list belongs, or one that stands twice.
    """
    found: dict[str, str] = {}
    for number, line in _lines(content):
        pair = _pair(line)
        if pair is None:
            raise _no_list(source, number, line)
        name, sha256 = pair
        if name == PIPED:
            raise _unusable(f"{source} cannot be used: line {number} tells no file's name")
        path = name.removeprefix("./")
        wrong = refusal(path) or ("it stands there twice" if path in found else None)
        if wrong:
            raise _unusable(f"{source} cannot be used: line {number} names {shown(path)}, but {wrong}")
        found[path] = sha256
    if not found:
        raise ManifestError(f"{source} is no manifest and no list of SHA-256: there is nothing in it")
    return tuple(found.items())


def _line(path: str, sha256: str) -> str:
    named = f"./{path}" if path == PIPED else path
    escaped = "".join(ESCAPES.get(letter, letter) for letter in named)
    mark = "" if escaped == named else "\\"
    return f"{mark}{sha256}  {escaped}\n"


def _no_list(source: str, number: int, line: str) -> ManifestError:
    other = _OTHER.fullmatch(line)
    kind = OTHER_DIGITS.get(len(other[1] or other[2])) if other else None
    if kind:
        return _unusable(f"{source} is a list of {kind}, and SHA-256 is needed")
    return ManifestError(f"{source} is no manifest and no list of SHA-256: see line {number}")


def _unusable(sentence: str) -> ManifestError:
    error = ManifestError(sentence)
    error.advice = (
        "Make the list with `sha256sum` in the folder of the files, of their names as they are there."
    )
    return error


def _lines(content: bytes) -> Iterator[tuple[int, str]]:
    """Lines that say something, by number; what is not Unicode in them as in `card.folder.printable`."""
    text = content.removeprefix(b"\xef\xbb\xbf").decode("utf-8", "backslashreplace")
    end = "\0" if "\0" in text else "\n"
    for number, line in enumerate(text.split(end), 1):
        # A carriage return is from a list that was made or edited on Windows.
        told = line.removesuffix("\r") if end == "\n" else line
        if told and not told.startswith("#"):
            yield number, told


def _pair(line: str) -> tuple[str, str] | None:
    gnu, bsd = _GNU.fullmatch(line), _BSD.fullmatch(line)
    if gnu:
        escaped, sha256, name = gnu.groups()
    elif bsd:
        escaped, name, sha256 = bsd.groups()
    else:
        return None
    path = re.sub(r"\\[\\nr]", lambda found: MEANT[found[0]], name) if escaped else name
    return path, sha256.lower()
