"""Fixtures that several rooms' tests use: the outside programs, and clips made from recipes.

It must not look into what it hands out.
"""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from hypothesis import settings

from tests.media.recipe import Variant

settings.register_profile("mediacheck", deadline=None)
settings.load_profile("mediacheck")
"""How long one example takes is no law: the machine may be busy."""

ClipFactory = Callable[[Variant], Path]


def _program(name: str) -> str:
    found = shutil.which(name)
    assert found, f"These tests need {name} on PATH: Debian's package ffmpeg has it."
    return found


@pytest.fixture(scope="session", autouse=True)
def own_cache(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """No test reads or fills the cache of the person who runs them."""
    folder = tmp_path_factory.mktemp("cache")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("MEDIACHECK_CACHE", str(folder))
        yield folder


@pytest.fixture(scope="session")
def ffmpeg() -> str:
    """Path of the encoder that makes the clips."""
    return _program("ffmpeg")


@pytest.fixture(scope="session")
def ffprobe() -> str:
    """Path of the tool that our facts are compared with."""
    return _program("ffprobe")


@pytest.fixture(scope="session")
def clip(ffmpeg: str, tmp_path_factory: pytest.TempPathFactory) -> ClipFactory:
    """Makes a variant, once for all worker processes of a run, and gives its path. For reading only."""
    own = tmp_path_factory.getbasetemp()
    folder = (own.parent if "PYTEST_XDIST_WORKER" in os.environ else own) / "clips"
    folder.mkdir(exist_ok=True)
    return lambda variant: variant.make(ffmpeg, folder)
