"""The page as plain text: for a terminal, a pipe or a mail.

It must not wrap lines of ffmpeg: they are copied from here.
"""

from __future__ import annotations

import textwrap
from collections.abc import Iterator

from mediacheck.explain.drawn import drawn
from mediacheck.explain.model import Page, Recipe, Section

WIDTH = 80
NAME_WIDTH = 25
INDENT = 2 + NAME_WIDTH + 2


def as_text(page: Page) -> str:
    """The whole page, with one line end at its end."""
    return "\n".join(_lines(page)) + "\n"


def _lines(page: Page) -> Iterator[str]:
    yield from _wrapped(f"What to deliver: {drawn(page.title)}")
    yield from (f"Profile {page.id}", f"SHA-256 {page.sha256}")
    for paragraph in page.origin:
        yield from ("", *_wrapped(drawn(paragraph)))
    for section in page.sections:
        yield from _section(section)
    yield from _list("Not wanted", page.unwanted)
    yield from _list("Ready lines for ffmpeg", page.using)
    for recipe in page.recipes:
        yield from _recipe(recipe)
    for one in page.without:
        yield from ("", one.heading)
        yield from _wrapped(f"No line can be given for this profile, because {drawn(one.reason)}.", "  ")
    yield from _list("Take care", page.cautions)


def _section(section: Section) -> Iterator[str]:
    yield from ("", section.heading)
    for row in section.rows:
        first, *rest = textwrap.wrap(drawn(row.text), WIDTH - INDENT, break_on_hyphens=False) or [""]
        yield f"  {row.name:<{NAME_WIDTH}}  {first}"
        yield from (" " * INDENT + line for line in rest)


def _recipe(recipe: Recipe) -> Iterator[str]:
    yield from ("", recipe.heading, *_wrapped(f"Makes: {recipe.makes}.", "  "), "", recipe.command, "")
    for note in recipe.notes:
        yield from _bullet(note)
    yield "  What the settings are for:"
    for reason in recipe.reasons:
        yield from _wrapped(reason.setting, "    ")
        yield from _wrapped(reason.why, "      ")


def _list(heading: str, texts: tuple[str, ...]) -> Iterator[str]:
    if texts:
        yield from ("", heading)
    for text in texts:
        yield from _bullet(text)


def _bullet(text: str) -> list[str]:
    return textwrap.wrap(text, WIDTH, initial_indent="  - ", subsequent_indent="    ", break_on_hyphens=False)


def _wrapped(text: str, indent: str = "") -> list[str]:
    return textwrap.wrap(text, WIDTH, initial_indent=indent, subsequent_indent=indent, break_on_hyphens=False)
