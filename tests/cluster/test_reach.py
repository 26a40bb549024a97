"""Whether another machine sees the same files: what counts as the same, and how it is told."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from mediacheck.card.within import Run, Within
from mediacheck.cluster.reach import (
    looks_of,
    marked,
    not_reached,
    not_writable,
    out_of_reach,
    seen_by,
)
from mediacheck.errors import OutputError


def test_a_card_looks_the_same_until_it_is_another_one(tmp_path: Path) -> None:
    image = tmp_path / "aisle.img"
    image.write_bytes(b"12")
    looks = looks_of((tmp_path, image, tmp_path / "gone"))
    assert sorted(looks) == [str(tmp_path), str(image)]
    assert not_reached(looks) is None
    image.write_bytes(b"123")
    assert not_reached(looks) == f"finds something else at {image}"
    image.unlink()
    assert (not_reached(looks) or "").startswith(f"finds something else at {tmp_path}")


def test_a_path_that_leads_nowhere_is_told_with_the_reason(tmp_path: Path) -> None:
    assert not_reached({str(tmp_path / "x"): "file of 1 bytes"}) == (
        f"cannot read {tmp_path / 'x'} ({os.strerror(2)})"
    )


def test_the_folder_of_new_files_is_the_same_one_and_can_be_written(tmp_path: Path) -> None:
    with marked(tmp_path) as marker:
        assert not_writable(marker) is None
        assert not_writable(str(tmp_path / "other" / "mark")) is not None
    assert list(tmp_path.iterdir()) == []
    with marked(None) as marker:
        assert not_writable(marker) is None


def test_a_folder_that_is_not_there_is_told(tmp_path: Path) -> None:
    with pytest.raises(OutputError), marked(tmp_path / "no"):
        pass


def test_the_files_that_a_call_reads_are_held_against_what_was_seen(tmp_path: Path) -> None:
    clip, image = tmp_path / "1.mp4", tmp_path / "aisle.img"
    clip.write_bytes(b"12345")
    image.write_bytes(bytes(1024))
    on_image = Within(str(image), (Run(512, 512),), 512)
    seen = seen_by((clip, "1.mp4", 5, (on_image,), tmp_path))
    assert [location for location, _ in seen] == [clip, on_image]
    assert out_of_reach(seen) is None
    clip.write_bytes(b"1234")
    assert out_of_reach(seen) == str(clip)
    clip.unlink()
    assert out_of_reach(seen) == str(clip)
    assert seen_by((clip,)) == ()


def test_another_file_of_the_same_size_is_another_file(tmp_path: Path) -> None:
    """Images of cards are all of one size: a machine may have last month's at the same path."""
    clip, image = tmp_path / "1.mp4", tmp_path / "aisle.img"
    clip.write_bytes(b"spring")
    image.write_bytes(bytes(1024))
    of_clip, of_image = seen_by((clip,)), seen_by((Within(str(image), (Run(512, 512),), 512),))
    clip.write_bytes(b"autumn")
    image.write_bytes(bytes(512) + b"autumn" + bytes(506))
    assert out_of_reach(of_clip) == str(clip)
    assert out_of_reach(of_image) == str(image)
