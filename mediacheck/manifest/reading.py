"""The bytes of a manifest or a list of checksums, from a file that may be anything.

It must not know what they mean.
"""

from __future__ import annotations

import codecs
import errno
import stat
from pathlib import Path

from mediacheck.errors import ManifestError

SIZE_MAX_BYTES = 256 << 20
"""Far above a manifest of the 140,000 files that a card is read to at most."""

REASONS = {
    errno.ENOENT: "there is nothing of that name",
    errno.ENOTDIR: "there is nothing of that name",
    errno.EACCES: "you may not read it",
    errno.EPERM: "you may not read it",
    errno.EISDIR: "it is a folder",
}


def manifest_bytes(path: Path) -> bytes:
    """All of the file. ManifestError: it cannot be read, or is too large to be a list of files."""
    try:
        status = path.stat()
        if stat.S_ISDIR(status.st_mode):
            raise IsADirectoryError(errno.EISDIR, "")
        if not stat.S_ISREG(status.st_mode):
            raise ManifestError(f"the manifest {path} cannot be read: it is a device or pipe, not a file")
        if status.st_size > SIZE_MAX_BYTES:
            raise ManifestError(f"{path} is no manifest: it is too large to be one")
        return as_utf8(path.read_bytes())
    except (OSError, ValueError) as error:
        known = REASONS.get(error.errno or 0) if isinstance(error, OSError) else None
        reason = known or getattr(error, "strerror", None) or str(error)
        raise ManifestError(f"the manifest {path} cannot be read: {reason}") from error


def as_utf8(content: bytes) -> bytes:
    """What PowerShell of Windows puts into a file with ">" is UTF-16 (about_Redirection, version 5.1)."""
    if content.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        return content.decode("utf-16", "replace").encode("utf-8")
    return content
