"""Any report whatever, for laws that hold for all of them."""

from __future__ import annotations

from datetime import UTC
from fractions import Fraction
from pathlib import Path
from typing import get_args

from hypothesis import strategies as st

from mediacheck.card.model import Entry, Volume
from mediacheck.loop import File
from mediacheck.measure.model import (
    Bars,
    Combed,
    DecodeError,
    Flash,
    Leader,
    LeaderKind,
    Measurements,
    NotMeasured,
    Seam,
    Sound,
    SoundEdge,
    Span,
)
from mediacheck.media.facts import (
    AudioFacts,
    ContainerFacts,
    Disagreement,
    FrameRateMode,
    IndexPlace,
    MediaFacts,
    StillFacts,
    Unreadable,
    VideoFacts,
)
from mediacheck.names import (
    RULE_NAMES,
    CardKind,
    Chroma,
    Depth,
    FileKind,
    FileSystem,
    PartitionTable,
    Scan,
    Severity,
    VerdictWord,
)
from mediacheck.report.model import (
    Counts,
    Finding,
    PlayItem,
    ProfileName,
    Report,
    ScreenShape,
    Unchecked,
)

words = st.text(max_size=12)
paths = st.text(min_size=1, max_size=12)
counts = st.integers(0, 2**40)
sides = st.integers(1, 65_536)
lengths = st.fractions(0, 10**6)
kinds = st.sampled_from(get_args(FileKind))
rules = st.sampled_from(RULE_NAMES)
sha256s = st.binary(min_size=32, max_size=32).map(bytes.hex)
rates = st.one_of(
    st.fractions(Fraction(1, 1000), 1000),
    st.sampled_from([Fraction(24000, 1001), Fraction(30000, 1001), Fraction(60000, 1001), Fraction(25)]),
)


def one_of(literal: object) -> st.SearchStrategy[str]:
    return st.sampled_from(get_args(literal))


def maybe(strategy: st.SearchStrategy[object]) -> st.SearchStrategy[object]:
    return st.none() | strategy


def several(strategy: st.SearchStrategy[object], most: int = 2) -> st.SearchStrategy[tuple[object, ...]]:
    return st.lists(strategy, max_size=most).map(tuple)


videos = st.builds(
    VideoFacts,
    codec=words,
    profile=maybe(words),
    level=maybe(words),
    width=counts,
    height=counts,
    pixel_aspect=st.fractions(Fraction(1, 1000), 1000),
    rotation=st.sampled_from([0, 90, 180, 270]),
    frame_rate=maybe(rates),
    frame_rate_mode=maybe(one_of(FrameRateMode)),
    bit_depth=maybe(counts),
    chroma=maybe(one_of(Chroma)),
    scan=maybe(one_of(Scan)),
    bit_rate=maybe(counts),
    duration=maybe(lengths),
    colour_primaries=maybe(words),
    colour_transfer=maybe(words),
    level_needed=maybe(words),
    level_reason=maybe(words),
    reference_frames=maybe(counts),
)
sounds = st.builds(
    AudioFacts, words, maybe(words), maybe(counts), maybe(counts), maybe(counts), maybe(lengths)
)
containers = st.builds(
    ContainerFacts, words, maybe(one_of(IndexPlace)), maybe(words), st.booleans(), st.booleans()
)
stills = st.builds(
    StillFacts,
    words,
    sides,
    sides,
    st.booleans(),
    words,
    counts,
    st.integers(1, 8),
    counts,
    maybe(words),
)
media = st.builds(
    MediaFacts,
    kind=kinds,
    container=maybe(containers),
    video=maybe(videos),
    audio=several(sounds),
    extra_video_streams=counts,
    other_streams=several(words),
    still=maybe(stills),
    duration=maybe(lengths),
    disagreements=several(st.builds(Disagreement, words, words, words)),
)
times = st.floats(0, 10**6)
changes = st.floats(0, 255)
levels = st.floats(-200, 20)
spans = st.builds(Span, times, times)
likenesses = st.floats(-1, 1)
pictures = st.binary(min_size=12, max_size=12).map(bytes.hex)
samples = several(st.floats(-1, 1), 6)
edges = st.builds(SoundEdge, samples, samples)
heard = st.builds(
    Sound,
    seconds=times,
    loudness_lufs=maybe(levels),
    true_peak_dbtp=maybe(levels),
    channel_peaks_dbfs=several(maybe(levels), 6),
    silent_start_s=times,
    silent_end_s=times,
    seam_step=maybe(times),
    tone=several(spans),
    start=maybe(edges),
    end=maybe(edges),
)
decodes = st.builds(
    Measurements,
    frames=counts,
    seconds=times,
    decode_errors=several(st.builds(DecodeError, words, maybe(times))),
    decode_error_count=counts,
    width=maybe(counts),
    height=maybe(counts),
    black=maybe(several(spans)),
    frozen=maybe(several(spans)),
    bars=maybe(st.builds(Bars, counts, counts, counts, counts)),
    leader=maybe(several(st.builds(Leader, one_of(LeaderKind), times, times))),
    flash=maybe(st.builds(Flash, counts, maybe(times), counts, maybe(times))),
    combed=maybe(st.builds(Combed, st.floats(0, 1), counts, counts)),
    seam=maybe(
        st.builds(
            Seam,
            changes,
            changes,
            changes,
            times,
            likeness=maybe(likenesses),
            usual_likeness=likenesses,
            first=maybe(pictures),
            last=maybe(pictures),
        )
    ),
    sound=maybe(heard),
    bit_rate_peak=maybe(counts),
    fingerprint=maybe(words),
    gaps=maybe(several(spans)),
    sound_errors=several(st.builds(DecodeError, words, maybe(times))),
    sound_error_count=counts,
)
measured = st.one_of(
    decodes,
    st.builds(NotMeasured, reason=words, expected=st.booleans()),
)
files = st.builds(
    File,
    entry=st.builds(Entry, paths, counts, counts, st.just(Path("card"))),
    kind=kinds,
    facts=maybe(st.one_of(media, st.builds(Unreadable, kinds, words))),
    measurements=maybe(measured),
    sha256=maybe(sha256s),
)
volumes = st.builds(
    Volume,
    file_system=maybe(one_of(FileSystem)),
    partition_table=maybe(one_of(PartitionTable)),
    label=maybe(words),
    serial=maybe(words),
    capacity_bytes=maybe(counts),
    cluster_bytes=maybe(counts),
    used_bytes=maybe(counts),
    free_bytes=maybe(counts),
)
findings = st.builds(
    Finding,
    rule=rules,
    severity=one_of(Severity),
    path=maybe(paths),
    found=words,
    wanted=words,
    message=words,
    action=words,
    fixable=st.booleans(),
    source=words,
)
reports = st.builds(
    Report,
    version=words,
    checked_at=st.datetimes(timezones=st.just(UTC)).map(lambda moment: moment.replace(microsecond=0)),
    depth=one_of(Depth),
    profile=st.builds(ProfileName, words, words, sha256s),
    screen=st.builds(
        ScreenShape, maybe(sides), maybe(sides), st.floats(0, 20), st.sampled_from([0, 90, 180, 270])
    ),
    verdict=one_of(VerdictWord),
    source=words,
    kind=one_of(CardKind),
    volume=maybe(volumes),
    order_known=st.booleans(),
    disk_order=st.booleans(),
    files=several(files, 3),
    items=several(st.builds(PlayItem, paths, maybe(lengths), st.booleans()), 4),
    loop_seconds=maybe(lengths),
    findings=several(findings, 4),
    checks=st.builds(Counts, counts, counts, counts, counts),
    not_checked=several(st.builds(Unchecked, rules, maybe(paths), words, st.booleans()), 4),
    display=maybe(words),
    face=maybe(words),
)
