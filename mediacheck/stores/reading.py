"""What a file that came says: a report, a repair, a manifest, an identification, a photo or a sheet.

It must not trust a file: whatever is in it, the answer is what it says or one sentence why it was not taken.
"""

from __future__ import annotations

import json
import re
import warnings
from collections.abc import Callable, Mapping
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any, get_args

from mediacheck import photos
from mediacheck.errors import ManifestError
from mediacheck.loop_content import SHOWN, content_key
from mediacheck.manifest.reading import as_utf8
from mediacheck.manifest.record import manifest_of
from mediacheck.names import VerdictWord
from mediacheck.photos import opened
from mediacheck.report.words import safe
from mediacheck.stores.model import Answer, Noted, Said
from mediacheck.stores.pictures import small

RECORD_MAX_BYTES = 16_000_000
"""Of JSON: a report of 10,000 stills has less, and what is read takes thirty times as much memory."""
MANIFEST_MAX_FILES = 20_000
MARKS_OF_FILE = 8
"""Brackets and commas, with the file's place in the order: what is nested or listed in its stead takes up to
two kilobytes a mark."""
FINDINGS_MAX = 50
TEXT_MAX = 400
OLDEST = datetime(2020, 1, 1, tzinfo=UTC)
"""Before this program was: a clock that was never set."""
AHEAD = timedelta(days=1)
"""How far a clock may be ahead."""
SEVERITIES = {"fail": 0, "warn": 1, "note": 2}
PDF = b"%PDF-"
RULE_MAX = 60
RULE = re.compile(r"[a-z]+(?:-[a-z0-9]+){1,6}")
FAR_OFF = (
    "it says that it was made on {:%Y-%m-%d}: the clock was wrong, and what it says cannot be put in order"
)


class NotTaken(Exception):
    """Why a file was not taken: a clause, as "it is empty"."""


class PassedOver(NotTaken):
    """A file that belongs to a report and tells a ledger nothing, such as the summary of many cards."""


def said_in(content: bytes, changed_at: datetime | None, now: datetime) -> Said:
    """What the bytes of a file say. A moment without a time zone is by the clock of the store. NotTaken."""
    if not content.strip(b"\0 \r\n\t"):
        raise NotTaken("it is empty")
    if content.startswith(PDF):
        return Said("sheet", changed_at if changed_at and _is_in_time(changed_at, now) else now)
    text = as_utf8(content)
    if text.lstrip(b"\xef\xbb\xbf \r\n\t").startswith(b"{"):
        said = _of_record(text)
        return _in_time(
            said if said.kind != "manifest" else replace(said, seen_at=_when(changed_at, now)), now
        )
    if photos.is_heic(content):
        raise NotTaken("it is a HEIC photo: set the phone to save JPEG, or send the photo as JPEG")
    return _in_time(_photo(content, _when(changed_at, now)), now)


def _photo(content: bytes, otherwise: datetime) -> Said:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # of Pillow, about what phones write wrong
        image = opened(content)
        if image is None:
            raise NotTaken("it is no report, no manifest and no photo that can be read")
        return Said("photo", photos.taken_at(image) or otherwise, picture=small(image))


def kept_form(content: bytes, said: Said, with_words: bool) -> bytes:
    """The bytes as the ledger keeps them: photos without what they say of people, unless that is wanted."""
    if said.kind != "photo" or with_words:
        return content
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        image = opened(content)
        if image is None:
            raise NotTaken("it is no photo that can be read")
        try:
            return photos.without_words(content, image)
        except (ValueError, OSError):
            raise NotTaken("it is a photo that breaks off") from None


def _when(changed_at: datetime | None, now: datetime) -> datetime:
    return changed_at or now


def _in_time(said: Said, now: datetime) -> Said:
    if not _is_in_time(said.seen_at, now):
        raise NotTaken(FAR_OFF.format(said.seen_at))
    return said


def _is_in_time(moment: datetime, now: datetime) -> bool:
    return OLDEST <= (moment if moment.tzinfo else moment.replace(tzinfo=UTC)) <= now + AHEAD


def _of_record(content: bytes) -> Said:
    if len(content) > RECORD_MAX_BYTES:
        raise NotTaken(f"it is JSON of more than {RECORD_MAX_BYTES // 1_000_000} MB, which no record is")
    try:
        record = json.loads(content)
    except (ValueError, RecursionError):
        raise NotTaken("it breaks off, or is no JSON") from None
    schema = record.get("schema") if isinstance(record, dict) else None
    reader = READERS.get(schema) if isinstance(schema, str) else None
    if reader is None and isinstance(schema, str) and schema.startswith("mediacheck/"):
        raise PassedOver("it is a record of mediacheck that says nothing of one face")
    if reader is None:
        raise NotTaken("it is JSON, and no record that a ledger of stores takes")
    try:
        return reader(record, content)
    except (KeyError, TypeError, ValueError, AttributeError, OverflowError, RecursionError):
        raise NotTaken("it is a record in which something is missing or wrong") from None


def _report(record: Mapping[str, Any], _: bytes) -> Said:
    card, files = record["card"], record["files"]
    digests = [file["sha256"] for file in files if file["kind"] in SHOWN]
    hashed = all(isinstance(digest, str) and len(digest) == 64 for digest in digests)
    content = content_key(digests) if hashed else None
    return Said(
        kind="check",
        seen_at=_moment(record["checked_at"]),
        display=_text(record["display"]),
        face=_text(record["face"]),
        verdict=_one_of(VerdictWord, record["verdict"]),
        content=content,
        held=content is not None and _is_held(record),
        profile=_text(record["profile"]["id"]) or "",
        card_label=_text(card["label"]) or "",
        file_system=_text(card["file_system"]) or "",
        findings=_findings(record["findings"]),
    )


def _is_held(record: Mapping[str, Any]) -> bool:
    """Whether it was told, without a doubt, if the card belongs on its face, and in the present version."""
    open_ones = {gap["rule"] for gap in record["not_checked"]}
    return record["face"] is not None and open_ones.isdisjoint(("loop-wrong-face", "loop-outdated"))


def _findings(found: list[Mapping[str, Any]]) -> tuple[Noted, ...]:
    noted = [
        Noted(_rule(each["rule"]), each["severity"], safe(str(each["message"]))[:TEXT_MAX])
        for each in found
        if each["severity"] in SEVERITIES
    ]
    worst_first = sorted(noted, key=lambda one: SEVERITIES[one.severity])
    first = {one.rule: one for one in reversed(worst_first)}
    return tuple(one for one in worst_first if first[one.rule] is one)[:FINDINGS_MAX]


def _rule(name: str) -> str:
    if len(name) > RULE_MAX or not RULE.fullmatch(name):
        raise ValueError("no name of a rule")
    return name


def _fix_report(record: Mapping[str, Any], content: bytes) -> Said:
    """The check of the copy, and the verdict on the whole."""
    checked = _report(record["check"], content) if record["check"] is not None else None
    verdict = _one_of(VerdictWord, record["verdict"])
    moment = _moment(record["fixed_at"])
    if checked is None:
        return Said("fix", moment, verdict=verdict, profile=_text(record["profile"]["id"]) or "")
    return replace(checked, kind="fix", seen_at=moment, verdict=verdict)


def _manifest(record: Mapping[str, Any], content: bytes) -> Said:
    """A manifest bears no date, so that the same content gives the same manifest: when it came counts."""
    if sum(map(content.count, (b"{", b"[", b","))) > MARKS_OF_FILE * MANIFEST_MAX_FILES:
        raise NotTaken(f"it is a manifest of more than {MANIFEST_MAX_FILES:,} files, which no card holds")
    try:
        manifest = manifest_of(content, "it")
    except ManifestError as error:
        raise NotTaken(str(error).rstrip(".")) from error
    return Said(
        kind="manifest",
        seen_at=UNDATED,
        verdict=manifest.verdict,
        content=content_key(file.sha256 for file in manifest.files if file.kind in SHOWN),
        profile=safe(manifest.profile_id),
        card_label=safe(manifest.label or ""),
        file_system=manifest.file_system or "",
    )


def _identification(record: Mapping[str, Any], _: bytes) -> Said:
    loops = record["loops"]
    face = record["face"]
    first = next((loop for loop in loops if loop["face"] == face), loops[0] if loops else {})
    answer: Answer = _one_of(Answer, record["answer"])
    unsure = {"photo": ("none", "other version"), "clip": ("none",)}  # a clip may be filmed from a screen
    if answer in unsure.get(record["looked_at"], ()):
        answer = "not recognised"
    if answer in ("match", "other version") and not loops:
        raise ValueError("a loop was recognised, and none is named")
    whose = {(loop["display"], loop["face"]) for loop in loops}
    several = answer == "match" and face is None and len(whose) > 1  # faces that share a loop
    single = answer in ("match", "other version") and not several
    return Said(
        kind="identification",
        seen_at=_moment(record["taken_at"] or record["identified_at"]),
        display=_text(record["display"]),
        face=_text(record["face"]),
        answer=answer,
        shows_display=_text(first["display"]) if single else None,
        shows_face=_text(first["face"]) if single else None,
        version=_text(first["version"]) if single else None,
    )


UNDATED = OLDEST
READERS: Mapping[str, Callable[[Mapping[str, Any], bytes], Said]] = {
    "mediacheck/report/1": _report,
    "mediacheck/fix-report/1": _fix_report,
    "mediacheck/manifest/1": _manifest,
    "mediacheck/identification/1": _identification,
}


def _moment(text: str) -> datetime:
    moment = datetime.fromisoformat(text)
    if moment.tzinfo is None:
        raise ValueError("a moment without a time zone")
    return moment.astimezone(UTC).replace(microsecond=0)


def _text(value: object) -> str | None:
    """Text as it may be kept and shown anywhere."""
    if value is None:
        return None
    if not isinstance(value, str):
        raise TypeError("no text")
    return safe(value)[:TEXT_MAX]


def _one_of(words: Any, value: object) -> Any:
    if value not in get_args(words):
        raise ValueError("a word that is not known here")
    return value
