"""The summary of many stores as one page that stands alone: it filters, sorts and prints without a network.

It must not decide anything, or load anything from elsewhere: its one script is named by its hash.
"""

from __future__ import annotations

import base64
import hashlib
import json
from collections.abc import Callable, Mapping, Sequence
from functools import lru_cache
from importlib import resources
from typing import Any

from jinja2 import Template
from markupsafe import Markup

from mediacheck.report.html import CAUTIONS
from mediacheck.report.pages import page_environment
from mediacheck.report.words import moment_words, safe
from mediacheck.stores.model import STATES
from mediacheck.stores.status import Row, Status
from mediacheck.stores.told import (
    STATE_WORDS,
    change_words,
    common_words,
    face_words,
    has_many_displays,
    headline,
    heard,
    store_words,
    visit_words,
)

WITHOUT_SCRIPT = 100
"""Rows that are there before the script runs, and all that there is without one."""
PHOTOS_MAX_BYTES = 2_500_000
"""Of all photos on the page: with 10,000 stores, those that need somebody first get theirs."""
LISTED_MAX = 200
Pictures = Callable[[Sequence[str]], Mapping[str, bytes]]
"""Small JPEGs by key: `Ledger.picture`."""
AT_ONCE = 200


def as_html(status: Status, pictures: Pictures) -> str:
    """The whole page."""
    shown, many = _pictures(status, pictures), has_many_displays(status.rows)
    script = _part("stores.js")
    digest = base64.b64encode(hashlib.sha256(script.encode()).digest()).decode("ascii")
    return _template().render(
        headline=headline(status),
        made=moment_words(status.made_at),
        totals=[(state, STATE_WORDS[state], status.totals.get(state, 0)) for state in STATES],
        common=[(one.rule, one.faces, safe(one.message), safe(common_words(one))) for one in status.common],
        lists=_lists(status),
        rows=[_row(row, many) for row in status.rows[:WITHOUT_SCRIPT]],
        more=max(0, len(status.rows) - WITHOUT_SCRIPT),
        regions=_choices(status, lambda row: row.store.region),
        displays=_choices(status, lambda row: row.display),
        profiles=_choices(status, lambda row: row.profile),
        data=Markup(_data(status, shown)),
        script=Markup(script),
        digest=digest,
        cautions=CAUTIONS,
    )


def _row(row: Row, many_displays: bool) -> Mapping[str, str]:
    return {
        "store": safe(store_words(row)),
        "face": safe(face_words(row, many_displays)),
        "tone": row.state.state,
        "state": STATE_WORDS[row.state.state],
        "reason": safe(row.state.reason),
        "heard": heard(row),
    }


def _choices(status: Status, of: Callable[[Row], str]) -> list[str]:
    return sorted({safe(value) for row in status.rows if (value := of(row))})


def _lists(status: Status) -> list[tuple[str, list[str], int]]:
    """Title, lines, and how many more there are."""
    many = has_many_displays(status.rows)
    changes = [change_words(change, many) for change in status.changes]
    found = [
        ("Stores to call today", [visit_words(visit) for visit in status.call_today]),
        ("Visits that should have been", [visit_words(visit) for visit in status.overdue]),
        (f"Changed since {status.since}", changes),
    ]
    return [
        (title, [safe(line) for line in lines[:LISTED_MAX]], max(0, len(lines) - LISTED_MAX))
        for title, lines in found
        if lines
    ]


def _pictures(status: Status, pictures: Pictures) -> dict[str, str]:
    """Of loops all, since there are few; of photos as many as there is room for, the worst states first."""
    loops = list(dict.fromkeys(row.loop_picture for row in status.rows if row.loop_picture))
    found = dict(pictures(loops))
    photos = list(dict.fromkeys(row.photo[1] for row in status.rows if row.photo))
    left = PHOTOS_MAX_BYTES
    for at in range(0, len(photos), AT_ONCE):
        some = photos[at : at + AT_ONCE]
        by_key = pictures(some)
        for key in some:
            left -= len(by_key.get(key, b""))
            if left < 0:
                break
            found[key] = by_key[key]
        if left < 0:
            break
    return {key: "data:image/jpeg;base64," + base64.b64encode(j).decode("ascii") for key, j in found.items()}


def _data(status: Status, shown: Mapping[str, str]) -> str:
    """All rows, packed: each text stands once, and rows hold its number."""
    texts: dict[str, int] = {}

    def number(text: str) -> int:
        return texts.setdefault(text, len(texts))

    rows = [_packed(row, number, shown) for row in status.rows]
    record: dict[str, Any] = {
        "states": [[state, STATE_WORDS[state]] for state in STATES],
        "rows": rows,
        "pictures": shown,
        "texts": list(texts),
    }
    packed = json.dumps(record, ensure_ascii=False, separators=(",", ":"))
    return packed.replace("<", "\\u003c").replace("\u2028", "\\u2028").replace("\u2029", "\\u2029")


def _packed(row: Row, number: Callable[[str], int], shown: Mapping[str, str]) -> list[Any]:
    photo = row.photo[1] if row.photo and row.photo[1] in shown else ""
    texts = (
        row.store.number, row.store.name, row.store.region, row.store.place, row.display, row.face.name,
        row.profile, row.state.reason, row.state.version or "", row.state.due_version or "", heard(row),
        row.loop_picture if row.loop_picture in shown else "", photo,
        str(row.store.due or ""),
    )  # fmt: skip
    age = -1 if row.age_days is None else row.age_days
    return [STATES.index(row.state.state), age, *(number(safe(text or "")) for text in texts)]


def _part(name: str) -> str:
    return resources.files("mediacheck.stores").joinpath(name).read_text("utf-8")


@lru_cache(maxsize=1)
def _template() -> Template:
    return page_environment("stores").get_template("stores.html.j2")
