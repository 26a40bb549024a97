"""Videos: what one that fits A may have beyond B's limits, said once where it is the same for every codec.

It must not compare single limits: that is for `picture`.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from mediacheck.profile import Profile
from mediacheck.profile_difference.accepted import takes_videos, video_codecs
from mediacheck.profile_difference.containment import outside
from mediacheck.profile_difference.model import Lack
from mediacheck.profile_difference.picture import LOOKS, Break, Pair, list_values
from mediacheck.profile_difference.wording import lack


def video_lacks(a: Profile, b: Profile) -> Iterator[Lack]:
    """What videos lack; nothing where A takes none, one thing where B shows none."""
    if not takes_videos(a):
        return
    for key, left, right in (
        ("containers", a.video.containers, b.video.containers),
        ("codecs", a.video.codecs, b.video.codecs),
    ):
        names = _names(left), _names(right)
        if share := outside(*names):
            values = list_values(key, *names)
            yield lack(a, f"video.{key}", share, values, None if names[1] else "shows no videos")
        if names[1] == () and not takes_videos(b):
            return
    yield from _under_codecs(pairs(a, b))


def pairs(a: Profile, b: Profile) -> tuple[Pair, ...]:
    """The limits of each codec that both let through."""
    return tuple(
        Pair(a, b, codec, a.video.limits_for(codec), b.video.limits_for(codec))
        for codec in video_codecs(a)
        if codec in video_codecs(b)
    )


def videos_shown(a: Profile, b: Profile) -> bool:
    """Whether any video that fits A is shown on B."""
    return takes_videos(a) and takes_videos(b)


def _names(values: Any) -> tuple[str, ...] | None:
    return None if values is None else tuple(values)


def _under_codecs(both: Sequence[Pair]) -> Iterator[Lack]:
    """One lack for a limit that B sets for every codec, unless A differs from codec to codec."""
    found = [(pair, broken) for pair in both for look in LOOKS if (broken := look(pair))]
    for key in dict.fromkeys(broken.key for _, broken in found):
        breaking = [(pair, broken) for pair, broken in found if broken.key == key]
        own = [each for each in breaking if _is_own(each[0], key)]
        shared = [each for each in breaking if each not in own]
        alike = len({(broken.share, broken.values[:2]) for _, broken in shared}) == 1
        for pair, broken in own if alike else breaking:
            yield _worded(f"video.codecs.{pair.codec}.{key}", broken, (pair,), both)
        if alike:
            broken = _joined([broken for _, broken in shared])
            yield _worded(f"video.{key}", broken, [pair for pair, _ in shared], both)


def _joined(breaks: Sequence[Break]) -> Break:
    """One break of several codecs. Where their profiles narrow A differently, all together have any value."""
    first = breaks[0]
    same = all(each.values.has == first.values.has for each in breaks)
    return first if same else first._replace(values=first.values._replace(has=None))


def _is_own(pair: Pair, key: str) -> bool:
    """Whether B sets this limit under the codec."""
    codecs = (pair.b.video.codecs or {}).items()
    return any(codec == pair.codec and getattr(own, key) is not None for codec, own in codecs)


def _worded(key: str, broken: Break, about: Sequence[Pair], both: Sequence[Pair]) -> Lack:
    codecs = {pair.codec for pair in about}
    all_of_them = codecs == {pair.codec for pair in both} and "codecs." not in key
    kind = "" if all_of_them else f" in {' or '.join(pair.codec for pair in about)}"
    return lack(about[0].a, key, broken.share, broken.values._replace(kind=kind))
