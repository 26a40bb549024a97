"""Manifests for the tests: one of an invented card, and any whatever."""

from __future__ import annotations

import hashlib
from dataclasses import replace
from typing import Any, get_args

from hypothesis import strategies as st

from mediacheck.manifest.model import ImageName, Manifest, ManifestFile
from mediacheck.manifest.paths import refusal
from mediacheck.names import RULE_NAMES, Depth, FileKind, FileSystem, Order, PartitionTable, VerdictWord


def sha256(content: bytes) -> str:
    """As 64 hexadecimal digits."""
    return hashlib.sha256(content).hexdigest()


def listed(path: str, content: bytes, kind: FileKind = "video") -> ManifestFile:
    """A file of these bytes."""
    return ManifestFile(path, len(content), sha256(content), kind)


MANIFEST = Manifest(
    version="1.2.3",
    profile_id="basic-1080p",
    profile_title="Basic player, 1080p screen",
    profile_sha256=sha256(b"profile"),
    depth="full",
    verdict="fail",
    even_so=True,
    findings=(("video-codec", "1 Watering can.mp4"), ("loop-count", None)),
    file_system="FAT32",
    partition_table="MBR",
    label="LOAM_LEFT",
    serial="1A2B-3C4D",
    capacity_bytes=40_000_000,
    cluster_bytes=512,
    play_order=("1 Watering can.mp4", "Spring/Märzenbecher.mp4"),
    loop_seconds=92.4,
    files=(
        ManifestFile("1 Watering can.mp4", 5, sha256(b"water"), "video", "v1:00ff"),
        listed("read me.txt", b"", "other"),
        listed("Spring/Märzenbecher.mp4", b"seeds"),
    ),
    folders=("Spring",),
    left_out=(".DS_Store", "Spring/Icon\r"),
    image=ImageName("card.img", 44_194_304, sha256(b"image")),
    player_order="disk",
)


def manifest_of(contents: dict[str, bytes], **changes: Any) -> Manifest:
    """The manifest of a folder that was filled with these files, in this order."""
    files = tuple(listed(path, content) for path, content in contents.items())
    folders = {path.rpartition("/")[0] for path in contents} - {""}
    plain = replace(
        MANIFEST,
        verdict="pass",
        even_so=False,
        findings=(),
        play_order=tuple(contents),
        files=files,
        folders=tuple(sorted(folders)),
        left_out=(),
        image=None,
    )
    return replace(plain, **changes)


words = st.text(max_size=12)
paths = st.text(min_size=1, max_size=12).filter(lambda path: refusal(path) is None)
counts = st.integers(0, 2**40)
sha256s = st.binary(min_size=32, max_size=32).map(bytes.hex)


def one_of(literal: object) -> st.SearchStrategy[Any]:
    """One of the words of a `Literal`."""
    return st.sampled_from(get_args(literal))


def maybe(strategy: st.SearchStrategy[Any]) -> st.SearchStrategy[Any]:
    """Or None."""
    return st.none() | strategy


def tuples(strategy: st.SearchStrategy[Any]) -> st.SearchStrategy[tuple[Any, ...]]:
    """Of up to three, as there may be any number."""
    return st.lists(strategy, max_size=3).map(tuple)


files = st.builds(ManifestFile, paths, counts, sha256s, one_of(FileKind), maybe(words))
some_files = st.lists(files, max_size=4, unique_by=lambda file: file.path).map(tuple)


@st.composite
def manifests(draw: st.DrawFn) -> Manifest:
    """Any manifest that can be written."""
    there = draw(some_files)
    room = sum(file.size_bytes for file in there)
    return Manifest(
        version=draw(words),
        profile_id=draw(words),
        profile_title=draw(words),
        profile_sha256=draw(sha256s),
        depth=draw(one_of(Depth)),
        verdict=draw(one_of(VerdictWord)),
        even_so=draw(st.booleans()),
        findings=draw(tuples(st.tuples(st.sampled_from(RULE_NAMES), maybe(words)))),
        file_system=draw(maybe(one_of(FileSystem))),
        partition_table=draw(maybe(one_of(PartitionTable))),
        label=draw(maybe(words)),
        serial=draw(maybe(words)),
        capacity_bytes=draw(maybe(counts)),
        cluster_bytes=draw(maybe(counts)),
        play_order=tuple(draw(st.permutations([file.path for file in there]))),
        loop_seconds=draw(maybe(st.floats(0, 1e6))),
        files=there,
        folders=draw(tuples(paths)),
        left_out=draw(tuples(words)),
        image=draw(maybe(st.builds(ImageName, words, counts.map(room.__add__), sha256s))),
        player_order=draw(maybe(one_of(Order))),
    )
