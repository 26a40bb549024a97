"""What was learned put into a profile that is there: its learned values widen, all else stays as it is.

It must not make any limit tighter, nor touch a character that a person wrote.

The text is edited in place, value by value, and not written anew: so whatever is not widened stays the same
to the last space.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace

from mediacheck.learn.document import HEAD, NOT_KEPT, RULES, Branch, sections
from mediacheck.learn.edits import Change, edited
from mediacheck.learn.model import Key, Learned, Plain, Value
from mediacheck.learn.plain import dotted, listed, one_line, shown
from mediacheck.learn.standing import Standing, Text, standing
from mediacheck.learn.widening import (
    SIDES,
    as_folder,
    as_list,
    codec_of,
    is_limit,
    rivals,
    subject,
    wider,
)
from mediacheck.profile import LIGHTEST_FIRST, PictureLimits, SoundLimits

MARK = "\ufeff"
"""Of the encoding, which some editors write at the start of a file."""
FOLDER, BELOW = ("layout", "media_folder"), ("layout", "subfolders")
VIDEO_CODECS = ("video", "codecs")
TOO_LITTLE = ("too little for a limit", "what the codecs are is no limit")
"""Stand in the evidence of what is no limit yet, and still widens one that is there. Any other reason means
that the limit does not hold, as where files do not say what it is held against."""
UNSAID = ("bit_rate_max", "bit_rate_peak_max", "bit_depths", "chroma", "scan", "gop_seconds_max")
UNSAID_OF_CODEC = {"video": ("profiles", "level_max"), "audio": tuple(SoundLimits.model_fields)}
"""Nothing is learned of these where no file says what it is, or where a profile cannot name what was seen, as
both kinds of scan: a limit does not hold then."""
CODEC_RULES = {"video": "video-codec", "audio": "audio-codec"}


@dataclass(frozen=True, slots=True)
class Merged:
    """The text after the merge, and in sentences what was widened and what stayed as a person wrote it."""

    text: str
    widened: tuple[str, ...]
    kept: tuple[str, ...]


def merged(existing_text: str, learned: Learned) -> Merged:
    """Widen what was learned before by what was learned now. Raises InvalidFile for what is no profile."""
    mark = MARK if existing_text.startswith(MARK) else ""
    merge = _Merge(standing(existing_text.removeprefix(MARK)), learned)
    for section in sections(learned):
        merge.take(section)
    return Merged(
        mark + edited(merge.there, merge.changes, merge.added, learned.cards),
        tuple(merge.widened()),
        tuple(dict.fromkeys(merge.kept)),
    )


@dataclass(frozen=True, slots=True)
class _Merge:
    """Collects what changes; the text is edited once, at the end."""

    there: Text
    learned: Learned
    changes: dict[Key, Change] = field(default_factory=dict)
    added: dict[Key, list[Branch]] = field(default_factory=dict)
    """New keys, by the block that they are added to."""
    kept: list[str] = field(default_factory=list)

    def take(self, section: Branch) -> None:
        """Everything that was learned in one section."""
        for branch in (*section.under, *_unsaid_in(section)):
            if branch.is_codecs:
                self._take_codecs(branch)
            elif branch.value is not None and section.key == RULES:
                self._take_rule(branch, branch.value)
            elif branch.value is not None and not is_limit(branch.key):
                self._take_setting(branch.value)
            elif branch.value is not None and _shared(branch.key) is None:
                self._widen(self._target(branch.key), branch.value)
        if section.key == ("video",):
            self._take_pictures(section)
        if section.key == ("layout",):
            self._take_folder(section)

    def _take_codecs(self, branch: Branch) -> None:
        """Codecs seen for the first time get a place of their own; those of sound are widened key by key."""
        names = self.there.values.get(branch.key)
        if names is None:
            return
        new = [below for below in branch.under if below.key[-1] not in as_list(names.value)]
        value = branch.value or Value(branch.key, (), "", True)
        if new and (names.remark is None or branch.key not in self.there.blocks):
            self._keep(names, tuple(below.key[-1] for below in new), value.evidence)
        elif new:
            every = (*as_list(names.value), *(below.key[-1] for below in new))
            self.changes[branch.key] = Change(branch.key[-1], every, value.evidence)
            self.added[branch.key] = new
        if names.remark is not None and _is_open(value):
            rule = (RULES[0], CODEC_RULES[branch.key[0]])
            off = Value(rule, "off", value.evidence)
            self._take_rule(Branch(rule, off, ()), off)
        if branch.key[0] == "audio":
            self._take_sounds(branch, new)

    def _take_sounds(self, codecs: Branch, new: Sequence[Branch]) -> None:
        for below in codecs.under:
            unsaid = (_unsaid((*below.key, name)) for name in UNSAID_OF_CODEC["audio"])
            own = {value.key: value for value in (*unsaid, *_leaves(below))}
            for value in () if below in new else own.values():
                self._widen(self._target(value.key), value)

    def _take_pictures(self, video: Branch) -> None:
        """Each codec's limits, its own and those of all codecs, widen what limits that codec."""
        values = list(_leaves(video))
        shared = {subject(value.key): value for value in values if _shared(value.key)}
        codecs = tuple(dict.fromkeys(codec_of(value.key) for value in values if codec_of(value.key)))
        named = next((as_list(part.value.value) for part in video.under if part.is_codecs and part.value), ())
        known = self.there.values.get(VIDEO_CODECS)
        every = ("", *map(str, as_list(known.value) if known else ()))
        for codec in dict.fromkeys([*map(str, named), *codecs]) or every:
            if self._is_refused(codec):
                continue
            own = {subject(value.key): value for value in values if codec and codec_of(value.key) == codec}
            firm = {about: value for about, value in own.items() if value.is_limit}
            loose = [value for about, value in own.items() if about not in firm]
            for value in (*{**_unsaid_of(codec), **own, **shared, **firm}.values(), *loose):
                if not (self._is_added(codec) and value in firm.values()):
                    self._widen(self._limiting(codec, value.key[-1]), value, codec)

    def _is_refused(self, codec: str) -> bool:
        """Whether a person's list leaves the codec out: then its limits are of no use."""
        names = self.there.values.get(VIDEO_CODECS)
        is_named = names is None or codec in ("", *as_list(names.value))
        return not (is_named or self._is_added(codec))

    def _is_added(self, codec: str) -> bool:
        return any(branch.key[-1] == codec for branch in self.added.get(VIDEO_CODECS, ()))

    def _take_setting(self, value: Value) -> None:
        """What the player is set to is no limit: there is nothing to widen."""
        target = self.there.values.get(value.key)
        if target is not None and value.is_limit and not _means_same(value.value, target.value):
            self._keep(target, value.value, value.evidence)

    def _take_folder(self, layout: Branch) -> None:
        """Where the folders differ, files lie in folders below the one that is above both.

        Where a person wrote that none of these counts, the folder stays: else its own files would be refused.
        """
        seen = next((part.value for part in layout.under if part.key == FOLDER), None)
        there = self._target(FOLDER)
        if seen is None or there is None or as_folder(seen.value) == as_folder(there.value):
            return
        if there.remark or wider(FOLDER, there.value, seen.value) == there.value:
            below = self._target(BELOW)
            self._widen(below, replace(seen, key=BELOW, value=True))
            none_counts = below is not None and below.remark is None and not below.value
            if none_counts and FOLDER in self.changes:
                del self.changes[FOLDER]
                self._keep(there, seen.value, seen.evidence)

    def _take_rule(self, branch: Branch, value: Value) -> None:
        """A rule that was never named has its usual weight: to make it lighter is no tightening.

        One that is told as learned and is not there was taken out by a person, and what people wrote without
        any rules stays so.
        """
        there, name = self.there.values.get(RULES), branch.key[-1]
        if branch.key in self.there.values:
            self._widen(self._target(branch.key), value)
        elif not (value.is_limit and value.value in LIGHTEST_FIRST[:2]):
            return
        elif there is not None and there.remark is not None and name not in as_list(there.value):
            self.added[RULES] = _with_rule(self.added.get(RULES, []), branch)
            told = [part.key[-1] for part in self.added[RULES]]
            self.changes[RULES] = Change(RULES[0], (*as_list(there.value), *told), NOT_KEPT)
        elif there is None and self._is_learned():
            section = next(iter(self.added.get((), [])), None)
            rules = _with_rule(section.under if section else (), branch)
            names = tuple(part.key[-1] for part in rules)
            self.added[()] = [Branch(RULES, Value(RULES, names, NOT_KEPT), tuple(rules))]
        else:
            usual = Standing(branch.key, "as usual", None, (0, 0), (0, 0), "")
            self._keep(usual, value.value, value.evidence)

    def _is_learned(self) -> bool:
        """Whether the profile was made by learning, though it may hold no limit yet."""
        made = any(line.strip() == HEAD[0] for line in self.there.text.splitlines())
        return made or any(each.remark for each in self.there.values.values())

    def _widen(self, target: Standing | None, value: Value, codec: str = "") -> None:
        """Widen what limits this, or say that it stays. A key that is missing restricts nothing."""
        if target is None:
            return
        now = self.changes.get(target.key) or Change(target.key[-1], target.value, "")
        if now.value is None:
            return
        name, wide = _widened(target.key, now, value, codec)
        if name == now.name and _means_same(wide, now.value):
            return
        if target.remark is None or (wide is None and self._is_covered(target, value)):
            self._keep(target, value.value, value.evidence, value.key[-1])
        else:
            self.changes[target.key] = Change(name, wide, _of_both(value.evidence))

    def _limiting(self, codec: str, name: str) -> Standing | None:
        """What limits the pictures of one codec: its own value, else that of all codecs."""
        return self._target((*VIDEO_CODECS, codec, name)) or self._target(("video", name))

    def _target(self, key: Key) -> Standing | None:
        """The value that limits this key at its own place; a size may stand there exactly or at most."""
        return next((self.there.values[one] for one in rivals(key) if one in self.there.values), None)

    def _is_covered(self, target: Standing, value: Value) -> bool:
        """Whether a value for all codecs would take the place of this one of a codec if it went.

        One that was learned goes with it; one that a person wrote stays.
        """
        shared = self._target(("video", target.key[-1])) if codec_of(target.key) else None
        if shared is None:
            return False
        if shared.remark is not None:
            self.changes[shared.key] = Change(shared.key[-1], None, _of_both(value.evidence))
        return shared.remark is None

    def _keep(self, target: Standing, seen: Plain, evidence: str, name: str | None = None) -> None:
        """`name` is the key of what was seen, where a size may be exact or a greatest one."""
        cards = listed(map(one_line, self.learned.cards)) if self.learned.cards else "the cards"
        why = " as you wrote it" if target.remark is None else ""
        most = "at most " if name is not None and name != target.key[-1] and name.endswith("_max") else ""
        self.kept.append(
            f"{dotted(target.key)} stays {shown(target.key, target.value)}{why}; "
            f"{most}{shown(target.key, seen)} was found on {cards} ({one_line(evidence)})."
        )

    def widened(self) -> Iterator[str]:
        """What changes, in sentences."""
        for key, now in self.changes.items():
            if key == RULES:
                continue
            before, inside = shown(key, self.there.values[key].value), (*key[:-1], now.name)
            wide = "no limit" if now.value is None else shown(inside, now.value)
            if now.name != key[-1]:
                wide, before = f"at most {wide}", f"exactly {before}"
            yield f"{dotted(key)}: {wide} now, {before} before ({one_line(now.evidence)})."
        for block, branches in self.added.items():
            if block in ((), RULES):
                for leaf in (leaf for branch in branches for leaf in _leaves(branch)):
                    why = one_line(leaf.evidence)
                    yield f"{dotted(leaf.key)}: {leaf.value} now, not named before ({why})."


def _with_rule(rules: Sequence[Branch], branch: Branch) -> list[Branch]:
    """One more rule, once: the lighter setting of two."""
    before = next((part.value for part in rules if part.key == branch.key), None)
    if before is None:
        return [*rules, branch]
    if branch.value is not None and wider(branch.key, before.value, branch.value.value) == before.value:
        return list(rules)
    return [branch if part.key == branch.key else part for part in rules]


def _unsaid(key: Key) -> Value:
    """Stands for a limit that nothing was learned of, though there were files that it is about."""
    return Value(key, "no value", "files do not say it, or it cannot be named in a profile", is_limit=False)


def _unsaid_of(codec: str) -> dict[str, Value]:
    shared = {name: _unsaid(("video", name)) for name in UNSAID}
    own = {name: _unsaid((*VIDEO_CODECS, codec, name)) for name in UNSAID_OF_CODEC["video"]}
    return {**shared, **own} if codec else shared


def _unsaid_in(section: Branch) -> Iterator[Branch]:
    """Keys of a section that must have been learned where there were such files at all."""
    there = {part.key[-1]: part.value for part in section.under}
    use = there.get("use")
    names = {
        "video": ("containers", "codecs") * bool(set(there) - {"containers"}),
        "audio": ("codecs",) * (use is not None and use.value != "none"),
        "stills": ("formats",) * ("width_max" in there),
    }.get(section.key[0], ())
    for name in names:
        if name not in there:
            yield Branch((*section.key, name), _unsaid((*section.key, name)), ())


def _is_open(value: Value) -> bool:
    """Whether no limit holds here, however many files there may be."""
    return not (value.is_limit or any(words in value.evidence for words in TOO_LITTLE))


def _leaves(branch: Branch) -> Iterator[Value]:
    """All values of a branch but the names of codecs."""
    is_codec = branch.key[1:2] == ("codecs",) and len(branch.key) < 4
    if branch.value is not None and not (is_codec or branch.is_set):
        yield branch.value
    for below in branch.under:
        yield from _leaves(below)


def _shared(key: Key) -> str | None:
    """The name of a limit of pictures that holds for every codec; None for any other key."""
    return key[1] if len(key) == 2 and key[0] == "video" and key[1] in PictureLimits.model_fields else None


def _widened(key: Key, now: Change, value: Value, codec: str) -> tuple[str, Plain | None]:
    """The name and the value that cover both. An exact size that differs from another is a greatest one."""
    assert now.value is not None, "what is no limit any more is not widened"
    if _is_open(value):
        return now.name, None
    side = now.name.removesuffix("_max")
    if side not in SIDES:
        return now.name, wider(key, now.value, value.value, codec)
    exact = now.name == value.key[-1] == side and now.value == value.value
    return (side if exact else f"{side}_max"), wider((*key[:-1], f"{side}_max"), now.value, value.value)


def _of_both(evidence: str) -> str:
    """Evidence beside that of a limit: that it would be too little for one is no matter then."""
    clauses = evidence.split("; ")
    enough = [clause for clause in clauses if not any(words in clause for words in TOO_LITTLE)]
    return "; ".join(enough or clauses)


def _means_same(wide: Plain | None, old: Plain) -> bool:
    """Whether two spellings mean the same, as `4:2:0` and `[4:2:0]`, or 4.1 and "4.1"."""
    return wide is not None and [*map(str, as_list(wide))] == [*map(str, as_list(old))]
