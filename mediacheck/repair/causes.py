"""Which change mends what each rule finds, and what the change is called: data, and no more.

It must not look at files: `plan` puts the changes of one file together.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from mediacheck.names import RuleName
from mediacheck.repair.model import Change


@dataclass(frozen=True, slots=True)
class Mend:
    """The least change that mends a finding, and a clause that says what is done."""

    change: Change
    what: str


MENDS: Mapping[RuleName, Mend] = MappingProxyType(
    {
        "folder-missing": Mend("move", "put it into the folder that the player looks in"),
        "file-misplaced": Mend("move", "move it to where the player looks"),
        "file-name": Mend("move", "give it a name that the card and the player take"),
        "file-name-length": Mend("move", "shorten its name"),
        "file-extension": Mend("move", "give its name the ending that fits what is inside"),
        "play-order": Mend("move", "number the names, so that their order is the play order"),
        "container-format": Mend("container", "wrap it in a container that the player opens"),
        "container-index": Mend("container", "put the index first"),
        "container-fragmented": Mend("container", "join its fragments"),
        "readers-disagree": Mend("container", "write its headers again"),
        "video-extra-stream": Mend("container", "leave one picture stream"),
        "video-level-understated": Mend("container", "mark it with the level that it needs"),
        "audio-unwanted": Mend("container", "leave out the sound"),
        "audio-missing": Mend("sound", "add a silent sound track"),
        "audio-codec": Mend("sound", "encode the sound in a codec that the player unpacks"),
        "audio-sample-rate": Mend("sound", "bring the sound to a sample rate that the player takes"),
        "audio-channels": Mend("sound", "mix the sound down"),
        "audio-bit-rate": Mend("sound", "encode the sound at a lower bit rate"),
        "audio-loudness": Mend("sound", "bring the sound to the loudness agreed"),
        "audio-peak": Mend("sound", "hold the peaks of the sound under their limit"),
        "audio-silent": Mend("sound", "put the one channel with sound on both"),
        "loop-audio-length": Mend("sound", "let the sound end with the picture"),
        "file-too-big": Mend("picture", "encode the picture so that the file fits"),
        "video-codec": Mend("picture", "encode the picture in a codec that the player unpacks"),
        "video-profile": Mend("picture", "encode the picture in a profile that the player knows"),
        "video-level": Mend("picture", "encode the picture within the player's level"),
        "video-bit-depth": Mend("picture", "bring its colours to the bit depth of the player"),
        "video-chroma": Mend("picture", "store its colours as finely as the player takes"),
        "video-resolution": Mend("picture", "scale the picture"),
        "video-frame-rate": Mend("picture", "bring it to a frame rate that the player takes"),
        "video-frame-rate-variable": Mend("picture", "space its frames evenly"),
        "video-bit-rate": Mend("picture", "encode the picture at a lower bit rate"),
        "video-bit-rate-peak": Mend("picture", "hold its busiest places within the player's buffer"),
        "video-interlaced": Mend("picture", "make whole pictures of half ones"),
        "video-rotation": Mend("picture", "turn the picture itself"),
        "video-pixel-aspect": Mend("picture", "make its pixels square"),
        "video-shape": Mend("picture", "give the picture the shape of the screen"),
        "video-colour": Mend("picture", "convert its colours for an ordinary screen"),
        "video-gop": Mend("picture", "set keyframes often enough, and one first"),
        "picture-combed": Mend("picture", "make whole pictures of woven ones"),
        "picture-bars": Mend("picture", "cut off the black bars"),
        "picture-leader": Mend("picture", "cut off the test material at its ends"),
        "picture-black": Mend("picture", "cut off the black at its ends"),
        "still-format": Mend("still", "write it in a format that the player shows"),
        "still-progressive": Mend("still", "write it as baseline JPEG"),
        "still-colour": Mend("still", "write it in red, green and blue of eight bits"),
        "still-orientation": Mend("still", "turn the picture itself upright"),
        "still-resolution": Mend("still", "scale it to what the player takes"),
    }
)

WITH_BARS: frozenset[RuleName] = frozenset(("picture-bars",))
"""Mended only where cutting off bars was asked for."""
WITH_ENDS: frozenset[RuleName] = frozenset(("picture-leader", "picture-black"))
"""Mended only where cutting off ends was asked for, and where the thing is at an end."""

WITH_FIT: frozenset[RuleName] = frozenset(("video-shape",))
"""Mended only where cutting or stretching was asked for: encoded bars are no better than the player's."""

STAYS_BEHIND: Mapping[RuleName, str] = MappingProxyType(
    {
        "file-junk": "a computer left it behind",
        "file-unexpected": "the player has no use for it",
    }
)
"""What leaves a file out of the copy, and nothing need be asked for."""

HOPELESS: frozenset[RuleName] = frozenset(
    (
        "file-empty",
        "file-unreadable",
        "container-truncated",
        "container-encrypted",
        "video-missing",
        "picture-damaged",
        "still-damaged",
    )
)
"""Nothing that can be shown comes of such a file: it is left out, and asked for again."""

OF_THE_CARD: frozenset[RuleName] = frozenset(
    (
        "card-file-system",
        "card-partition-table",
        "card-capacity",
        "card-cluster-size",
        "card-damaged",
        "card-dirty",
        "card-size-mismatch",
        "card-full",
        "card-label",
    )
)
"""About the medium: the copy is a folder, and `mediacheck build` makes a new card of it."""

KEPT: frozenset[RuleName] = frozenset(("file-duplicate",))
"""May be meant so: it stays, and a note says it."""

ELSEWHERE: frozenset[RuleName] = frozenset(
    ("loop-wrong-face", "loop-outdated", "manifest-missing", "manifest-changed", "manifest-extra")
)
"""Asked only with a display or a manifest, which a repair has neither of."""
