"""What is wrong with the directory entries of an exFAT volume: checksums, counts, names and their hashes.

It must not read a medium. Sections in brackets are those of the "exFAT file system specification", revision
1.00.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from mediacheck.card.damages import Damages
from mediacheck.card.exfat_folder import Listing
from mediacheck.card.exfat_layout import rotating_sums
from mediacheck.card.exfat_upcase import MANDATORY, Upcase

CHECKSUM_PLACES = frozenset((2, 3))
"""[6.3.3] the bytes of a set that its checksum leaves out: they hold it."""
FORBIDDEN = np.zeros(0x10000, bool)
"""[7.7.3, Table 35]"""
FORBIDDEN[[*range(32), *b'"*/:<>?\\|']] = True
DOTS = frozenset((".".encode("utf-16-le"), "..".encode("utf-16-le")))
"""[7.7.3]"""


def tell_names(listing: Listing, upcase: Upcase, damages: Damages, *, sure: bool) -> None:
    """Tell of each set that is not as it should be.

    `sure` is whether the up-case table of the volume holds. If not, only names of plain letters (the first
    128) are compared by their capitals, which are the same on every volume [7.2.5].
    """
    _tell_other_sets(listing, damages)
    sets = listing.sets
    names = _Names(sets.names, upcase)
    wrong_sums = _wrong_checksums(sets.raw)
    wrong_hashes = (names.hashes != np.array(sets.hashes)) & (names.plain | sure)
    is_odd = (
        wrong_sums | wrong_hashes | names.forbidden | np.array([bool(fault) for fault in sets.faults], bool)
    )
    for row in np.flatnonzero(is_odd).tolist():
        fault = sets.faults[row] or _fault(bool(wrong_sums[row]), bool(wrong_hashes[row]))
        damages.tell(f"the directory entry of {sets.who[row]} {fault}", sets.paths[row])
    for row in _twice(sets.folders, names.capitals):
        damages.tell(f"{sets.who[row]} has the same name as another file beside it", sets.paths[row])


def _twice(folders: Sequence[int], capitals: Sequence[bytes]) -> Iterator[int]:
    """The rows whose folder and name are those of a row before [7.7]."""
    if len(set(zip(folders, capitals, strict=True))) == len(folders):
        return
    seen: set[tuple[int, bytes]] = set()
    for row, key in enumerate(zip(folders, capitals, strict=True)):
        if key in seen:
            yield row
        seen.add(key)


def _fault(wrong_sum: bool, wrong_hash: bool) -> str:
    """The first thing that is wrong with a set; the others may follow from it."""
    if wrong_sum:
        return "has a wrong checksum"
    if wrong_hash:
        return "has a wrong hash of the name: a player that looks for it may not find it"
    return "has a name that exFAT forbids"


class _Names:
    """Many names in UTF-16LE, looked at together."""

    def __init__(self, names: Sequence[bytes], upcase: Upcase) -> None:
        together = b"".join(names)
        units = np.frombuffer(together, "<u2")
        ends = np.cumsum([0, *map(len, names)])
        large = upcase.upper_bytes(together)
        self.capitals = [large[start:end] for start, end in pairwise(ends.tolist())]
        self.hashes = rotating_sums(self.capitals).astype(np.int64)
        self.plain = _number_in(units >= MANDATORY, ends // 2) == 0
        is_dots = np.array([name in DOTS for name in names], bool)
        self.forbidden = (_number_in(FORBIDDEN[units], ends // 2) > 0) | is_dots


def _number_in(marked: npt.NDArray[np.bool_], ends: npt.NDArray[np.int64]) -> npt.NDArray[np.int64]:
    """How many are marked from each end up to the next."""
    so_far = np.concatenate(([0], np.cumsum(marked)))
    return np.diff(so_far[ends])


def _tell_other_sets(listing: Listing, damages: Damages) -> None:
    wrong = _wrong_checksums([raw for _, raw in listing.other_sets])
    for (who, _), is_wrong in zip(listing.other_sets, wrong, strict=True):
        if is_wrong:
            damages.tell(f"{who} has a wrong checksum")


def _wrong_checksums(sets: Sequence[bytes]) -> npt.NDArray[np.bool_]:
    """Of each set, whether its checksum does not hold; sets with a wrong count are compared as they are."""
    stored = np.array([raw[2] | raw[3] << 8 for raw in sets], np.uint16)
    return np.asarray(rotating_sums(sets, CHECKSUM_PLACES) != stored)
