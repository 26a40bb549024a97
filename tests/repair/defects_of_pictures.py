"""Moving pictures with one defect each, in what otherwise conforms.

It must not mend anything.
"""

from __future__ import annotations

from mediacheck.repair.model import Wishes
from tests.repair.case import of
from tests.repair.films import FIRST, MARKS, PLAIN, TONE, X264, Film, x264

HDR_PQ = ("-colorspace", "bt2020nc", "-color_primaries", "bt2020", "-color_trc", "smpte2084")
HDR_HLG = ("-colorspace", "bt2020nc", "-color_primaries", "bt2020", "-color_trc", "arib-std-b67")
HDR_H265 = (
    *("-c:v", "libx265", "-tag:v", "hvc1", "-pix_fmt", "yuv420p10le", *HDR_PQ, "-x265-params"),
    "log-level=error:keyint=25:hdr10=1:max-cll=1000,400:master-display="
    "G(13250,34500)B(7500,3000)R(34000,16000)WP(15635,16450)L(10000000,1)",
)
TEN_BIT = x264("-profile:v", "high10", "-pix_fmt", "yuv420p10le", marks=HDR_PQ)
TEN_BIT_HLG = x264("-profile:v", "high10", "-pix_fmt", "yuv420p10le", marks=HDR_HLG)
PICTURES = (
    of(
        "H.265",
        "video-codec",
        "picture",
        Film(video=("-c:v", "libx265", "-x265-params", "log-level=error", "-tag:v", "hvc1", *PLAIN, *MARKS)),
    ),
    of("MPEG-4", "video-codec", "picture", Film(video=("-c:v", "mpeg4", "-q:v", "3", "-g", "25"))),
    of(
        "MPEG-2",
        "video-codec",
        "picture",
        Film(video=("-c:v", "mpeg2video", "-q:v", "3"), wrapping=()),
        "seeds.ts",
    ),
    of(
        "MPEG-1 in a program stream",
        "video-codec",
        "picture",
        Film(video=("-c:v", "mpeg1video", "-q:v", "3"), sound=("-c:a", "mp2"), wrapping=()),
        "seeds.mpg",
    ),
    of(
        "VP9",
        "video-codec",
        "picture",
        Film(
            video=("-c:v", "libvpx-vp9", "-b:v", "500k", "-deadline", "realtime", *PLAIN),
            sound=("-c:a", "libopus"),
            wrapping=(),
        ),
        "seeds.webm",
    ),
    of(
        "AV1",
        "video-codec",
        "picture",
        Film(video=("-c:v", "libsvtav1", "-preset", "12", *PLAIN), wrapping=()),
        "seeds.mkv",
    ),
    of(
        "MJPEG",
        "video-codec",
        "picture",
        Film(
            video=("-c:v", "mjpeg", "-q:v", "3", "-pix_fmt", "yuvj420p"),
            sound=("-c:a", "pcm_s16le"),
            wrapping=(),
        ),
        "seeds.avi",
    ),
    of("ProRes", "video-codec", "picture", Film(video=("-c:v", "prores_ks", "-profile:v", "0")), "seeds.mov"),
    of(
        "profile",
        "video-profile",
        "picture",
        Film(),
        video={"codecs": {"H.264": {"profiles": ["Baseline"], "level_max": "3"}}},
    ),
    of("level", "video-level", "picture", Film(video=x264("-level:v", "4.1", *PLAIN))),
    of(
        "10 bit",
        "video-bit-depth",
        "picture",
        Film(video=x264("-profile:v", "high10", "-pix_fmt", "yuv420p10le")),
    ),
    of("4:2:2", "video-chroma", "picture", Film(video=x264("-profile:v", "high422", "-pix_fmt", "yuv422p"))),
    of("4:4:4", "video-chroma", "picture", Film(video=x264("-profile:v", "high444", "-pix_fmt", "yuv444p"))),
    of("too large", "video-resolution", "picture", Film(picture="testsrc2=s=640x360:r=25:d=2")),
    of("too small", "video-resolution", "picture", Film(picture="testsrc2=s=160x90:r=25:d=2")),
    of("odd size", "video-resolution", "picture", Film(picture="testsrc2=s=356x200:r=25:d=2")),
    of(
        "pixels not square",
        "video-pixel-aspect",
        "picture",
        Film(picture="testsrc2=s=240x180:r=25:d=2", filters="setsar=4/3"),
    ),
    of(
        "another shape, cut",
        "video-resolution",
        "picture",
        Film(picture="testsrc2=s=320x240:r=25:d=2"),
        wishes=Wishes(fit="cover"),
    ),
    of(
        "another shape, stretched",
        "video-resolution",
        "picture",
        Film(picture="testsrc2=s=320x240:r=25:d=2"),
        wishes=Wishes(fit="stretch"),
    ),
    of(
        "another shape where sizes are free",
        "video-shape",
        "picture",
        Film(picture="testsrc2=s=240x180:r=25:d=2"),
        wishes=Wishes(fit="cover"),
        video={"width": None, "height": None, "width_max": 320, "height_max": 180},
    ),
    of(
        "interlaced",
        "video-interlaced",
        "picture",
        Film(
            picture="testsrc2=s=320x180:r=50:d=2",
            filters="tinterlace=interleave_top,setfield=tff",
            video=(*X264, "-flags", "+ilme+ildct", "-x264opts", "tff=1", *PLAIN, *MARKS),
        ),
    ),
    of(
        "combed",
        "picture-combed",
        "picture",
        Film(
            picture="testsrc2=s=320x180:r=50:d=4",
            filters="tinterlace=interleave_top,setfield=prog",
            tone=TONE.replace("duration=2", "duration=4"),
        ),
    ),
    of(
        "turned 90",
        "video-rotation",
        "picture",
        Film(picture="testsrc2=s=180x320:r=25:d=2", again=("-metadata:s:v:0", "rotate=90")),
    ),
    of(
        "turned 270",
        "video-rotation",
        "picture",
        Film(picture="testsrc2=s=180x320:r=25:d=2", again=("-metadata:s:v:0", "rotate=270")),
    ),
    of("turned 180", "video-rotation", "picture", Film(again=("-metadata:s:v:0", "rotate=180"))),
    of(
        "upright for a turned panel",
        "video-resolution",
        "picture",
        Film(picture="testsrc2=s=180x320:r=25:d=2"),
        screen={"turned_degrees": 90},
    ),
    of("50 frames", "video-frame-rate", "picture", Film(picture="testsrc2=s=320x180:r=50:d=2")),
    of("60 frames", "video-frame-rate", "picture", Film(picture="testsrc2=s=320x180:r=60:d=2")),
    of("15 frames", "video-frame-rate", "picture", Film(picture="testsrc2=s=320x180:r=15:d=2")),
    of(
        "uneven frames",
        "video-frame-rate-variable",
        "picture",
        Film(
            filters="setpts=if(lt(N\\,20)\\,N\\,20+(N-20)*2)/25/TB",
            wrapping=("-fps_mode", "vfr", *FIRST),
            tone=None,
        ),
    ),
    of(
        "bit rate",
        "video-bit-rate",
        "picture",
        Film(video=x264("-level:v", "3", "-crf", "1", *PLAIN)),
        video={"bit_rate_max": 500_000},
    ),
    of(
        "peak",
        "video-bit-rate-peak",
        "picture",
        Film(video=x264("-level:v", "3", "-crf", "1", *PLAIN)),
        player={"buffer_seconds": 0.5},
        video={"bit_rate_max": None, "bit_rate_peak_max": 600_000},
    ),
    of(
        "few keyframes",
        "video-gop",
        "picture",
        Film(
            video=(
                "-c:v",
                "libx264",
                "-profile:v",
                "high",
                "-level:v",
                "3",
                "-g",
                "250",
                "-sc_threshold",
                "0",
                *PLAIN,
                *MARKS,
            )
        ),
    ),
    of("HDR (PQ)", "video-colour", "picture", Film(video=TEN_BIT)),
    of("HDR (HLG)", "video-colour", "picture", Film(video=TEN_BIT_HLG)),
    of(
        "bars",
        "picture-bars",
        "picture",
        Film(picture="testsrc2=s=320x140:r=25:d=2", filters="pad=320:180:0:20"),
        wishes=Wishes(fit="stretch", trim_bars=True),
    ),
    of(
        "black ends",
        "picture-black",
        "picture",
        Film(
            picture="testsrc2=s=320x180:r=25:d=4",
            filters="drawbox=c=black:t=fill:enable=lt(t\\,1)+gt(t\\,3)",
            tone=TONE.replace("duration=2", "duration=4"),
        ),
        wishes=Wishes(trim_ends=True),
    ),
    of(
        "colour bars first",
        "picture-leader",
        "picture",
        Film(
            picture="smptehdbars=s=320x180:r=25:d=3[b];testsrc2=s=320x180:r=25:d=3[t];[b][t]concat",
            tone=TONE.replace("duration=2", "duration=6"),
        ),
        wishes=Wishes(trim_ends=True),
    ),
    of(
        "colours of the cinema",
        "video-colour",
        "picture",
        Film(
            video=x264(
                "-level:v", "3", *PLAIN, marks=("-colorspace", "bt709", "-color_primaries", "smpte432")
            )
        ),
    ),
    of("HDR with its marks, in H.265", "video-colour", "picture", Film(video=HDR_H265)),
    of("59.94 frames", "video-frame-rate", "picture", Film(picture="testsrc2=s=320x180:r=60000/1001:d=2")),
    of(
        "from tape",
        "video-interlaced",
        "picture",
        Film(
            picture="testsrc2=s=320x180:r=50:d=2",
            filters="tinterlace=interleave_bottom,scale=240:180:interl=1,setsar=4/3,setfield=bff",
            video=("-c:v", "mpeg2video", "-flags", "+ilme+ildct", "-top", "0", "-q:v", "2"),
            wrapping=(),
        ),
        "seeds.ts",
    ),
    of(
        "an odd number of pixels",
        "video-chroma",
        "picture",
        Film(
            picture="testsrc2=s=321x181:r=25:d=2",
            video=x264("-profile:v", "high444", "-pix_fmt", "yuv444p"),
        ),
    ),
    of(
        "a single picture",
        "video-resolution",
        "picture",
        Film(picture="testsrc2=s=640x360:r=25:d=0.04", tone=None),
    ),
    of(
        "bars in a turned picture",
        "picture-bars",
        "picture",
        Film(
            picture="testsrc2=s=140x320:r=25:d=2",
            filters="pad=180:320:20:0",
            again=("-metadata:s:v:0", "rotate=90"),
        ),
        wishes=Wishes(fit="stretch", trim_bars=True),
    ),
    of(
        "a bar at one side",
        "picture-bars",
        "picture",
        Film(picture="testsrc2=s=280x180:r=25:d=2", filters="pad=320:180:40:0"),
        wishes=Wishes(fit="cover", trim_bars=True),
    ),
    of(
        "black at the end",
        "picture-black",
        "picture",
        Film(
            picture="testsrc2=s=320x180:r=25:d=4",
            filters="drawbox=c=black:t=fill:enable=gt(t\\,2.5)",
            tone=TONE.replace("duration=2", "duration=4"),
        ),
        wishes=Wishes(trim_ends=True),
    ),
    of(
        "H.265 wanted",
        "video-codec",
        "picture",
        Film(),
        video={"codecs": {"H.265": {"profiles": ["Main"], "level_max": "3"}}},
    ),
    of(
        "MPEG-2 wanted",
        "video-codec",
        "picture",
        Film(),
        out="seeds.ts",
        video={"containers": ["MPEG-TS"], "codecs": {"MPEG-2": {}}},
        audio={"codecs": {"MP2": {"sample_rates": [48_000], "channels_max": 2}}},
    ),
)
