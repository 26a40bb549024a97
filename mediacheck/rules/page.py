"""The catalogue of rules as a page for people (docs/rules.md).

It must not add anything that the catalogue does not say.
"""

from __future__ import annotations

from itertools import groupby

from mediacheck.rules.catalogue import RULES
from mediacheck.rules.model import AnyRule

SUBJECTS = {
    "card": "The card itself",
    "folder": "Layout",
    "file": "Files and names",
    "play": "Play order",
    "container": "Container",
    "readers": "Readers",
    "video": "Video",
    "audio": "Sound",
    "still": "Stills",
    "picture": "Picture",
    "loop": "Loop",
    "manifest": "Manifest",
}
"""Headings by the first part of a rule's name."""
HEAD = """# Rules

What mediacheck looks for, as `mediacheck rules` prints it. Severities are the defaults; the `rules:`
section of a profile sets any of them to `off`, `note`, `warn` or `fail`. Depth `full` needs every
picture decoded.

This page is made by `python -m mediacheck.rules.page > docs/rules.md`.
"""


def rules_page() -> str:
    """The whole page as Markdown."""
    groups = groupby(RULES, key=lambda rule: SUBJECTS[rule.name.split("-")[0]])
    return HEAD + "".join(f"\n## {title}\n" + "".join(map(_entry, rules)) for title, rules in groups)


def _entry(rule: AnyRule) -> str:
    return (
        f"\n### {rule.name}\n\n{rule.meaning}\n\n"
        f"Severity {rule.severity}; depth {rule.depth}. Source: {rule.source}.\n"
    )


if __name__ == "__main__":
    print(rules_page(), end="")
