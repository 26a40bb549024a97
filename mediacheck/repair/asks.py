"""What to ask the sender for where no program can mend a file.

It must not decide what can be mended: that is for `causes` and `plan`.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from mediacheck.names import RuleName
from mediacheck.repair.model import Ask
from mediacheck.report.model import Finding

ASKS: Mapping[RuleName, str] = MappingProxyType(
    {
        "file-empty": "Ask for this file again: what came is empty.",
        "file-unreadable": "Ask for this file again, and whether the original opens where it was made.",
        "container-truncated": "Ask for this file again: its end was lost on the way.",
        "container-encrypted": "Ask for this file without copy protection.",
        "video-missing": "Ask for this file with its picture.",
        "picture-damaged": "Ask for a new export: places of it are destroyed.",
        "still-damaged": "Ask for this picture again: a part of it is destroyed.",
        "picture-flash": "Ask for a version without these flashes: they can cause seizures, and no program "
        "takes them out without changing what is shown.",
        "picture-frozen": "Ask whether the picture is meant to stand still there; if not, for a new export.",
        "picture-black": "Ask whether the picture is meant to be black there; if not, for a new export.",
        "picture-leader": "Ask for this file without its test material, or cut it off with --trim-ends.",
        "picture-bars": "Ask for a version without bars, or cut them off with --trim-bars.",
        "video-shape": "Ask for a version in the shape of the screen, or fill it with --fit cover.",
        "audio-silent": "Ask whether this item is meant to be silent; if not, for the file with its sound.",
        "loop-count": "Ask for the items that are missing, or which ones to leave out.",
        "loop-length": "Ask for the items that are missing, or which ones to shorten or leave out.",
        "loop-seam": "Ask for an export whose end runs into its beginning.",
        "folder-missing": "Ask for the files that the player needs besides the items.",
        "file-too-big": "Ask for a smaller version of this file.",
        "file-name": "Give this file a name of the form that the player asks for.",
    }
)
USUAL = "Ask for a version that fits this player: `mediacheck profile explain` says what to deliver."


def ask_for(finding: Finding, because: str | None = None) -> Ask:
    """The question that a finding leads to. `because`: why what could be done cannot be done here."""
    problem = finding.message if because is None else f"{finding.message} It cannot be mended: {because}."
    return Ask(finding.rule, finding.path, problem, ASKS.get(finding.rule, USUAL))
