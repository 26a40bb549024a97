"""Recipes for H.264 and H.265 in the containers that players take.

It must not hold more than recipes; see `tests.media.recipe` and `tests.media.truth`.
"""

from __future__ import annotations

from tests.media.recipe import Variant
from tests.media.surgery import rolled, turned

X264 = "-c:v libx264 -preset veryfast -pix_fmt yuv420p"
X265 = "-c:v libx265 -preset ultrafast -x265-params log-level=error:pools=1"
AAC = "-c:a aac -b:a 64k"
FAST = "-movflags +faststart"
PQ = "-color_primaries bt2020 -color_trc smpte2084 -colorspace bt2020nc"
HLG = "-color_primaries bt2020 -color_trc arib-std-b67 -colorspace bt2020nc"
BT709 = "-color_primaries bt709 -color_trc bt709 -colorspace bt709"
TFF = "-vf interlace=scan=tff -flags +ilme+ildct -top 1"
BFF = "-vf interlace=scan=bff -flags +ilme+ildct -top 0"
UNEVEN = "-vf select='not(eq(mod(n\\,5)\\,3))' -vsync vfr"
FILM, NTSC = "24000/1001", "30000/1001"
ROLL_NAME = "eleven chrs"

H264 = (
    Variant("h264-baseline.mp4", f"{X264} -profile:v baseline {AAC} {FAST}",
            "MP4; H.264 Constrained_Baseline 25 8 4:2:0 progressive; AAC 44100 1", sound="mono@44100"),
    Variant("h264-main-24.mp4", f"{X264} -profile:v main {AAC} {FAST}",
            "MP4; H.264 Main 24 8 4:2:0 progressive; AAC 48000 2", rate="24", sound="stereo@48000"),
    Variant("h264-film.mp4", f"{X264} {AAC}",
            f"MP4; H.264 High {FILM} 8 4:2:0 progressive; AAC 48000 2",
            rate=FILM, seconds="1.001", sound="stereo@48000"),
    Variant("h264-ntsc.mp4", f"{X264} {AAC} {FAST}",
            f"MP4; H.264 High {NTSC} 8 4:2:0 progressive; AAC 48000 2",
            rate=NTSC, seconds="1.001", sound="stereo@48000"),
    Variant("h264-30.mov", f"{X264} -c:a pcm_s16le {BT709}",
            "MOV; H.264 High 30 8 4:2:0 progressive colour=bt709/bt709; PCM 48000 2",
            rate="30", sound="stereo@48000"),
    Variant("h264-50.mp4", f"{X264} {FAST}", "MP4; H.264 High 50 8 4:2:0 progressive", rate="50"),
    Variant("h264-60.mp4", f"{X264} -c:a libmp3lame -b:a 128k {FAST}",
            "MP4; H.264 High 60 8 4:2:0 progressive; MP3 44100 2", rate="60", sound="stereo@44100"),
    Variant("h264-uneven.mp4", f"{X264} {UNEVEN} {FAST}",
            "MP4; H.264 High 20 8 4:2:0 progressive variable", seconds="2"),
    Variant("h264-uneven.mkv", f"{X264} {UNEVEN}",
            "MKV; H.264 High 20 8 4:2:0 progressive variable", seconds="2"),
    Variant("h264-10-bit.mp4", "-c:v libx264 -preset veryfast -pix_fmt yuv420p10le",
            "MP4; H.264 High_10 25 10 4:2:0 progressive"),
    Variant("h264-422.mp4", "-c:v libx264 -preset veryfast -pix_fmt yuv422p",
            "MP4; H.264 High_4:2:2 25 8 4:2:2 progressive"),
    Variant("h264-444.mp4", "-c:v libx264 -preset veryfast -pix_fmt yuv444p",
            "MP4; H.264 High_4:4:4_Predictive 25 8 4:4:4 progressive"),
    Variant("h264-tff.mp4", f"{X264} {TFF} -x264-params tff=1",
            "MP4; H.264 High 25 8 4:2:0 interlaced", rate="50"),
    Variant("h264-bff.mp4", f"{X264} {BFF} -x264-params bff=1",
            "MP4; H.264 High 25 8 4:2:0 interlaced", rate="50"),
    Variant("h264-tff.ts", f"{X264} {TFF} -x264-params tff=1 -c:a mp2",
            "MPEG-TS; H.264 High 25 8 4:2:0 interlaced; MP2 48000 2", rate="50", sound="stereo@48000"),
    Variant("h264-turned-90.mp4", X264,
            "MP4; H.264 High 25 8 4:2:0 progressive turned=90", patch=turned(90)),
    Variant("h264-turned-180.mp4", X264,
            "MP4; H.264 High 25 8 4:2:0 progressive turned=180", patch=turned(180)),
    Variant("h264-turned-270.mov", X264,
            "MOV; H.264 High 25 8 4:2:0 progressive turned=270", patch=turned(270)),
    # ffmpeg 5.1 writes the counter-clockwise matrix for this tag.
    Variant("h264-turned-by-tag.mp4", X264,
            "MP4; H.264 High 25 8 4:2:0 progressive turned=270", after="-metadata:s:v rotate=90"),
    # ffmpeg reads a roll of 90 degrees as a picture to be turned counter-clockwise.
    Variant("h264-turned.mkv", f"{X264} -write_crc32 0 -metadata:s:v title='{ROLL_NAME}'",
            "MKV; H.264 High 25 8 4:2:0 progressive turned=270", patch=rolled(90, ROLL_NAME.encode())),
    Variant("h264-pixel-4-3.mp4", f"{X264} -aspect 64:27",
            "MP4; H.264 High 25 8 4:2:0 progressive pixel=4/3"),
    Variant("h264-pixel-12-11.mp4", f"{X264} -vf setsar=12/11",
            "MP4; H.264 High 25 8 4:2:0 progressive pixel=12/11", size="352x288"),
    Variant("h264-pixel-16-11.mkv", f"{X264} -vf setsar=16/11",
            "MKV; H.264 High 25 8 4:2:0 progressive pixel=16/11", size="352x288"),
    Variant("h264-fragments.mp4", f"{X264} -g 10 {AAC} -movflags frag_keyframe+empty_moov",
            "MP4; H.264 High 25 8 4:2:0 progressive; AAC 48000 2", sound="stereo@48000"),
    Variant("h264-fragments-base.mp4", f"{X264} -g 10 {AAC} -movflags frag_keyframe+default_base_moof",
            "MP4; H.264 High 25 8 4:2:0 progressive; AAC 48000 2", sound="stereo@48000"),
    Variant("h264-fragments-dash.mp4", f"{X264} -g 10 -movflags dash+delay_moov",
            "MP4; H.264 High 25 8 4:2:0 progressive"),
    Variant("h264-surround.mp4", f"{X264} {AAC} {FAST}",
            "MP4; H.264 High 25 8 4:2:0 progressive; AAC 48000 6", sound="5.1@48000"),
    Variant("h264-ac3.mp4", f"{X264} -c:a ac3 {FAST}",
            "MP4; H.264 High 25 8 4:2:0 progressive; AC-3 48000 6", sound="5.1@48000"),
    Variant("h264-two-sounds.mp4", f"{X264} {AAC} -map 0 -map 1 -map 1",
            "MP4; H.264 High 25 8 4:2:0 progressive; AAC 48000 2; AAC 48000 2", sound="stereo@48000"),
    Variant("h264-level-1b.mp4", f"{X264} -profile:v baseline -level 1b",
            "MP4; H.264 Constrained_Baseline 15 8 4:2:0 progressive", size="176x144", rate="15"),
    # A second of picture is kept of two: the edit list leaves the first out.
    Variant("h264-cut.mp4", f"{X264} -g 100", "MP4; H.264 High 25 8 4:2:0 progressive",
            seconds="1", encoded_seconds="2", before_copy="-ss 1", after=""),
    Variant("h264-late.mp4", f"{X264} {AAC}",
            "MP4; H.264 High 25 8 4:2:0 progressive; AAC 48000 2", sound="stereo@48000",
            after="-output_ts_offset 0.4"),
    Variant("h264-flac.mkv", f"{X264} -c:a flac",
            f"MKV; H.264 High {FILM} 8 4:2:0 progressive; FLAC 96000 2",
            rate=FILM, seconds="1.001", sound="stereo@96000"),
    Variant("h264-pcm.mkv", f"{X264} -c:a pcm_s24le",
            "MKV; H.264 High 60 8 4:2:0 progressive; PCM 48000 2", rate="60", sound="stereo@48000"),
    Variant("h264.avi", f"{X264} -bf 0 -c:a libmp3lame",
            "AVI; H.264 High 25 8 4:2:0 progressive; MP3 44100 2", sound="stereo@44100"),
    Variant("h264-pixel-12-11.ts", f"{X264} {HLG} -vf setsar=12/11",
            "MPEG-TS; H.264 High 25 8 4:2:0 progressive pixel=12/11 colour=bt2020/arib-std-b67",
            size="352x288"),
    Variant("h264-colours-and-shape.avi", f"{X264} {BT709} -bf 0 -vf setsar=5/4",
            "AVI; H.264 High 25 8 4:2:0 progressive pixel=5/4 colour=bt709/bt709"),
    Variant("h264-422-10-bit.ts", "-c:v libx264 -preset veryfast -pix_fmt yuv422p10le",
            "MPEG-TS; H.264 High_4:2:2 25 10 4:2:2 progressive"),
    Variant("h264.ts", f"{X264} -c:a ac3",
            f"MPEG-TS; H.264 High {NTSC} 8 4:2:0 progressive; AC-3 48000 2",
            rate=NTSC, seconds="1.001", sound="stereo@48000"),
    Variant("h264.m2ts", f"{X264} {AAC} -mpegts_m2ts_mode 1",
            "MPEG-TS; H.264 High 25 8 4:2:0 progressive; AAC 48000 2", sound="stereo@48000"),
)  # fmt: skip

H265 = (
    Variant("h265-main.mp4", f"{X265} -pix_fmt yuv420p -tag:v hvc1 {AAC} {FAST}",
            "MP4; H.265 Main 25 8 4:2:0 progressive; AAC 48000 2", sound="stereo@48000"),
    Variant("h265-hev1.mp4", f"{X265} -pix_fmt yuv420p -tag:v hev1",
            "MP4; H.265 Main 60 8 4:2:0 progressive", rate="60"),
    Variant("h265-pq.mp4", f"{X265} -pix_fmt yuv420p10le {PQ}",
            f"MP4; H.265 Main_10 {FILM} 10 4:2:0 progressive colour=bt2020/smpte2084",
            rate=FILM, seconds="1.001"),
    Variant("h265-hlg.mkv", f"{X265} -pix_fmt yuv420p10le {HLG}",
            "MKV; H.265 Main_10 50 10 4:2:0 progressive colour=bt2020/arib-std-b67", rate="50"),
    Variant("h265-422.mov", f"{X265} -pix_fmt yuv422p10le -tag:v hvc1",
            "MOV; H.265 Rext 25 10 4:2:2 progressive"),
    Variant("h265-444.mp4", f"{X265} -pix_fmt yuv444p", "MP4; H.265 Rext 25 8 4:4:4 progressive"),
    Variant("h265.ts", f"{X265} -pix_fmt yuv420p {AAC}",
            "MPEG-TS; H.265 Main 25 8 4:2:0 progressive; AAC 48000 2", sound="stereo@48000"),
    Variant("h265-pq-12-11.ts", f"{X265} -pix_fmt yuv420p10le {PQ} -vf setsar=12/11",
            "MPEG-TS; H.265 Main_10 25 10 4:2:0 progressive pixel=12/11 colour=bt2020/smpte2084"),
    Variant("h265-high-tier.mp4",
            f"{X265}:level-idc=4.1:high-tier=1:vbv-maxrate=30000:vbv-bufsize=30000 -pix_fmt yuv420p",
            "MP4; H.265 Main 25 8 4:2:0 progressive"),
    Variant("h265-turned.mp4", f"{X265} -pix_fmt yuv420p",
            "MP4; H.265 Main 25 8 4:2:0 progressive turned=90", patch=turned(90)),
    Variant("h265-tff.mp4", f"{X265}:interlace=tff -pix_fmt yuv420p -vf setfield=tff",
            "MP4; H.265 Main 25 8 4:2:0 interlaced"),
)  # fmt: skip
