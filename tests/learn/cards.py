"""Hand-made cards that play, and any number of others for laws: every fact may differ from file to file.

It must not read files: what a survey would have found is written down here.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from typing import Any, get_args

from hypothesis import strategies as st

from mediacheck.card.model import Volume
from mediacheck.check import judged
from mediacheck.learn.derive import learned
from mediacheck.learn.limits import profile_of
from mediacheck.learn.model import Key, Taught, Value
from mediacheck.loop import File
from mediacheck.measure.model import Leader, Measurements, Span
from mediacheck.media.facts import AudioFacts, MediaFacts, StillFacts, VideoFacts
from mediacheck.names import Depth, FileSystem, VideoCodec
from mediacheck.profile_files import LoadedProfile
from mediacheck.report.model import Report
from mediacheck.survey import Surveyed
from tests.rules import make
from tests.rules.measuring import CLEAN

H264_LEVELS_SEEN = ("1b", "3", "3.1", "4", "4.1", "4.2", "5.1")
RATES = tuple(
    map(Fraction, ("24000/1001", "23.976", "24", "25", "29.97", "30", "50", "60", "12.5", "1/3", "97/7"))
)


def taught(name: str, *files: File, **changes: Any) -> Taught:
    """A card of this name with these files, numbered in this order, each of them another one."""
    placed = tuple(_unlike(file, number, name) for number, file in enumerate(make.placed(files)))
    return Taught(name, Surveyed(make.card(*placed, **changes), placed, {}))


def _unlike(file: File, number: int, card: str) -> File:
    """Sizes and hashes that differ; a file that has a hash keeps both, as a copy of another."""
    if file.sha256 is not None:
        return file
    size = file.entry.size_bytes and file.entry.size_bytes + 1 + number + sum(map(ord, card))
    return replace(file, entry=replace(file.entry, size_bytes=size), sha256=f"{card} {number}")


def two(name: str = "good", **video: Any) -> Taught:
    """A card with two different clips whose pictures have these facts."""
    facts = make.video_facts(**video)
    return taught(name, make.video_file("a.mp4", video=facts), make.video_file("b.mp4", video=facts))


def values(*cards: Taught, depth: Depth = "quick") -> dict[Key, Value]:
    """What these cards teach, by key."""
    return {value.key: value for value in learned(cards, depth).values}


def limits(*cards: Taught, depth: Depth = "quick") -> dict[Key, Any]:
    """The limits among it."""
    return {key: value.value for key, value in values(*cards, depth=depth).items() if value.is_limit}


def report(card: Taught, learned_from: Sequence[Taught], depth: Depth = "quick") -> Report:
    """The report on a card for the player that the others tell of."""
    profile = profile_of(learned(learned_from, depth).values)
    return judged(card.surveyed, LoadedProfile(profile, "", ""), depth)


def fails(card: Taught, *learned_from: Taught) -> set[str]:
    """Which rules fail a card or warn of it."""
    findings = report(card, learned_from).findings
    return {finding.rule for finding in findings if finding.severity != "note"}


@st.composite
def videos(draw: st.DrawFn) -> VideoFacts:
    """Pictures that a card may hold and play, the odd ones among them."""
    codec = draw(st.sampled_from((*get_args(VideoCodec), "H.264", "H.264", "FLV1")))
    width, height = draw(st.sampled_from(((1920, 1080), (1280, 720), (1080, 1920), (3840, 2160), (321, 7))))
    count = draw(st.integers(3, 12))
    rate = draw(st.sampled_from(RATES))
    sizes = draw(st.lists(st.integers(1, 4_000_000), min_size=count, max_size=count))
    known = codec in ("H.264", "H.265")
    level = draw(st.sampled_from(_levels(codec)))
    return make.video_facts(
        codec=codec,
        profile=draw(st.sampled_from(_profiles(codec))),
        level=level,
        level_needed=draw(st.sampled_from((*_levels(codec), "none"))) if known else None,
        width=width,
        height=height,
        frame_rate=rate,
        frame_rate_mode=draw(st.sampled_from(("constant", "constant", "constant", "variable"))),
        bit_depth=draw(st.sampled_from((8, 8, 10, 9, None))),
        chroma=draw(st.sampled_from(("4:2:0", "4:2:0", "4:2:2", None))),
        scan=draw(st.sampled_from(("progressive", "progressive", "interlaced", None))),
        bit_rate=draw(st.sampled_from((None, 0, 1, 99_999, 20_000_000)) | st.integers(1, 60_000_000)),
        duration=count / rate,
        rotation=draw(st.sampled_from((0, 0, 0, 90))),
        pixel_aspect=draw(st.sampled_from((Fraction(1), Fraction(1), Fraction(4, 3)))),
        colour_transfer=draw(st.sampled_from(("bt709", "bt709", "smpte2084"))),
        packets=make.packet_facts(rate=rate, sizes_bytes=sizes, keyframe_every=draw(st.integers(1, 12))),
    )


def _levels(codec: str) -> tuple[str | None, ...]:
    kinds: dict[str, tuple[str | None, ...]] = {
        "H.264": H264_LEVELS_SEEN,
        "H.265": ("3", "4", "4.1", "6.2", "4.0"),
        "MPEG-2": ("Main", "High", None),
        "MPEG-4": ("0", "3", "5", "0b", None),
        "VP9": ("3.1", "4", "7", None),
        "AV1": ("2", "5.1", None),
    }
    return kinds.get(codec, (None, "4"))


def _profiles(codec: str) -> tuple[str | None, ...]:
    kinds: dict[str, tuple[str | None, ...]] = {
        "H.264": ("Baseline", "Constrained Baseline", "Main", "High", "high 10", "Unheard of", None),
        "H.265": ("Main", "Main 10", None),
        "MPEG-2": ("Main", "Simple"),
    }
    return kinds.get(codec, ("Simple", None))


tracks = st.builds(
    AudioFacts,
    codec=st.sampled_from(("AAC", "AAC", "MP3", "PCM", "unknown")),
    profile=st.none(),
    sample_rate=st.sampled_from((48_000, 44_100, 7_350, None)),
    channels=st.sampled_from((1, 2, 6, 0, None)),
    bit_rate=st.sampled_from((None, 1_536_000, 64_000)) | st.integers(1, 700_000),
    duration=st.sampled_from((Fraction(10), Fraction(11), Fraction(3))),
)
stills = st.builds(
    StillFacts,
    format=st.sampled_from(("JPEG", "JPEG", "PNG", "TIFF")),
    width=st.integers(1, 5000),
    height=st.integers(1, 5000),
    progressive=st.booleans(),
    colour=st.sampled_from(("RGB", "RGB", "CMYK")),
    bit_depth=st.sampled_from((8, 8, 16)),
    orientation=st.sampled_from((1, 1, 6)),
)
FOLDERS = ("", "", "", "Media/", "media/", "media/b/", "other/")
STEMS = ("a", "Clip 2", "größe", "ein langer name", "B", "[x]", "c.d")
EXTENSIONS = {
    "MP4": ".mp4",
    "MKV": ".mkv",
    "AVI": ".avi",
    "FLV": ".flv",
    "JPEG": ".jpg",
    "PNG": ".png",
    "TIFF": ".tif",
}


@st.composite
def items(draw: st.DrawFn) -> tuple[str, MediaFacts]:
    """The ending of a name, and what is in the file: a video or a still."""
    if draw(st.integers(0, 4)) == 0:
        still = draw(stills)
        return EXTENSIONS[still.format], MediaFacts("still", still=still)
    video, kind = draw(videos()), draw(st.sampled_from(("MP4", "MP4", "MKV", "AVI", "FLV")))
    wrapped = make.container_facts(
        name=kind,
        index=draw(st.sampled_from(("first", "last", "missing"))) if kind in ("MP4", "AVI") else None,
        fragmented=kind == "MP4" and draw(st.booleans()),
    )
    ending = draw(st.sampled_from((EXTENSIONS[kind],) * 4 + (".mov",)))
    length = draw(st.sampled_from((video.duration, video.duration, video.duration, None)))
    return ending, MediaFacts(
        "video", wrapped, video, tuple(draw(st.lists(tracks, max_size=2))), duration=length
    )


others = st.sampled_from(("read me.txt", "notes.TXT", "no ending", "music.mp3", "[1].cfg", "dot.txt."))
volumes = st.none() | st.builds(
    Volume,
    file_system=st.sampled_from((*get_args(FileSystem)[:5], "ext", None)),
    partition_table=st.sampled_from(("MBR", "none", "GPT", None)),
    label=st.sampled_from(("", "SPRING", "spring?", None)),
    capacity_bytes=st.integers(10**6, 10**11),
    cluster_bytes=st.sampled_from((128, 512, 32_768, 262_144, None)),
    dirty=st.just(False),
)
shown = st.builds(
    lambda black, leader: replace(CLEAN, width=None, height=None, black=black, leader=leader),
    st.sampled_from(((), (Span(0.0, 1.5),))),
    st.sampled_from(((), (Leader("countdown", 0.0, 1.0),))),
)


@st.composite
def cards(draw: st.DrawFn, name: str = "card") -> Taught:
    """Any card, most of which play: with copies of files, with other files, in folders, of any kind."""
    kinds = draw(st.lists(items(), min_size=1, max_size=5))
    measured = draw(st.none() | shown)
    files = []
    for ending, facts in kinds:
        path = draw(st.sampled_from(FOLDERS)) + draw(st.sampled_from(STEMS)) + ending
        files.append(make.file_of(path, facts.kind, facts, measurements=_fitting(measured, facts)))
    files += [
        make.audio_file(path) if path.endswith("mp3") else make.other_file(path)
        for path in draw(st.lists(others, max_size=2, unique=True))
    ]
    unlike = {file.entry.path.casefold(): file for file in files}
    volume = draw(volumes)
    return taught(
        name, *unlike.values(), volume=volume, damage=() if volume else None, order_known=bool(volume)
    )


def _fitting(measured: Measurements | None, facts: MediaFacts) -> Measurements | None:
    """A decode that brought all frames of this video."""
    if measured is None or facts.video is None or facts.video.packets is None:
        return None
    packets = facts.video.packets
    return replace(measured, frames=packets.count, seconds=float(packets.duration_s))
