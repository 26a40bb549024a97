"""A JSON Schema describes each key with the docstring of its attribute, as pydantic itself does."""

from __future__ import annotations

from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field

from mediacheck.said_of_keys import SaidOfKeys


class Inner(SaidOfKeys):
    """One of them."""

    across: int = 0
    """Pixels across,
    as the panel takes them."""
    down: int = 0


class Outer(Inner):
    inner: Inner
    """The one within."""
    from_: Annotated[str, Field(alias="from")]
    """Under another name."""
    told: Annotated[int, Field(description="It has words of its own.")]
    """Which come first."""
    wide: int | None = None
    many: tuple[Inner, ...] = ()
    """All of them."""


class PydanticInner(BaseModel):
    """One of them."""

    model_config = ConfigDict(use_attribute_docstrings=True, title="Inner")

    across: int = 0
    """Pixels across,
    as the panel takes them."""
    down: int = 0


class PydanticOuter(PydanticInner):
    model_config = ConfigDict(title="Outer")

    inner: PydanticInner
    """The one within."""
    from_: Annotated[str, Field(alias="from")]
    """Under another name."""
    told: Annotated[int, Field(description="It has words of its own.")]
    """Which come first."""
    wide: int | None = None
    many: tuple[PydanticInner, ...] = ()
    """All of them."""


def test_the_schema_is_the_one_that_pydantic_makes_where_it_reads_the_source_for_each_class() -> None:
    ours = Outer.model_json_schema()
    theirs = PydanticOuter.model_json_schema()
    assert str(ours) == str(theirs).replace("PydanticInner", "Inner")
    assert ours["properties"]["from"]["description"] == "Under another name."
    assert "description" not in ours["properties"]["wide"]
