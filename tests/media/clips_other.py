"""Recipes for the older and newer codecs, and for sound alone.

It must not hold more than recipes; see `tests.media.recipe` and `tests.media.truth`.
"""

from __future__ import annotations

from tests.media.clips_h264_h265 import AAC, BFF, BT709, FILM, HLG, NTSC, PQ, TFF
from tests.media.recipe import Variant

VP9 = "-c:v libvpx-vp9 -deadline realtime -cpu-used 8 -b:v 200k"
AV1 = "-c:v libsvtav1 -preset 12 -crf 50"

OLDER = (
    Variant("mpeg4.mp4", f"-c:v mpeg4 {AAC}",
            "MP4; MPEG-4 Simple 25 8 4:2:0 progressive; AAC 48000 2", sound="stereo@48000"),
    Variant("mpeg4-b-frames.avi", "-c:v mpeg4 -bf 2 -vtag XVID -c:a libmp3lame",
            "AVI; MPEG-4 Advanced_Simple 25 8 4:2:0 progressive; MP3 48000 2", sound="stereo@48000"),
    Variant("mpeg4-tff.mp4", f"-c:v mpeg4 {TFF}", "MP4; MPEG-4 Simple 25 8 4:2:0 interlaced", rate="50"),
    Variant("mpeg4-pixel-12-11.avi", "-c:v mpeg4 -c:a ac3 -vf setsar=12/11",
            "AVI; MPEG-4 Simple 25 8 4:2:0 progressive pixel=12/11; AC-3 48000 2",
            size="352x288", sound="stereo@48000"),
    Variant("mpeg2.mpg", "-c:v mpeg2video -c:a mp2",
            "MPEG-PS; MPEG-2 Main 25 8 4:2:0 progressive; MP2 48000 2", sound="stereo@48000"),
    Variant("mpeg2-disc.mpg", f"-c:v mpeg2video {TFF} -aspect 16:9 -c:a ac3 -f dvd",
            "MPEG-PS; MPEG-2 Main 25 8 4:2:0 interlaced pixel=64/45; AC-3 48000 2",
            size="720x576", rate="50", sound="stereo@48000"),
    Variant("mpeg2-tff.ts", f"-c:v mpeg2video {TFF} -c:a mp2",
            f"MPEG-TS; MPEG-2 Main {NTSC} 8 4:2:0 interlaced; MP2 48000 2",
            rate="60000/1001", seconds="1.001", sound="stereo@48000"),
    Variant("mpeg2-bff.ts", f"-c:v mpeg2video {BFF}",
            "MPEG-TS; MPEG-2 Main 25 8 4:2:0 interlaced", rate="50"),
    Variant("mpeg2-422.ts", "-c:v mpeg2video -pix_fmt yuv422p -profile:v 0 -level:v 5",
            "MPEG-TS; MPEG-2 4:2:2 25 8 4:2:2 progressive"),
    Variant("mpeg2.mkv", "-c:v mpeg2video -c:a mp2",
            "MKV; MPEG-2 Main 24 8 4:2:0 progressive; MP2 44100 1", rate="24", sound="mono@44100"),
    Variant("mpeg1.mpg", "-c:v mpeg1video -c:a mp2 -f mpeg",
            "MPEG-PS; MPEG-1 - 30 8 4:2:0 progressive; MP2 44100 2", rate="30", sound="stereo@44100"),
    Variant("mjpeg.avi", "-c:v mjpeg -pix_fmt yuvj422p -c:a pcm_s16le",
            "AVI; MJPEG - 25 8 4:2:2 progressive; PCM 22050 1", sound="mono@22050"),
    Variant("mjpeg.mov", "-c:v mjpeg -pix_fmt yuvj420p -c:a pcm_s16be",
            "MOV; MJPEG - 25 8 4:2:0 progressive; PCM 44100 2", sound="stereo@44100"),
    Variant("prores-proxy.mov", "-c:v prores_ks -profile:v 0 -c:a pcm_s24le",
            "MOV; ProRes Proxy 25 10 4:2:2 progressive; PCM 48000 2", sound="stereo@48000"),
    Variant("prores-hq.mov", f"-c:v prores_ks -profile:v 3 {BT709}",
            f"MOV; ProRes HQ {NTSC} 10 4:2:2 progressive colour=bt709/bt709", rate=NTSC, seconds="1.001"),
    Variant("prores-4444.mov", "-c:v prores_ks -profile:v 4 -pix_fmt yuv444p10le",
            "MOV; ProRes 4444 24 12 4:4:4 progressive", rate="24"),
    Variant("wmv2.wmv", "-c:v wmv2 -c:a wmav2",
            "WMV; WMV2 - 25 8 4:2:0 -; WMA 44100 2", sound="stereo@44100"),
    Variant("wmv1.wmv", "-c:v wmv1 -c:a wmav1",
            "WMV; WMV1 - 30 8 4:2:0 -; WMA 44100 2", rate="30", sound="stereo@44100"),
)  # fmt: skip

NEWER = (
    Variant("vp9-opus.webm", f"{VP9} -c:a libopus",
            "WebM; VP9 Profile_0 30 8 4:2:0 progressive; Opus 48000 2", rate="30", sound="stereo@48000"),
    Variant("vp9-vorbis.webm", f"{VP9} -c:a libvorbis",
            f"WebM; VP9 Profile_0 {FILM} 8 4:2:0 progressive; Vorbis 44100 2",
            rate=FILM, seconds="1.001", sound="stereo@44100"),
    Variant("vp9-444.webm", f"{VP9} -pix_fmt yuv444p", "WebM; VP9 Profile_1 25 8 4:4:4 progressive"),
    Variant("vp9-10-bit.mkv", f"{VP9} -pix_fmt yuv420p10le {PQ}",
            "MKV; VP9 Profile_2 25 10 4:2:0 progressive colour=bt2020/smpte2084"),
    Variant("vp9.mp4", f"{VP9} -c:a libopus",
            "MP4; VP9 Profile_0 25 8 4:2:0 progressive; Opus 48000 2", sound="stereo@48000"),
    Variant("av1.mp4", f"{AV1} {AAC}",
            "MP4; AV1 Main 25 8 4:2:0 progressive; AAC 48000 2", sound="stereo@48000"),
    Variant("av1.webm", f"{AV1} -c:a libopus",
            f"WebM; AV1 Main {NTSC} 8 4:2:0 progressive; Opus 48000 2",
            rate=NTSC, seconds="1.001", sound="stereo@48000"),
    Variant("av1-10-bit.mkv", f"{AV1} -pix_fmt yuv420p10le {HLG}",
            "MKV; AV1 Main 25 10 4:2:0 progressive colour=bt2020/arib-std-b67"),
)  # fmt: skip

SOUND = (
    Variant("sound.mp3", "-c:a libmp3lame", "MP3; MP3 44100 2", size="", sound="stereo@44100"),
    Variant("sound.wav", "-c:a pcm_s16le", "WAV; PCM 48000 2", size="", sound="stereo@48000"),
    Variant("sound.flac", "-c:a flac", "FLAC; FLAC 44100 1", size="", sound="mono@44100"),
    Variant("sound.ogg", "-c:a libvorbis", "Ogg; Vorbis 44100 2", size="", sound="stereo@44100"),
    Variant("sound.m4a", "-c:a aac", "MP4; AAC 44100 2", size="", sound="stereo@44100"),
)  # fmt: skip
