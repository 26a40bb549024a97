"""Pages of HTML that stand alone, from the templates of the rooms that make them.

It must not know what is on a page.
"""

from __future__ import annotations

from jinja2 import ChoiceLoader, Environment, PackageLoader, StrictUndefined


def page_environment(*rooms: str) -> Environment:
    """Where templates of these rooms of mediacheck are found, the first one first.

    Text is escaped, and a name that is not there is an error.
    """
    return Environment(
        loader=ChoiceLoader([PackageLoader("mediacheck", room) for room in rooms]),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
