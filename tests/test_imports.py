"""Imports run one way: no room imports from a room above it."""

from __future__ import annotations

import ast
from pathlib import Path

PACKAGE = Path(__file__).parent.parent / "mediacheck"
FORBIDDEN_ROOMS = frozenset(("utils", "helpers", "common", "core", "manager"))
RANKS = {
    "": 0,
    "errors": 0,
    "face_names": 0,
    "names": 0,
    "processes": 1,
    "said_of_keys": 1,
    "profile_values": 2,
    "strict_yaml": 1,
    "validated": 2,
    "output": 1,
    "endings": 1,
    "watching": 1,
    "worker_process": 2,
    "programs": 2,
    "profile": 3,
    "display": 3,
    "which_ffmpeg": 3,
    "workers": 3,
    "profile_text": 4,
    "profile_files": 4,
    "card": 4,
    "early": 4,
    "media": 4,
    "manifest": 5,
    "cluster": 5,
    "measure": 5,
    "loop": 6,
    "loop_content": 6,
    "photos": 6,
    "display_files": 6,
    "encoding": 6,
    "cache": 6,
    "rules": 7,
    "inspection": 7,
    "report": 8,
    "paper": 9,
    "profile_difference": 9,
    "survey": 9,
    "sizes": 9,
    "judge": 9,
    "explain": 9,
    "check": 10,
    "device": 10,
    "sheet": 10,
    "trouble": 10,
    "deliver": 11,
    "sheets": 11,
    "worksheet": 11,
    "learn": 11,
    "compare": 11,
    "build": 11,
    "repair": 12,
    "many": 12,
    "stores": 12,
    "identify": 12,
    "capacity": 11,
    "demo": 12,
    "cli": 13,
    "__main__": 14,
}
"""The floor that each room stands on; a room may import from its own floor only itself."""


def room_of(module: str) -> str:
    """The room of a dotted module name: "mediacheck.card.model" is in "card"."""
    parts = module.split(".")
    return parts[1] if len(parts) > 1 else ""


def modules() -> list[tuple[str, Path]]:
    """Every module with its room."""
    return [(path.relative_to(PACKAGE).parts[0].removesuffix(".py"), path) for path in PACKAGE.rglob("*.py")]


def imported_rooms(path: Path) -> set[str]:
    """Rooms that one module imports, late imports included."""
    found = set()
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        if isinstance(node, ast.ImportFrom) and (node.module or "").split(".")[0] == "mediacheck":
            whole = node.module == "mediacheck"
            found |= {room_of(f"mediacheck.{n.name}" if whole else node.module or "") for n in node.names}
        elif isinstance(node, ast.Import):
            found |= {room_of(name.name) for name in node.names if name.name.split(".")[0] == "mediacheck"}
    return found - {"__version__"}


def test_every_room_has_a_floor_and_none_is_called_a_leftover() -> None:
    rooms = {room for room, _ in modules()} - {"__init__"}
    assert rooms - set(RANKS) == set()
    assert rooms & FORBIDDEN_ROOMS == set()


def test_no_room_imports_from_a_room_above_it() -> None:
    wrong = [
        f"{path.relative_to(PACKAGE)} imports {other}"
        for room, path in modules()
        for other in imported_rooms(path)
        if room != "__init__" and other != room and RANKS[other] >= RANKS[room] > 0
    ]
    assert wrong == []


def test_no_file_is_too_long_to_read() -> None:
    long = {
        str(path.relative_to(PACKAGE)): lines
        for _, path in modules()
        if (lines := len(path.read_text("utf-8").splitlines())) > 400
    }
    assert long == {}
