"""Where the decoder finds a file on a medium: in place if it can be, else in a copy that goes away."""

from __future__ import annotations

import subprocess
from pathlib import Path

import pytest

from mediacheck.card.within import Run, Within
from mediacheck.measure.address import address_of
from mediacheck.measure.decode import measure
from mediacheck.media.facts import MediaFacts
from mediacheck.media.read import read_facts
from tests.media.footage import sample_clips

AHEAD = b"\xaa" * 4096
BEHIND = b"\xbb" * 4096


def in_one_piece(folder: Path, content: bytes) -> Within:
    """An image with an odd name, the file somewhere in it."""
    image = folder / "card, 50% 'full'.img"
    image.write_bytes(AHEAD + content + BEHIND)
    return Within(str(image), (Run(len(AHEAD), len(content) + 512),), len(content))


def in_pieces(folder: Path, content: bytes, piece_bytes: int = 4096) -> Within:
    """An image whose clusters stand in reverse order."""
    image = folder / "pieces.img"
    pieces = [content[place : place + piece_bytes] for place in range(0, len(content), piece_bytes)]
    padded = [piece.ljust(piece_bytes, b"\0") for piece in pieces]
    image.write_bytes(b"".join(reversed(padded)))
    last = len(pieces) - 1
    runs = tuple(Run((last - number) * piece_bytes, piece_bytes) for number in range(len(pieces)))
    return Within(str(image), runs, len(content))


def read_by(ffmpeg: str, address: str) -> bytes:
    """What ffmpeg reads there, byte for byte."""
    call = [ffmpeg, "-v", "error", "-protocol_whitelist", "file,subfile,pipe", "-f", "data", "-i", address]
    return subprocess.run(
        [*call, "-map", "0", "-c", "copy", "-f", "data", "-"], capture_output=True, check=True, timeout=60
    ).stdout


def test_a_path_is_its_own_address(tmp_path: Path) -> None:
    with address_of(tmp_path / "a.mp4") as address:
        assert address == f"file:{tmp_path / 'a.mp4'}"


def test_a_file_in_one_piece_is_read_in_place_and_no_byte_more(ffmpeg: str, tmp_path: Path) -> None:
    content = bytes(range(256)) * 300
    with address_of(in_one_piece(tmp_path, content)) as address:
        assert address.startswith("subfile,")
        assert read_by(ffmpeg, address) == content


def test_a_file_in_pieces_is_copied_and_the_copy_goes_away(ffmpeg: str, tmp_path: Path) -> None:
    content = bytes(range(251)) * 300
    with address_of(in_pieces(tmp_path, content)) as address:
        copy = Path(address.removeprefix("file:"))
        assert read_by(ffmpeg, address) == content
    assert not copy.exists()


@pytest.mark.parametrize("laid_out", [in_one_piece, in_pieces])
@pytest.mark.parametrize("clip", sample_clips(), ids=lambda clip: clip.name)
def test_facts_and_measurements_are_those_of_the_file_itself(
    laid_out: object, clip: Path, ffmpeg: str, tmp_path: Path
) -> None:
    assert callable(laid_out)
    within = laid_out(tmp_path, clip.read_bytes())
    facts = read_facts(clip, clip.name)
    assert read_facts(within, clip.name) == facts
    if isinstance(facts, MediaFacts) and facts.video:
        own, other = (measure(Path(ffmpeg), place, facts, 2, 60) for place in (clip, within))
        assert own == other
