"""The report as one page that stands alone: for paper, for a phone, for a mail to the sender.

It must not load anything: no script, no link to the outside, no font from elsewhere.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache

from jinja2 import Template

from mediacheck.report.model import Report
from mediacheck.report.outline import Limits, outline_of
from mediacheck.report.pages import page_environment
from mediacheck.report.verdict import BAD
from mediacheck.report.words import safe

LIMITS = Limits(rows=200, groups=100, paths=8)
DATA_IMAGE = "data:image/"
CAUTIONS = (
    "Flashing pictures can harm people with photosensitive epilepsy. This report is no certificate: "
    "at most it screens for them, and only where it says so. "
    "Have content that flashes tested by those who certify it.",
    "Mains power, lifting and fixed wiring follow the local codes and the practice of licensed trades.",
    "A profile that comes with mediacheck is common practice in short: "
    "the data sheet of the player decides over it.",
)


def as_html(report: Report, pictures: Mapping[str, tuple[str, ...]] | None = None) -> str:
    """The whole page. `pictures` has small frames of items, by path, as `data:image/...` URIs.

    Raises ValueError for a picture of any other kind, since the page has to stand alone.
    """
    pictures = pictures or {}
    if any(not uri.startswith(DATA_IMAGE) for uris in pictures.values() for uri in uris):
        raise ValueError(f"a picture for the report must be a {DATA_IMAGE} URI")
    outline = outline_of(report, LIMITS)
    frames = tuple(pictures.get(item.path, ()) for item in report.items[: LIMITS.rows])
    return _template().render(
        report=outline,
        rows=tuple(zip(outline.rows, frames, strict=True)),
        with_facts=any(row.facts for row in outline.rows),
        source=safe(report.source),
        bad=BAD,
        cautions=CAUTIONS,
    )


@lru_cache(maxsize=1)
def _template() -> Template:
    return page_environment("report").get_template("report.html.j2")
