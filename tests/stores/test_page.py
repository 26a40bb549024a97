"""The page of many stores: whole, safe, and quick in a browser."""

from __future__ import annotations

import html as markup
import json
import re
import shutil
import subprocess
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest

from mediacheck.stores import page
from mediacheck.stores.model import STATES, Evidence, FaceState, Place, PlannedFace, Said, Store
from mediacheck.stores.page import as_html
from mediacheck.stores.pictures import small
from mediacheck.stores.status import Row, Status, Visit
from tests.stores.made import NOW

needs_browser = pytest.mark.skipif(
    shutil.which("chromium") is None, reason="no chromium to look at the page with"
)


def many(stores: int, reason: str = "It shows version 1; version 2 has been due since 2026-03-01.") -> Status:
    """So many stores with two faces each, in all states by turns."""
    rows = []
    for number in range(stores):
        store = Store(f"{number:05}", f"Garden {number}", ("North", "South")[number % 2], "by the tills")
        for face in ("aisle side", "window side"):
            state = STATES[(number + len(face)) % len(STATES)]
            place = Place(store.number, "planter", face)
            heard = state != "not-heard-of"
            said = Said("check", NOW - timedelta(days=number % 50))
            rows.append(
                Row(
                    store,
                    "planter",
                    PlannedFace(face, "basic-1080p"),
                    FaceState(state, reason, "1", "2"),
                    Evidence(place, "0" * 64, said) if heard else None,
                    (NOW, f"photo{number}") if number < 500 else None,
                    "loop" if face == "aisle side" else None,
                    number % 50 if heard else None,
                )
            )
    rows.sort(key=lambda row: STATES.index(row.state.state))
    totals = {state: sum(row.state.state == state for row in rows) for state in STATES}
    return Status(NOW, tuple(rows), totals, stores, (), (), ())


def pictures(keys: Any) -> dict[str, bytes]:
    from PIL import Image

    jpeg = small(Image.effect_noise((320, 180), 60).convert("RGB"))
    return {key: jpeg if key == "loop" else jpeg[:-2] + key.encode() + jpeg[-2:] for key in keys}


def in_browser(folder: Path, text: str, steps: str) -> Any:
    """What the steps (JavaScript, with `page` and `rows()`) give, in a frame around the page."""
    (folder / "stores.html").write_text(text, "utf-8")
    frame = folder / "frame.html"
    frame.write_text(
        "<iframe id=f src=stores.html width=1200 height=900></iframe><script>onload=()=>{"
        "const page=document.getElementById('f').contentDocument;"
        "const rows=()=>[...page.querySelectorAll('#rows tr')].map(r=>[...r.cells].map(c=>c.textContent));"
        "const input=(id,v)=>{const i=page.getElementById(id);i.value=v;"
        "i.dispatchEvent(new Event('input',{bubbles:true}))};"
        f"const found=(()=>{{{steps}}})();document.title=JSON.stringify(found)}}</script>"
    )
    flags = ("--headless", "--no-sandbox", "--disable-gpu", "--allow-file-access-from-files")
    command = ["chromium", *flags, f"--user-data-dir={folder / 'user'}", "--dump-dom", frame.as_uri()]
    done = subprocess.run(command, capture_output=True, text=True, timeout=120, check=True)
    told = re.search(r"<title>(.*?)</title>", done.stdout, re.DOTALL)
    assert told is not None, "the page's script did not run"
    return json.loads(markup.unescape(told[1]))


@needs_browser
def test_a_browser_filters_and_sorts(tmp_path: Path) -> None:
    found = in_browser(
        tmp_path,
        as_html(many(60), pictures),
        """
        const first = rows().length;
        input('find', '00007 window');
        const one = rows();
        input('find', '');
        page.querySelector('button[data-state=outdated]').click();
        const outdated = new Set(rows().map(r => r[3]));
        input('region', 'South');
        const south = new Set(rows().map(r => r[1]));
        page.querySelector('button[data-state=outdated]').click();
        input('region', '');
        input('age', '40');
        const old = rows().length;
        input('age', '');
        const head = page.querySelector('th[data-by=store] button');
        head.click();
        const up = rows()[0][0];
        head.click();
        const down = rows()[0][0];
        const sorted = page.querySelector('th[data-by=store]').getAttribute('aria-sort');
        page.getElementById('more').click();
        return {first, one, outdated: [...outdated], south: [...south], old, up, down, sorted,
          all: rows().length, count: page.getElementById('count').textContent,
          images: page.querySelectorAll('#rows img').length};
        """,
    )
    assert found["first"] == 100
    assert [row[0] for row in found["one"]] == ["00007 Garden 7"]
    assert found["outdated"] == ["outdated"]
    assert found["south"] == ["South"]
    status = many(60)
    assert found["old"] == sum(row.age_days is None or row.age_days > 40 for row in status.rows)
    assert (found["up"], found["down"], found["sorted"]) == (
        "00000 Garden 0",
        "00059 Garden 59",
        "descending",
    )
    assert (found["all"], found["count"]) == (120, "120 of 120 faces")
    assert found["images"] == 60 + 120


@needs_browser
def test_ten_thousand_stores_sort_and_filter_in_two_seconds(tmp_path: Path) -> None:
    text = as_html(many(10_000), pictures)
    found = in_browser(
        tmp_path,
        text,
        """
        const begun = performance.now();
        for (const by of ['store', 'age', 'region', 'state']) {
          page.querySelector(`th[data-by=${by}] button`).click();
        }
        const sorted = performance.now();
        input('find', 'garden 9999');
        const one = rows().length;
        input('find', '');
        return {sort: (sorted - begun) / 4, filter: (performance.now() - sorted) / 2, one,
          count: page.getElementById('count').textContent};
        """,
    )
    assert found["count"] == "20,000 of 20,000 faces"
    assert found["one"] == 2
    assert found["sort"] < 2000
    assert found["filter"] < 2000


@needs_browser
def test_paper_gets_every_row_and_what_is_folded_up(tmp_path: Path) -> None:
    status = many(120)
    calls, late = (
        Visit(replace(status.rows[0].store, due=day), day, status.rows[:1])
        for day in (date(2026, 3, 12), date(2026, 3, 2))
    )
    status = replace(status, call_today=(calls,), overdue=(late,))
    (tmp_path / "stores.html").write_text(as_html(status, pictures), "utf-8")
    flags = ("--headless", "--no-sandbox", "--disable-gpu", f"--user-data-dir={tmp_path / 'user'}")
    pdf = tmp_path / "stores.pdf"
    page_url = (tmp_path / "stores.html").as_uri()
    subprocess.run(["chromium", *flags, f"--print-to-pdf={pdf}", page_url], check=True, timeout=120)
    text = subprocess.run(
        ["pdftotext", pdf, "-"], capture_output=True, text=True, check=True, timeout=60
    ).stdout
    assert all(re.search(rf"\b{number:05}\b", text) for number in range(120))
    assert all(words in text for words in ("visit on 2026-03-12", "visit on 2026-03-02", "240 of 240 faces"))


def test_nothing_from_outside_becomes_markup() -> None:
    evil = '</script><script>alert("x")</script><img src=x onerror=alert(1)>'
    text = as_html(many(3, evil), pictures)
    assert evil not in text
    assert "<img src=x" not in text
    assert text.count("<script") == 2
    assert "default-src 'none'" in text


def test_photos_stay_within_their_room(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(page, "PHOTOS_MAX_BYTES", 10 * len(pictures(["loop"])["loop"]))
    status = many(100)
    data = json.loads(re.findall(r'id="data">(.*?)</script>', as_html(status, pictures), re.DOTALL)[0])
    worst = next(row.photo[1] for row in status.rows if row.photo)
    assert set(data["pictures"]) >= {"loop", worst}
    assert 5 <= len(data["pictures"]) <= 11


def test_without_scripts_the_worst_are_there(tmp_path: Path) -> None:
    text = as_html(many(100), pictures)
    assert len(re.findall(r"<tr><td>", text.partition('<script type="application/json"')[0])) == 100
    assert "100 more faces" in text
