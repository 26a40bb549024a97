"""A comparison as one page that stands alone: for paper, for a phone, for a mail to the content team.

It must not load anything: no script, no link to the outside, no font from elsewhere.
"""

from __future__ import annotations

from functools import lru_cache

from jinja2 import Template

from mediacheck.compare.model import Comparison
from mediacheck.compare.outline import Limits, outline_of
from mediacheck.report.html import CAUTIONS
from mediacheck.report.pages import page_environment

LIMITS = Limits(groups=100, paths=8)


def as_html(comparison: Comparison) -> str:
    """The whole page."""
    return _template().render(outline=outline_of(comparison, LIMITS), cautions=CAUTIONS)


@lru_cache(maxsize=1)
def _template() -> Template:
    """The style sheet is that of the report: the two pages belong together."""
    return page_environment("compare", "report").get_template("compare.html.j2")
