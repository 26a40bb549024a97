"""Has the system forget what it keeps of a file or device in memory, so that the medium itself is read.

It must not say that this is so where it was not seen: what cannot be proven is False.
"""

from __future__ import annotations

import ctypes
import errno
import mmap
import os
import stat
import sys
from collections.abc import Callable, Sequence
from contextlib import suppress
from functools import cache
from pathlib import Path

F_NOCACHE = 48
"""macOS, sys/fcntl.h: keep nothing of what is read through this descriptor (from memory)."""
KEPT_BY_LINUX_ALONE = frozenset(
    {"vfat", "msdos", "exfat", "ntfs3", "ext2", "ext3", "ext4", "xfs", "btrfs", "f2fs", "hfsplus", "udf"}
)
"""File systems that read a device and keep nothing of its files anywhere but in the kernel's pages (common
practice, no source). Others, such as shares in a network, or ntfs-3g, which is a program, have memory of
their own, of which nobody is told."""
LOOP_MAJOR = 7
"""Linux, devices.txt: a loop device reads a file, whose pages are kept in memory apart from its own."""
LOWEST_BIT = bytes(number & 1 for number in range(256))
STRETCH_BYTES = 1 << 30
"""As much as is asked about at once: one answer byte for each page, so 256 KiB."""
SAMPLES = 64
"""How many places are tried where the whole cannot be asked about."""


def forget(descriptor: int, size_bytes: int) -> bool:
    """Have the system forget what it keeps of this opened file or device. True: that is proven.

    What waits to be written is written first. Never raises: where the system refuses, the answer is False.
    False also means that the medium may well be what is read next, only that nobody can say so.
    """
    with suppress(OSError, ValueError):  # mmap: ValueError where there are fewer bytes
        if sys.platform == "linux":
            return _forgotten_by_linux(descriptor, size_bytes)
        elif sys.platform == "darwin":  # noqa: RET505  # so that a check of types for one system leaves this out
            return _forgotten_by_macos(descriptor)
    return False


def is_all_forgotten(pages: Callable[[int, int], Sequence[int]], size_bytes: int) -> bool | None:
    """Whether no page of so many bytes is kept, by what `pages` tells of a stretch (offset, length).

    None: every page is said to be kept, which Linux also says to those who may not know (mincore(2)).
    """
    any_kept = any_free = False
    for offset in range(0, size_bytes, STRETCH_BYTES):
        told = pages(offset, min(STRETCH_BYTES, size_bytes - offset))
        any_kept |= 1 in told
        any_free |= 0 in told
    if any_kept and not any_free:
        return None
    return not any_kept


if sys.platform == "linux":

    def _forgotten_by_linux(descriptor: int, size_bytes: int) -> bool:
        with suppress(OSError):  # a descriptor that cannot be written to has nothing to write
            os.fdatasync(descriptor)
        os.posix_fadvise(descriptor, 0, 0, os.POSIX_FADV_DONTNEED)
        if not _is_kept_by_linux_alone(descriptor):
            return False
        found = is_all_forgotten(lambda offset, length: _kept_pages(descriptor, offset, length), size_bytes)
        return _is_forgotten_in_samples(descriptor, size_bytes) if found is None else found

    def _is_kept_by_linux_alone(descriptor: int) -> bool:
        status = os.fstat(descriptor)
        if stat.S_ISBLK(status.st_mode):
            return os.major(status.st_rdev) != LOOP_MAJOR
        if not stat.S_ISREG(status.st_mode) or os.major(status.st_dev) == LOOP_MAJOR:
            return False
        kind, _, source = (_mounted_as(descriptor) or "").partition(" ")
        return kind in KEPT_BY_LINUX_ALONE and not source.startswith("/dev/loop")

    def _mounted_as(descriptor: int) -> str | None:
        """The system's name for the file system, and its device: proc(5), fdinfo and mountinfo.

        Btrfs has no device of its own in `st_dev`.
        """
        lines = Path(f"/proc/self/fdinfo/{descriptor}").read_text("ascii").splitlines()
        number = next((line.split()[1] for line in lines if line.startswith("mnt_id:")), None)
        return _type_of_mount(number) if number else None

    @cache
    def _type_of_mount(number: str) -> str | None:
        for line in Path("/proc/self/mountinfo").read_bytes().decode("utf-8", "replace").splitlines():
            if line.startswith(f"{number} "):
                return " ".join(line.partition(" - ")[2].split(" ")[:2])
        return None

    @cache
    def _mincore() -> Callable[..., int]:
        library = ctypes.CDLL(None, use_errno=True)
        found: Callable[..., int] = library.mincore
        library.mincore.argtypes = (ctypes.c_void_p, ctypes.c_size_t, ctypes.c_void_p)
        return found

    def _kept_pages(descriptor: int, offset: int, length: int) -> bytearray:
        """mincore(2): 1 for each page that is in memory, 0 for the others. Raises OSError."""
        # Private and writable, because ctypes takes no address of what is read-only. Nothing is written.
        flags, rights = mmap.MAP_PRIVATE, mmap.PROT_READ | mmap.PROT_WRITE
        with mmap.mmap(descriptor, length, flags=flags, prot=rights, offset=offset) as seen:
            answer = bytearray(-(-length // mmap.PAGESIZE))
            begin = ctypes.c_char.from_buffer(seen)
            place = (ctypes.c_char * len(answer)).from_buffer(answer)
            refused = _mincore()(ctypes.addressof(begin), length, ctypes.addressof(place))
            del begin, place  # or the two could not be closed
        if refused:
            raise OSError(ctypes.get_errno(), "mincore")
        return answer.translate(LOWEST_BIT)  # the others are reserved

    def _is_forgotten_in_samples(descriptor: int, size_bytes: int) -> bool:
        """preadv2(2), RWF_NOWAIT: what is not in memory is refused with EAGAIN."""
        pages = -(-size_bytes // mmap.PAGESIZE)
        places = sorted({number * (pages - 1) // max(SAMPLES - 1, 1) for number in range(SAMPLES)})
        os.posix_fadvise(descriptor, 0, 0, os.POSIX_FADV_RANDOM)  # or each would have its neighbours read
        try:
            return all(_is_not_kept(descriptor, page * mmap.PAGESIZE) for page in places)
        finally:
            os.posix_fadvise(descriptor, 0, 0, os.POSIX_FADV_NORMAL)

    def _is_not_kept(descriptor: int, offset: int) -> bool:
        try:
            os.preadv(descriptor, [bytearray(1)], offset, os.RWF_NOWAIT)
        except OSError as error:
            return error.errno == errno.EAGAIN  # others: it cannot be asked here
        return False


if sys.platform == "darwin":

    def _forgotten_by_macos(descriptor: int) -> bool:
        """What is in memory already stays there, so that only a raw device (/dev/rdisk4), which macOS keeps
        nothing of, is proven (from memory)."""
        import fcntl

        fcntl.fcntl(descriptor, F_NOCACHE, 1)
        return stat.S_ISCHR(os.fstat(descriptor).st_mode)
