"""Makes the pictures of the README with the program itself: a contact sheet and what the terminal says.

Run it from anywhere: `python docs/make_pictures.py`. It takes about a minute.
"""

from __future__ import annotations

import io
import json
import os
import shutil
import tempfile
from pathlib import Path

from rich.console import Console
from rich.terminal_theme import DEFAULT_TERMINAL_THEME

from mediacheck.cli.app import run
from mediacheck.report.record import from_record
from mediacheck.report.terminal import print_report

HERE = Path(__file__).resolve().parent
DISPLAY = "display"
PICTURE = """<svg viewBox="0 0 {width} {height}" xmlns="http://www.w3.org/2000/svg">
<style>
.{unique_id}-matrix {{ font-family: ui-monospace, Menlo, Consolas, monospace; font-size: {char_height}px;
line-height: {line_height}px; }}
{styles}
</style>
<defs><clipPath id="{unique_id}-clip-terminal">
<rect x="0" y="0" width="{terminal_width}" height="{terminal_height}" /></clipPath>
{lines}</defs>
<rect width="{width}" height="{height}" fill="#ffffff" stroke="#999999"/>
<g transform="translate({terminal_x}, {terminal_y})" clip-path="url(#{unique_id}-clip-terminal)">
{backgrounds}
<g class="{unique_id}-matrix">{matrix}</g>
</g>
</svg>
"""
"""Fonts of the reader's own machine: a picture that fetches nothing."""


def main() -> None:
    """Run the demo in a folder of its own and keep two pictures of what it made."""
    with tempfile.TemporaryDirectory() as name:
        os.chdir(name)
        run(["demo", "--out", DISPLAY])
        shutil.copy(Path(DISPLAY) / "window-side.png", HERE / "contact-sheet.png")
        record = json.loads((Path(DISPLAY) / "aisle-side.json").read_text("utf-8"))
        os.chdir(HERE)
    console = Console(record=True, width=88, file=io.StringIO(), force_terminal=True)
    print_report(from_record(record), console)
    picture = console.export_svg(
        theme=DEFAULT_TERMINAL_THEME, code_format=PICTURE, unique_id="report", title=""
    )
    (HERE / "terminal.svg").write_text(picture, "utf-8")


if __name__ == "__main__":
    main()
