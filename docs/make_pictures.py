"""Makes the pictures of the README with the program itself: a contact sheet and what the terminal says.

Run it from the project's root: `python docs/make_pictures.py`. It takes about a minute.
"""

from __future__ import annotations

import io
import json
import shutil
import tempfile
from pathlib import Path

from rich.console import Console

from mediacheck.cli.app import run
from mediacheck.report.record import from_record
from mediacheck.report.terminal import print_report

HERE = Path(__file__).parent


def main() -> None:
    """Run the demo in a folder of its own and keep two pictures of what it made."""
    with tempfile.TemporaryDirectory() as name:
        out = Path(name) / "demo"
        run(["demo", "--out", str(out)])
        shutil.copy(next(out.rglob("*window*.png")), HERE / "contact-sheet.png")
        record = json.loads(next(out.rglob("*aisle*.json")).read_text("utf-8"))
    record["card"]["source"] = "E:\\"
    console = Console(record=True, width=88, file=io.StringIO(), force_terminal=True)
    print_report(from_record(record), console)
    console.save_svg(str(HERE / "terminal.svg"), title="mediacheck check E:\\ --profile basic-1080p")


if __name__ == "__main__":
    main()
