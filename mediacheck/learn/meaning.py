"""What the finding of each rule means on a card that is known to play.

It must not judge a card: every rule of the catalogue stands in exactly one of these sets.
"""

from __future__ import annotations

from mediacheck.names import RuleName

BROKEN: frozenset[RuleName] = frozenset(
    {
        "card-damaged",
        "card-dirty",
        "card-size-mismatch",
        "file-junk",
        "file-empty",
        "file-name",
        "file-unreadable",
        "container-truncated",
        "container-encrypted",
        "video-missing",
        "still-damaged",
        "picture-damaged",
    }
)
"""The card or the file is not as it was made: what a player did with it says nothing of what it takes. Nor
does a file whose name a card cannot hold."""

HAZARD: frozenset[RuleName] = frozenset({"picture-flash"})
"""Dangerous for people whatever the player: never learned to be right."""

OF_THE_PLAYER: frozenset[RuleName] = frozenset(
    {
        "card-label",
        "file-extension",
        "container-index",
        "container-fragmented",
        "readers-disagree",
        "video-extra-stream",
        "video-frame-rate-variable",
        "video-level-understated",
        "video-rotation",
        "video-pixel-aspect",
        "video-colour",
        "video-gop",
        "still-progressive",
        "still-colour",
        "still-orientation",
    }
)
"""What simple players stumble over: where a card with it plays, this player does not."""

OF_THE_MATERIAL: frozenset[RuleName] = frozenset(
    {
        "audio-silent",
        "picture-bars",
        "picture-leader",
        "picture-combed",
        "loop-audio-length",
        "loop-seam",
    }
)
"""What every player shows as it is. The profile tells it as a note still: a card that it was made from passes
it, and nothing is left out of a report."""

REMARK_ONLY: frozenset[RuleName] = frozenset({"file-duplicate"})
"""A note already: it does not keep a card from passing."""

BY_MANIFEST: frozenset[RuleName] = frozenset({"manifest-missing", "manifest-changed", "manifest-extra"})
"""Whether the card is the one that was built: asked only with a manifest, which nobody learns with."""

BY_DISPLAY: frozenset[RuleName] = frozenset({"loop-wrong-face", "loop-outdated"})
"""Whether the loop belongs on this face: asked only with a display file, which nobody learns with."""

LIMITED: frozenset[RuleName] = frozenset(
    {
        "card-file-system",
        "card-partition-table",
        "card-capacity",
        "card-cluster-size",
        "card-full",
        "folder-missing",
        "file-misplaced",
        "file-unexpected",
        "file-too-big",
        "file-name-length",
        "play-order",
        "container-format",
        "video-codec",
        "video-profile",
        "video-level",
        "video-bit-depth",
        "video-chroma",
        "video-resolution",
        "video-frame-rate",
        "video-bit-rate",
        "video-bit-rate-peak",
        "video-interlaced",
        "video-shape",
        "audio-unwanted",
        "audio-missing",
        "audio-codec",
        "audio-sample-rate",
        "audio-channels",
        "audio-bit-rate",
        "audio-loudness",
        "audio-peak",
        "still-format",
        "still-resolution",
        "picture-black",
        "picture-frozen",
        "loop-count",
        "loop-length",
    }
)
"""Silent where the profile sets no limit. Without one, loop-count still finds a card with nothing to play,
and card-file-system one that is not formatted: neither can teach."""
