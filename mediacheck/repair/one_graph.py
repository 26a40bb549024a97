"""Several outputs of one master's pictures through one graph of filters.

It must not change what any output gets: the pictures are handed out in the graph and not before it.
"""

from __future__ import annotations

from mediacheck.repair.commands import PICTURE, Line
from mediacheck.which_ffmpeg import release_of

NEEDED_FROM = 7
"""Since then each graph of ffmpeg has a thread of its own, and one that runs ahead is held back. Where
another feeds an encoder that looks ahead, and its rate was raised, all wait for good (seen with 9.0)."""
COPIED = ("-c:v", "copy")


def for_version(line: Line, ffmpeg_version: str) -> Line:
    """The line as this ffmpeg can do it."""
    return in_one_graph(line) if is_needed(ffmpeg_version) else line


def is_needed(ffmpeg_version: str) -> bool:
    """By the version as it says itself; one that has no number there was built of late."""
    release = release_of(ffmpeg_version)
    return release is None or release[0] >= NEEDED_FROM


def in_one_graph(line: Line) -> Line:
    """The same line; where it makes pictures for several outputs, with one graph for all of them.

    Each output begins with the map of the picture, and with its filters if it has any.
    """
    parts = _parts(line)
    encoded = [number for number, part in enumerate(parts) if number and not _is_copied(part)]
    if len(encoded) < 2:
        return line
    graph = [f"[0:V:0]split={len(encoded)}" + "".join(f"[to{number}]" for number in encoded)]
    for number in encoded:
        filters, parts[number] = _filters(parts[number])
        graph.append(f"[to{number}]{filters}[of{number}]")
        parts[number] = ("-map", f"[of{number}]", *parts[number])
    inputs, *outputs = parts
    return (*inputs, "-filter_complex", ";".join(graph), *(word for part in outputs for word in part))


def _parts(line: Line) -> list[Line]:
    """The inputs, and then each output."""
    size = len(PICTURE)
    starts = [place for place in range(len(line)) if line[place : place + size] == PICTURE]
    ends = [*starts[1:], len(line)]
    return [line[: starts[0] if starts else len(line)], *map(line.__getitem__, map(slice, starts, ends))]


def _is_copied(part: Line) -> bool:
    return any(part[place : place + 2] == COPIED for place in range(len(part)))


def _filters(part: Line) -> tuple[str, Line]:
    """Those of the picture, and the output without its map and them."""
    rest = part[len(PICTURE) :]
    return (rest[1], rest[2:]) if rest[:1] == ("-vf",) else ("null", rest)
