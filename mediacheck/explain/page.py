"""A profile as a page that can be sent to an agency.

It must not open files or draw: text and HTML are made from what stands here.
"""

from __future__ import annotations

from collections.abc import Iterator

from mediacheck.explain.model import Page, Section
from mediacheck.explain.picture import screen_rows, video_sections
from mediacheck.explain.recipes import recipes_for
from mediacheck.explain.rest import card_rows, loop_rows, name_rows, sound_rows, still_rows
from mediacheck.names import RuleName
from mediacheck.profile import Profile
from mediacheck.profile_files import LoadedProfile

USING = (
    "Write the name of your file in place of MASTER, in double quotes if it holds spaces, and the name that "
    "the item shall have in place of the last word. The rest is copied as it stands, in one piece: it works "
    "in a terminal of macOS and Linux, in PowerShell and in the command prompt of Windows.",
    "The lines are for ffmpeg 5.1 or newer with its usual encoders, and for items of one second or longer.",
    "They take masters of any size, frame rate and scan. They do not convert HDR or wide colour: export such "
    "a master in standard colour (BT.709) first.",
    "Start from the best master that you have, not from a file that was made for the web.",
    "Old SD video that does not say how its colours are stored comes out slightly off.",
)
FLASHING = (
    "Flashing pictures can harm people with photosensitive epilepsy: no more than three flashes in any one "
    "second, and no saturated red that flashes (WCAG 2.2, 2.3.1; ITU-R BT.1702). Have content that flashes "
    "tested by those who certify it."
)
UNWANTED: tuple[tuple[RuleName, str], ...] = (
    ("video-frame-rate-variable", "Uneven frame rates, as phones and screen recorders make them."),
    ("video-rotation", "Rotation marks in place of a picture that is really turned."),
    ("picture-bars", "Black bars that are part of the picture."),
    ("picture-leader", "Test bars, countdowns and slates at the beginning or the end."),
    ("video-extra-stream", "More than one moving picture in a file."),
    ("container-fragmented", "Files in fragments, as for streaming."),
    ("container-encrypted", "Copy protection of any kind."),
    ("video-colour", "HDR and wide colour."),
    ("picture-flash", "More than three flashes in any one second."),
)
PRACTICE = (
    "A profile that comes with mediacheck is common practice in short: the data sheet of the player decides "
    "over it."
)


def page_of(loaded: LoadedProfile) -> Page:
    """The page for one profile."""
    profile = loaded.profile
    recipes, without = recipes_for(profile)
    return Page(
        title=profile.title or profile.id,
        id=profile.id,
        sha256=loaded.sha256,
        origin=tuple(filter(None, (line.strip() for line in profile.notes.splitlines()))),
        sections=tuple(_sections(profile)),
        recipes=recipes,
        without=without,
        using=USING if recipes else (),
        unwanted=tuple(_unwanted(profile)),
        cautions=(FLASHING, PRACTICE),
    )


def _sections(profile: Profile) -> Iterator[Section]:
    yield Section("How the picture will be seen", tuple(screen_rows(profile.screen)))
    yield from video_sections(profile)
    yield Section("Sound", tuple(sound_rows(profile.audio)))
    yield Section("Stills", tuple(still_rows(profile.stills)))
    yield Section("The loop", tuple(loop_rows(profile.loop)))
    yield Section("File names", tuple(name_rows(profile)))
    yield Section("The card itself", tuple(card_rows(profile)))


def _unwanted(profile: Profile) -> Iterator[str]:
    """What a check of the card would find; a rule that the profile turns off is not named."""
    for rule, text in UNWANTED:
        if profile.rules.get(rule) != "off":
            yield text
