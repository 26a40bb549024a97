"""Writes an image to raw devices, several at once, and proves each by reading it back.

It must not decide what may be written over (`device.guard`) and must not print.

A card becomes usable only at the very end: its first block, where partition table and boot sector lie, is
made empty before anything else is written and is written last, so that no card whose writing was broken off
is taken for a finished one. One that could not be proven is made unusable again.

An image that is smaller than the device leaves old bytes behind its end. They harm only where an old GPT has
its spare copy there, by which systems would find parts that are gone: if the image has no GPT, that copy's
header is made empty (UEFI specification, 5.3.2: it stands in the last sector, its list in the 32 before it).
"""

from __future__ import annotations

import errno
import hashlib
from collections.abc import Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import suppress
from dataclasses import dataclass, field
from threading import Event
from typing import BinaryIO

import numpy as np

from mediacheck.build.fan import BLOCK_BYTES
from mediacheck.build.proven_image import ProvenImage, Stamp, changed, open_image, read_block
from mediacheck.build.written import Outcome, Stopped, why_failed
from mediacheck.card.gpt_layout import SIGNATURE
from mediacheck.device.drive import Drive
from mediacheck.device.raw_device import GONE, Device
from mediacheck.endings import undisturbed
from mediacheck.errors import CardError
from mediacheck.watching import ByteWatcher

HEAD_BYTES = 4096
"""What is written last of all: a partition table, or a boot sector, in the first sector of any size."""
SYNC_BYTES = 64 << 20
"""After so many bytes the device is waited for: the progress that is shown is then that of the card."""
GPT_SECTORS = 33


def write_devices(
    image: ProvenImage, devices: Sequence[tuple[Drive, Device]], watcher: ByteWatcher
) -> tuple[Outcome, ...]:
    """Write the image to all of them at once; one that fails does not stop the others. Closes them.

    Stopped: after Ctrl-C.
    """
    stop = Event()
    watcher.begin(2 * image.size_bytes * len(devices), "writing and reading back")
    try:
        with ThreadPoolExecutor(len(devices)) as threads:
            jobs: list[Future[Outcome]] = []
            try:
                for drive, device in devices:
                    jobs.append(threads.submit(_write, image, drive, device, watcher, stop))
                return tuple(job.result() for job in jobs)
            except KeyboardInterrupt as error:
                with undisturbed():  # each ends with its next block, and makes its device unusable
                    stop.set()
                    raise Stopped([job.result() for job in jobs]) from error
            except BaseException:
                stop.set()
                raise
    finally:
        watcher.end()


def _write(image: ProvenImage, drive: Drive, device: Device, watcher: ByteWatcher, stop: Event) -> Outcome:
    job = _Job(image, device, watcher, stop)
    try:
        with open_image(image.path) as file:
            job.write(file)
            job.require_unchanged(file)
            return job.proven(file, drive)
    except CardError as error:
        return job.failed(drive, str(error))
    except OSError as error:
        return job.failed(drive, why_failed(error, device.size_bytes))
    except BaseException:
        job.give_up()
        raise
    finally:
        job.finish()
        with suppress(OSError):
            device.close()


@dataclass(slots=True)
class _Job:
    """One device that is being written."""

    image: ProvenImage
    device: Device
    watcher: ByteWatcher
    stop: Event
    place: int = 0
    """Where the work is: what is told when it fails."""
    _told_bytes: int = 0
    _waiting_bytes: int = 0
    _was_written_to: bool = False
    _from_medium: bool = False
    _digest: hashlib._Hash = field(default_factory=hashlib.sha256)

    def write(self, file: BinaryIO) -> None:
        """Make the device hold the image, leaving alone what is right. Raises OSError, CardError."""
        self._from_medium = self.device.forget()
        first = self._wanted(file, 0)
        first_is_right = self._holds(0, first)
        for offset in range(BLOCK_BYTES, self.image.size_bytes, BLOCK_BYTES):
            wanted = self._wanted(file, offset)
            if not self._holds(offset, wanted):
                self._put(offset, wanted)
        if not self.image.has_gpt:
            self._empty_old_gpt()
        self.require_unchanged(file)
        if self._was_written_to or not first_is_right:
            self._put_first(first)

    def proven(self, file: BinaryIO, drive: Drive) -> Outcome:
        """Read all of it back. What was right before, and was not written to, was read already."""
        if not self._was_written_to:
            return Outcome(drive, "already right", self._from_medium)
        self._from_medium = self.device.forget()
        digest, bad = hashlib.sha256(), []
        for offset in range(0, self.image.size_bytes, BLOCK_BYTES):
            wanted = self._image_block(file, offset)
            found = self.device.read(offset, len(wanted))
            digest.update(found)
            if found != wanted:
                bad.append(offset + _first_difference(wanted, found))
        is_right = digest.hexdigest() == self.image.sha256
        self.require_unchanged(file)
        if is_right != (not bad):
            raise changed(self.image.path)
        if is_right:
            return Outcome(drive, "written", self._from_medium)
        self.give_up()
        blocks = -(-self.image.size_bytes // BLOCK_BYTES)
        return Outcome(drive, "differs", self._from_medium, bad[0], len(bad), blocks)

    def failed(self, drive: Drive, why: str) -> Outcome:
        """It did not come to its end."""
        self.give_up()
        return Outcome(drive, "failed", at_byte=self.place, why=why)

    def require_unchanged(self, file: BinaryIO) -> None:
        """CardError: the image is not the one that was proven."""
        if Stamp.of(file) != self.image.stamp or self._digest.hexdigest() != self.image.sha256:
            raise changed(self.image.path)

    def finish(self) -> None:
        """Tell that nothing more is to come of this device."""
        self.watcher.advanced(2 * self.image.size_bytes - self._told_bytes)

    def _length(self, offset: int) -> int:
        return min(BLOCK_BYTES, self.image.size_bytes - offset)

    def _go_on(self, offset: int) -> None:
        """Before each block. CardError: the person has stopped all of it."""
        if self.stop.is_set():
            raise CardError("it was stopped, and has to be written again")
        self.watcher.advanced(self._length(offset))
        self._told_bytes += self._length(offset)
        self.place = offset

    def _image_block(self, file: BinaryIO, offset: int) -> bytes:
        """The next block of the image. Raises CardError."""
        self._go_on(offset)
        try:
            wanted = read_block(file, offset, self._length(offset))
        except OSError as error:
            raise CardError(f"the image cannot be read: {error.strerror or error}") from error
        if len(wanted) < self._length(offset):
            raise changed(self.image.path)
        return wanted

    def _wanted(self, file: BinaryIO, offset: int) -> bytes:
        wanted = self._image_block(file, offset)
        self._digest.update(wanted)
        return wanted

    def _holds(self, offset: int, wanted: bytes) -> bool:
        """Whether the device has this there. What cannot be read may still be written."""
        try:
            return self.device.read(offset, len(wanted)) == wanted
        except OSError as error:
            if error.errno in GONE:
                raise
            return False

    def _put(self, offset: int, content: bytes) -> None:
        if not self._was_written_to:
            self._make_unusable()
        self.device.write(offset, content)
        self._waiting_bytes += len(content)
        if self._waiting_bytes >= SYNC_BYTES:
            self.device.sync()
            self._waiting_bytes = 0

    def _make_unusable(self) -> None:
        self._was_written_to = True
        self.device.write(0, bytes(self._length(0)))
        self.device.sync()

    def give_up(self) -> None:
        """What was written to and is not proven must not be used. Where it is gone, nothing can be done."""
        if self._was_written_to:
            with suppress(OSError):
                self._make_unusable()

    def _put_first(self, first: bytes) -> None:
        """Its very beginning last, when all the rest is on the card."""
        self._put(HEAD_BYTES, first[HEAD_BYTES:])
        self.device.sync()
        self.place = 0
        self._put(0, first[:HEAD_BYTES])
        self.device.sync()

    def _empty_old_gpt(self) -> None:
        """Raises OSError."""
        unit, end = self.device.sector_bytes, self.device.size_bytes
        begin = max(end - GPT_SECTORS * unit, self.image.size_bytes + -self.image.size_bytes % unit)
        try:
            held = self.device.read(begin, end - begin)
        except OSError as error:
            if error.errno == errno.EIO:
                return  # nobody else can read it either
            raise
        for place in range(0, len(held), unit):
            if SIGNATURE in (held[at : at + len(SIGNATURE)] for at in range(place, place + unit, 512)):
                self.place = begin + place
                self._put(begin + place, bytes(unit))


def _first_difference(wanted: bytes, found: bytes) -> int:
    """Where two blocks begin to differ; the end of the shorter one where that is all."""
    shared = min(len(wanted), len(found))
    differ = np.frombuffer(wanted, np.uint8, shared) != np.frombuffer(found, np.uint8, shared)
    return int(differ.argmax()) if shared and differ.any() else shared
