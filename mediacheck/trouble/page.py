"""The symptoms with their causes as a page for people (docs/trouble.md).

It must not add anything that the data does not say.

    python -m mediacheck.trouble.page > docs/trouble.md
"""

from __future__ import annotations

from collections.abc import Iterator

from mediacheck.trouble.book import symptoms
from mediacheck.trouble.model import Cause, Symptom

HEAD = """# Trouble at a display

From what a person sees to the likely causes, as `mediacheck trouble` prints it. The causes of a symptom
stand in the order in which to try them; each leads to how to tell it apart and what to do. A profile
(`--profile`) and the report of a check (`--report`) put them into the order for one player and one card.

This page is made by `python -m mediacheck.trouble.page > docs/trouble.md`.
"""


def trouble_page() -> str:
    """The whole page as Markdown."""
    causes = {cause.id: cause for symptom in symptoms() for cause in symptom.causes}
    seen = "".join(map(_symptom, symptoms()))
    return f"{HEAD}\n## What is seen\n{seen}\n## Causes\n{''.join(map(_cause, causes.values()))}"


def _symptom(symptom: Symptom) -> str:
    cautions = "".join(f"\n> {caution}\n" for caution in symptom.cautions)
    causes = "".join(
        f"{number}. [{cause.what}](#{cause.id})\n" for number, cause in enumerate(symptom.causes, 1)
    )
    return (
        f"\n### {symptom.number}. {symptom.title}\n\n"
        f"`mediacheck trouble {symptom.id}`\n{cautions}\n{causes}\n{symptom.why_this_order}\n"
    )


def _cause(cause: Cause) -> str:
    return f"\n### {cause.id}\n\n{cause.what}\n\n" + "".join(f"- {line}\n" for line in _lines(cause))


def _lines(cause: Cause) -> Iterator[str]:
    yield f"Tell it apart: {cause.tell_apart}"
    yield f"What to do: {cause.do}"
    if cause.command:
        yield f"Checked by: `{cause.command}`"
    if cause.rules:
        yield f"Rules: {', '.join(f'[{rule}](rules.md#{rule})' for rule in cause.rules)}"
    yield f"Source: {cause.source}."


if __name__ == "__main__":
    print(trouble_page(), end="")
