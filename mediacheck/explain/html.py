"""The page as one file of HTML that stands alone: to be sent, read on a phone, printed.

It must not load anything: no script, no link to the outside, no font from elsewhere.
"""

from __future__ import annotations

from functools import lru_cache

from jinja2 import Template

from mediacheck.explain.drawn import drawn
from mediacheck.explain.model import Page
from mediacheck.report.pages import page_environment


def as_html(page: Page) -> str:
    """The whole page."""
    return _template().render(page=page)


@lru_cache(maxsize=1)
def _template() -> Template:
    pages = page_environment("explain")
    pages.filters["drawn"] = drawn
    return pages.get_template("explain.html.j2")
