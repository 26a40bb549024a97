"""Likeness against scikit-image and the published formula, pairs that belong together, and equal streams."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray
from skimage.metrics import structural_similarity

from mediacheck import programs
from mediacheck.repair import compare
from mediacheck.repair.compare import (
    EVERY,
    FRAMES_MIN,
    Measure,
    Pair,
    Sampling,
    Source,
    floor_of,
    has_vmaf,
    likeness,
    reference,
    sampling_for,
    split,
)
from mediacheck.repair.encode import CannotMake, make
from mediacheck.repair.model import Likeness
from tests.media.footage import real_footage
from tests.repair.masters import FILTERS, FPS, LIMIT_S, both_ffmpegs, facts_of, luma, master, run

FFMPEGS = pytest.mark.parametrize("ffmpeg", both_ffmpegs(), ids=lambda path: path.name[:12])
NEWEST = both_ffmpegs()[-1]
LOSSLESS = ("-c:v", "libx264", "-qp", "0", "-preset", "ultrafast")
COARSE = ("-c:v", "libx264", "-crf", "45")
FREE = 10**12


@pytest.fixture(scope="session")
def footage(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Real moving pictures, small."""
    return small("bigbuckbunny.mp4", tmp_path_factory.mktemp("footage"))


def small(name: str, folder: Path) -> Path:
    """Two seconds of real footage in a size that is decoded in no time, with nothing more lost."""
    (found,) = (place for place in real_footage() if place.name == name)
    run("-t", "2", "-i", found, "-an", "-vf", "scale=240:136", "-c:v", "ffvhuff", folder / "small.mkv")
    return folder / "small.mkv"


def made(
    source: Path, folder: Path, encoder: tuple[str, ...], filters: str = FILTERS, ffmpeg: Path = NEWEST
) -> Path:
    """The new file, the first two seconds of it."""
    place = folder / "new.mkv"
    place.unlink(missing_ok=True)
    line = ("-t", "2", "-colorspace", "bt709", "-i", str(source), "-an", "-vf", filters, *encoder, str(place))
    make(ffmpeg, line, place, LIMIT_S)
    return place


def kept(source: Path, folder: Path, sampling: Sampling, ffmpeg: Path, filters: str = FILTERS) -> Path:
    """The pictures of the master, as a run keeps them."""
    place = folder / "kept.nut"
    place.unlink(missing_ok=True)
    line = reference(filters, sampling, f"file:{place}")
    make(ffmpeg, ("-t", "2", "-colorspace", "bt709", "-i", str(source), *line), place, LIMIT_S)
    return place


def like(
    source: Path,
    folder: Path,
    new: Path,
    sampling: Sampling,
    ffmpeg: Path = NEWEST,
    measure: Measure = "SSIM",
) -> Likeness:
    """How like the new file is, two seconds of both."""
    pair = Pair(ffmpeg, kept(source, folder, sampling, ffmpeg), f"file:{new}", sampling, LIMIT_S)
    return likeness(pair, measure, 90.0, 2 * FPS, lambda share: None)


def by_formula(one: NDArray[np.uint8], other: NDArray[np.uint8]) -> float:
    """Z. Wang and others (2004), equation 13, with windows of 8 x 8 in steps of 4."""
    c1, c2 = (0.01 * 255) ** 2, (0.03 * 255) ** 2
    x, y = (
        sliding_window_view(plane.astype(np.float64), (8, 8))[::4, ::4].reshape(-1, 64)
        for plane in (one, other)
    )
    mean_x, mean_y = x.mean(axis=1), y.mean(axis=1)
    shared = ((x - mean_x[:, None]) * (y - mean_y[:, None])).sum(axis=1) / 63
    spread = x.var(axis=1, ddof=1) + y.var(axis=1, ddof=1)
    like = (2 * mean_x * mean_y + c1) * (2 * shared + c2)
    return float((like / ((mean_x**2 + mean_y**2 + c1) * (spread + c2))).mean())


@FFMPEGS
def test_ssim_is_that_of_the_published_formula(footage: Path, tmp_path: Path, ffmpeg: Path) -> None:
    new = made(footage, tmp_path, COARSE)
    found = like(footage, tmp_path, new, Sampling(), ffmpeg)
    pairs = list(zip(luma(tmp_path / "kept.nut"), luma(new), strict=True))
    ours = [by_formula(one, other) for one, other in pairs]
    assert found.frames == len(ours) == 2 * FPS
    assert found.value == pytest.approx(np.mean(ours), abs=2e-3)
    assert found.worst == pytest.approx(min(ours), abs=2e-3)
    theirs = [structural_similarity(*pair, data_range=255) for pair in pairs]  # type: ignore[no-untyped-call]
    assert found.value == pytest.approx(np.mean(theirs), abs=0.02)
    assert found.value < 0.93
    assert not found.enough


@FFMPEGS
@pytest.mark.parametrize("sampling", [Sampling(), Sampling(7), Sampling(7, pairs=True)])
def test_a_lossless_picture_is_wholly_like_its_master(
    footage: Path, tmp_path: Path, ffmpeg: Path, sampling: Sampling
) -> None:
    new = made(footage, tmp_path, LOSSLESS)
    wanted = Likeness("SSIM", 1.0, 1.0, 0.95, -(-2 * FPS // sampling.every), sampling.every)
    assert like(footage, tmp_path, new, sampling, ffmpeg) == wanted


@FFMPEGS
@pytest.mark.parametrize(
    ("pixels", "marks", "encoder"),
    [
        ("yuvj420p", "range=pc", ("-c:v", "mjpeg", "-q:v", "1", "-qmin", "1")),
        ("yuv420p10le", "range=tv", ("-c:v", "libx265", "-x265-params", "lossless=1:log-level=none")),
        ("yuv444p", "range=tv", LOSSLESS),
    ],
)
def test_other_kinds_of_pictures_are_compared_as_they_are(
    footage: Path, tmp_path: Path, ffmpeg: Path, pixels: str, marks: str, encoder: tuple[str, ...]
) -> None:
    filters = FILTERS.replace("format=yuv420p", f"format={pixels}").replace("range=tv", marks)
    new = made(footage, tmp_path, encoder, filters, ffmpeg)
    place = kept(footage, tmp_path, Sampling(7), ffmpeg, filters)
    found = likeness(
        Pair(ffmpeg, place, f"file:{new}", Sampling(7), LIMIT_S), "SSIM", 90.0, 2 * FPS, lambda share: None
    )
    assert found.worst > 0.995


@pytest.mark.parametrize("sampling", [Sampling(), Sampling(7), Sampling(7, pairs=True)])
def test_pictures_that_are_one_frame_late_are_clearly_less_like(tmp_path: Path, sampling: Sampling) -> None:
    bikes = small("bikes.mp4", tmp_path)
    late = f"{FILTERS},tpad=start=1:start_mode=clone,trim=end_frame={2 * FPS}"
    assert like(bikes, tmp_path, made(bikes, tmp_path, LOSSLESS), sampling).worst == 1.0
    assert like(bikes, tmp_path, made(bikes, tmp_path, LOSSLESS, late), sampling).value < 0.92


def test_a_container_that_moves_all_times_changes_nothing(footage: Path, tmp_path: Path) -> None:
    new = made(footage, tmp_path, LOSSLESS)
    moved = tmp_path / "moved.ts"
    run("-i", new, "-c", "copy", "-output_ts_offset", "3.33", "-f", "mpegts", moved)
    assert like(footage, tmp_path, moved, Sampling(7)).value == 1.0


def test_the_worst_picture_is_found(footage: Path, tmp_path: Path) -> None:
    spoilt = f"{FILTERS},boxblur=3:enable=between(n\\,28\\,28)"
    new = made(footage, tmp_path, LOSSLESS, spoilt)
    found = like(footage, tmp_path, new, Sampling(7))
    assert found.worst < 0.9
    assert found.value == pytest.approx((7 + found.worst) / 8)
    assert like(footage, tmp_path, new, Sampling(5)).worst == 1.0


def test_pictures_that_are_missing_are_not_taken_for_like(footage: Path, tmp_path: Path) -> None:
    new = made(footage, tmp_path, LOSSLESS, f"{FILTERS},trim=end_frame=20")
    with pytest.raises(
        CannotMake, match="Of 50 pictures that were to be compared with the master, 20 could be"
    ):
        like(footage, tmp_path, new, Sampling())


@pytest.mark.skipif(not has_vmaf(NEWEST), reason="this ffmpeg has no libvmaf")
def test_vmaf_tells_good_from_bad_and_samples_say_what_all_pictures_do(footage: Path, tmp_path: Path) -> None:
    new = made(footage, tmp_path, COARSE)
    bad = like(footage, tmp_path, new, Sampling(), NEWEST, "VMAF")
    some = like(footage, tmp_path, new, Sampling(5, pairs=True), NEWEST, "VMAF")
    good = like(footage, tmp_path, made(footage, tmp_path, LOSSLESS), Sampling(), NEWEST, "VMAF")
    assert (good.measure, good.floor, good.frames) == ("VMAF", 90.0, 50)
    assert good.value > 97
    assert bad.value < 60
    assert some.value == pytest.approx(bad.value, abs=2.0)
    assert (some.frames, some.every) == (10, 5)


def test_without_vmaf_it_is_ssim(footage: Path, tmp_path: Path) -> None:
    """An ffmpeg that was believed to have it, and an answer that is no answer."""
    new = made(footage, tmp_path, LOSSLESS)
    sampling = Sampling(5, pairs=True)
    oldest = both_ffmpegs()[0]
    place = kept(footage, tmp_path, sampling, oldest)
    (tmp_path / "kept.json").write_text('{"frames": []}')
    pair = Pair(oldest, place, f"file:{new}", sampling, LIMIT_S)
    if has_vmaf(oldest):
        pytest.skip("every ffmpeg here has libvmaf")
    found = likeness(pair, "VMAF", 80.0, 2 * FPS, lambda share: None)
    assert found == Likeness("SSIM", 1.0, 1.0, floor_of("SSIM", 80.0), 10, 5)


@pytest.mark.parametrize(
    ("measure", "frames", "size", "free", "wanted"),
    [
        ("SSIM", 1000, (1280, 720), FREE, Sampling(7)),
        ("VMAF", 1000, (1280, 720), FREE, Sampling(23, pairs=True)),
        ("SSIM", 10, (1280, 720), FREE, Sampling()),
        ("SSIM", 75, (1280, 720), FREE, Sampling(3)),
        ("VMAF", 75, (1280, 720), FREE, Sampling(3, pairs=True)),
        ("SSIM", 36_000, (1920, 1080), FREE, Sampling(282)),
        ("SSIM", 1000, (1920, 1080), 0, Sampling(42)),
        ("SSIM", 0, (0, 0), FREE, Sampling()),
    ],
)
def test_which_pictures_are_compared(
    measure: Measure, frames: int, size: tuple[int, int], free: int, wanted: Sampling
) -> None:
    assert sampling_for(measure, frames, *size, free) == wanted


@given(st.sampled_from(("SSIM", "VMAF")), st.integers(0, 10**6), st.integers(2, 8000), st.integers(0, 10**13))
def test_what_is_kept_of_the_master_stays_within_bounds(
    measure: Measure, frames: int, side: int, free: int
) -> None:
    found = sampling_for(measure, frames, side, side, free)
    kept_pictures = -(-frames // found.every) * (found.step if found.every > 1 else 1)
    bound = max(2 * FRAMES_MIN, min(free, compare.REFERENCE_MAX_BYTES) / (side * side * 1.5))
    assert kept_pictures <= 2 * bound + 2
    assert found.every >= min(EVERY[measure], frames // FRAMES_MIN) or found.every == 1


def test_what_needs_every_picture_sees_every_picture() -> None:
    filters = "bwdif=deint=all,fps=25:start_time=0,crop=w=10,scale=w=min(4\\,iw):h=2,format=yuv420p"
    line = reference(filters, Sampling(7), "OUT")
    assert line[line.index("-vf") + 1] == (
        "bwdif=deint=all,fps=25:start_time=0,select=lt(mod(n\\,7)\\,1),crop=w=10,scale=w=min(4\\,iw):h=2,"
        f"format=yuv420p,{compare.PLAIN}"
    )
    assert line[-1] == "OUT"


@given(st.lists(st.sampled_from(["a=1", "b=x\\,y", "c='p,q'", "d\\'e", "f='\\'", "scale"]), max_size=6))
def test_a_chain_is_divided_at_its_commas_alone(steps: list[str]) -> None:
    assert split(",".join(steps)) == tuple(steps)


@pytest.mark.parametrize(
    ("measure", "points", "wanted"),
    [("VMAF", 90.0, 90.0), ("SSIM", 90.0, 0.95), ("SSIM", 100.0, 1.0), ("SSIM", 0.0, 0.5)],
)
def test_the_floor_in_each_measure(measure: Measure, points: float, wanted: float) -> None:
    assert floor_of(measure, points) == pytest.approx(wanted)


def test_an_ffmpeg_with_vmaf_is_known_by_its_list() -> None:
    assert [has_vmaf(path) for path in both_ffmpegs()] == [
        b" libvmaf " in programs.run([path, "-filters"], time_limit_s=LIMIT_S).stdout
        for path in both_ffmpegs()
    ]


def streams(place: Path, picture: bool = True, sound: bool = True) -> Source:
    return Source(("-i", f"file:{place}"), "0:V:0" if picture else None, "0:a:0" if sound else None)


@FFMPEGS
def test_packets_that_came_through_are_the_same(tmp_path: Path, ffmpeg: Path) -> None:
    source = master(tmp_path, 1.0)
    new = tmp_path / "new.mov"
    run("-i", source, "-map", "0", "-c", "copy", new)
    found = compare.same(ffmpeg, streams(source), streams(new), LIMIT_S)
    assert [(one.stream, one.of) for one in found] == [("picture", "packets"), ("sound", "packets")]
    assert all(len(one.sha256) == 64 for one in found)
    alone = compare.same(ffmpeg, streams(source, picture=False), streams(new, picture=False), LIMIT_S)
    assert alone == found[1:]


@FFMPEGS
def test_packets_that_are_packed_differently_are_decoded(tmp_path: Path, ffmpeg: Path) -> None:
    """The same picture and sound in an MPEG-TS, where both have other headers."""
    source = master(tmp_path, 1.0)
    new = tmp_path / "new.ts"
    run("-i", source, "-map", "0", "-c", "copy", new)
    found = compare.same(ffmpeg, streams(source), streams(new), LIMIT_S)
    assert [(one.stream, one.of) for one in found] == [("picture", "decoded"), ("sound", "decoded")]


def test_a_turning_mark_is_no_other_picture(tmp_path: Path) -> None:
    source = master(tmp_path, 1.0)
    turned, other = tmp_path / "turned.mp4", tmp_path / "other.ts"
    run("-i", source, "-map", "0", "-c", "copy", "-metadata:s:v", "rotate=90", turned)
    assert (video := facts_of(turned).video) is not None
    assert video.rotation == 270
    run("-i", turned, "-map", "0:V:0", "-c", "copy", "-bsf:v", "h264_metadata=level=5.1", other)
    found = compare.same(NEWEST, streams(turned, sound=False), streams(other, sound=False), LIMIT_S)
    assert [(one.stream, one.of) for one in found] == [("picture", "decoded")]


@pytest.mark.parametrize("kind", ["picture", "sound"])
def test_a_stream_that_changed_is_told(tmp_path: Path, kind: str) -> None:
    source, new = master(tmp_path, 1.0), tmp_path / "new.mp4"
    again = ("-c:v", "libx264", "-crf", "30") if kind == "picture" else ("-c:a", "aac", "-b:a", "32k")
    run("-i", source, "-c", "copy", *again, new)
    with pytest.raises(CannotMake, match=f"Its {kind} did not come through unchanged"):
        compare.same(NEWEST, streams(source), streams(new), LIMIT_S)


def test_a_file_that_is_not_there_is_not_the_same(tmp_path: Path) -> None:
    source = master(tmp_path, 1.0)
    with pytest.raises(CannotMake, match="did not come through"):
        compare.same(NEWEST, streams(source), streams(tmp_path / "none.mp4"), LIMIT_S)
