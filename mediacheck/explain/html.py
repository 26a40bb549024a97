"""The page as one file of HTML that stands alone: to be sent, read on a phone, printed.

It must not load anything: no script, no link to the outside, no font from elsewhere.
"""

from __future__ import annotations

from functools import lru_cache

from jinja2 import Environment, PackageLoader, StrictUndefined, Template

from mediacheck.explain.drawn import drawn
from mediacheck.explain.model import Page


def as_html(page: Page) -> str:
    """The whole page."""
    return _template().render(page=page)


@lru_cache(maxsize=1)
def _template() -> Template:
    pages = Environment(
        loader=PackageLoader("mediacheck", "explain"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    pages.filters["drawn"] = drawn
    return pages.get_template("explain.html.j2")
