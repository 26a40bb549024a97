"""Where the decoder finds a file: at its path, as a range of an image, or in a copy made for it.

It must not decode.
"""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from mediacheck.card.within import Within

COPY_BLOCK_BYTES = 1 << 20


@contextmanager
def address_of(location: Path | Within) -> Iterator[str]:
    """What ffmpeg takes for its input while the block lasts. Raises OSError where a copy cannot be made.

    A file in one piece inside an image is read in place, through ffmpeg's subfile protocol. One in several
    pieces, or on a device (which may refuse to be read from the middle of a sector), is copied first.
    """
    if isinstance(location, Path):
        yield f"file:{location}"
    elif (range_ := _range_in_an_image(location)) is not None:
        yield range_
    else:
        with tempfile.TemporaryDirectory(prefix="mediacheck-") as folder:
            copy = Path(folder) / "copy"
            with location.open("rb") as source, copy.open("wb") as target:
                shutil.copyfileobj(source, target, COPY_BLOCK_BYTES)
            yield f"file:{copy}"


def _range_in_an_image(location: Within) -> str | None:
    whole = location.whole
    if whole is None or not Path(location.medium).is_file():
        return None
    return f"subfile,,start,{whole.start_byte},end,{whole.end_byte},,:file:{Path(location.medium).absolute()}"
