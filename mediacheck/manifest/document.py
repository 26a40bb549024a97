"""The manifest as JSON: its keys, what each of them means, and what each of them may hold.

It must not do anything with a manifest. Keys that it does not know are passed over, so that a later version
may add some.
"""

from __future__ import annotations

from typing import Annotated, Final, Literal, TypeVar

from pydantic import AfterValidator, ConfigDict, FailFast, Field

from mediacheck.manifest.paths import refusal, shown
from mediacheck.names import Depth, FileKind, FileSystem, Order, PartitionTable, RuleName, VerdictWord
from mediacheck.said_of_keys import SaidOfKeys

SCHEMA_NAME: Final = "mediacheck/manifest/1"

T = TypeVar("T")
Listed = Annotated[tuple[T, ...], FailFast()]
"""What is wrong is told of one: of a million, the complaints would fill the memory."""
Count = Annotated[int, Field(ge=0, lt=2**64)]
"""As much as a file system can count: exFAT, 64 bits."""
Sha256 = Annotated[str, Field(pattern="^[0-9a-f]{64}$")]


def _required(path: str) -> str:
    wrong = refusal(path)
    if wrong:
        raise ValueError(f"{shown(path)} is no path of a file on the card: {wrong}")
    return path


FilePath = Annotated[str, AfterValidator(_required)]


class Part(SaidOfKeys):
    """A section of the manifest."""

    model_config = ConfigDict(
        frozen=True,
        strict=True,
        allow_inf_nan=False,
        json_schema_extra={"additionalProperties": False},
    )


class Tool(Part):
    """Which program wrote it."""

    name: Literal["mediacheck"]
    version: str


class ProfileNamed(Part):
    """What the files were checked against before the card was built."""

    id: str
    title: str
    sha256: Sha256
    """Of the profile's file."""
    order: Order | None = None
    """Which order the player plays in; null or no such key: not told."""


class CardMade(Part):
    """The card as it was built. null: only a folder was filled."""

    file_system: FileSystem | None
    partition_table: PartitionTable | None
    label: str | None
    serial: str | None
    capacity_bytes: Count | None
    cluster_bytes: Count | None


class FileListed(Part):
    """One file that belongs on the card."""

    path: FilePath
    """Relative to the card's root, with `/`."""
    size_bytes: Count
    sha256: Sha256
    kind: FileKind
    fingerprint: str | None
    """By which its pictures are known again; null: not measured."""


class PassedOver(Part):
    """One finding of severity fail that the card was built in spite of."""

    rule: RuleName
    path: str | None
    """The file; null where it is about the card or the loop."""


class Image(Part):
    """The card's image, byte by byte."""

    name: str
    """Its file name, without a folder."""
    size_bytes: Count
    sha256: Sha256


class Document(Part):
    """Which files belong on one card, in which order, and the SHA-256 of each."""

    schema_name: Literal["mediacheck/manifest/1"] = Field(alias="schema")
    tool: Tool
    profile: ProfileNamed
    depth: Depth
    """Of the check before the build. quick: headers and packets; full: every file was decoded as well."""
    verdict: VerdictWord
    """Of the check before the build."""
    even_so: bool
    """Whether the card was built although that check failed."""
    passed_over: Listed[PassedOver]
    """The findings that it was built in spite of."""
    card: CardMade
    play_order: Listed[FilePath]
    """Paths of the items in the order in which the player takes them."""
    loop_seconds: float | None = Field(ge=0)
    """Length of one round in seconds; null: not known."""
    files: Listed[FileListed]
    """Every file of the card, in on-disk order."""
    folders: Listed[FilePath]
    """Every folder of the card."""
    left_out: Listed[str]
    """Files of the source that were not copied: what computers leave behind."""
    image: Image | None
    """null: a folder was filled, and no image was made."""
