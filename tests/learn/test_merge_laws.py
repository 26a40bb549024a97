"""The laws of merging: it never tightens, what was learned covers both, and what people wrote stays."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from mediacheck.learn.document import document
from mediacheck.learn.merge import merged
from mediacheck.learn.model import Learned
from mediacheck.media.levels import level_order
from mediacheck.profile import CodecLimits, Profile, SoundLimits
from tests.learn.plain_values import learnings
from tests.learn.test_document import profile_of


@settings(max_examples=25, deadline=None)
@given(learnings(st.just("")), learnings(st.just("")), st.data())
def test_a_merge_never_tightens_and_keeps_what_people_wrote(
    first: Learned, second: Learned, data: st.DataObject
) -> None:
    text = _edited(document(first, "x", ""), data)
    before, now = profile_of(text), merged(text, second)
    after_it = profile_of(now.text)
    assert _tighter(before, after_it) == []
    assert merged(now.text, second) == replace(now, widened=())
    assert [line for line in text.splitlines() if "MINE" in line and line not in now.text.splitlines()] == []


@settings(max_examples=25, deadline=None)
@given(learnings(st.just("")), learnings(st.just("")))
def test_what_only_was_learned_covers_both(first: Learned, second: Learned) -> None:
    """Every limit of a profile learned from the second alone is kept by the merged one."""
    now = merged(document(first, "x", ""), second)
    wide, own = profile_of(now.text), profile_of(document(second, "x", ""))
    stays = {key for key in _tighter(own, wide, also_new=False) if not _stays(key, now.kept)}
    assert stays == set()


def _stays(key: str, kept: tuple[str, ...]) -> bool:
    """Whether a sentence says that this limit, or what it is for, stays as it was."""
    return any(sentence.split(" stays ")[0].endswith(key.rpartition(".")[2]) for sentence in kept)


def _edited(text: str, data: st.DataObject) -> str:
    """Some values lose their comment, and get one of a person's at the end of their line."""
    lines = text.split("\n")
    told = [number for number, line in enumerate(lines) if line.lstrip().startswith("# learned")]
    for number in data.draw(st.sets(st.sampled_from(told)) if told else st.just(set())):
        lines[number] = lines[number].replace("# learned", "# MINE")
        lines[number + 1] += "  # MINE" if not lines[number + 1].endswith("|") else ""
    return "\n".join(lines)


def _tighter(before: Profile, now: Profile, also_new: bool = True) -> list[str]:
    """Limits that refuse now what they took before, key by key, reckoned without the code that is tested.

    `also_new`: limits that there were none of before count too.
    """
    pairs = [
        (f"{section}.{key}", getattr(getattr(before, section), key), getattr(getattr(now, section), key))
        for section in ("card", "layout", "audio", "stills", "loop")
        for key in type(getattr(before, section)).model_fields
        if key not in ("codecs", "media_folder")
        and (also_new or key in getattr(before, section).model_fields_set)
    ]
    folder = now.layout.media_root
    inside = folder is None or before.layout.media_root in (folder, None) or now.layout.subfolders
    found = [] if inside or not also_new else ["layout.media_folder"]
    pairs.append(("video.containers", before.video.containers, now.video.containers))
    for kind in ("video", "audio"):
        was, is_now = getattr(before, kind).codecs, getattr(now, kind).codecs
        pairs.append((f"{kind}.codecs", was and tuple(was), is_now and tuple(is_now)))
        any_codec = ("H.264", "H.265", "VC-1", "AAC", "MP3") if also_new else ()
        for codec in any_codec if was is None else was:
            pairs += _of_codec(kind, codec, before, now)
    tighter = [key for key, was, is_now in pairs if _is_tighter(key, was, is_now, also_new)]
    order = ("off", "note", "warn", "fail", None)
    heavier = [
        rule for rule in before.rules if order.index(now.rules.get(rule)) > order.index(before.rules[rule])
    ]
    return tighter + heavier + found


def _of_codec(kind: str, codec: str, before: Profile, now: Profile) -> list[tuple[str, Any, Any]]:
    """What limits one codec before and now, an exact size as a greatest one as well."""
    if kind == "audio":
        own_before, own_now = (
            next((own for name, own in (one.audio.codecs or {}).items() if name == codec), SoundLimits())
            for one in (before, now)
        )
        return [
            (f"audio.{codec}.{key}", getattr(own_before, key), getattr(own_now, key))
            for key in SoundLimits.model_fields
        ]
    old, new = before.video.limits_for(codec), now.video.limits_for(codec)
    pairs = []
    for key in CodecLimits.model_fields:
        was, is_now = getattr(old, key), getattr(new, key)
        if key == "level_max":
            was, is_now = (level and level_order(codec, level) for level in (was, is_now))
        if key in ("width_max", "height_max") and was is None:
            was = getattr(old, key.removesuffix("_max"))
        pairs.append((f"{codec}.{key}", was, is_now))
    return pairs


def _is_tighter(key: str, was: Any, is_now: Any, also_new: bool) -> bool:
    name = key.rpartition(".")[2]
    if is_now is None or (name, is_now) == ("use", "allowed") or name in ("seconds", "loudness_tolerance_lu"):
        return False
    if was is None and name != "use":
        return also_new
    if isinstance(is_now, bool):
        return bool(was and not is_now if name == "subfolders" else is_now and not was)
    if isinstance(is_now, tuple):
        return not (set(is_now) <= set(was) if name == "required_files" else set(was) <= set(is_now))
    if isinstance(is_now, str) or name in ("width", "height"):
        return bool(was != is_now)
    return bool(is_now > was if name.endswith("_min") else is_now < was)
