"""Runs a repair within the test's own process, which starts no workers.

It must not judge what comes of it.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from concurrent.futures import Executor, Future
from dataclasses import replace
from pathlib import Path
from typing import Any

from mediacheck.profile import Profile
from mediacheck.profile_files import LoadedProfile
from mediacheck.repair.model import Wishes
from mediacheck.repair.outcome import Fixed
from mediacheck.repair.run import Helpers, Order, fix
from mediacheck.survey import Options

USUAL = Wishes()


class AtOnce(Executor):
    """Does each task where it is handed over."""

    def submit(self, fn: Callable[..., Any], /, *args: Any, **kwargs: Any) -> Future[Any]:
        """The future is done when this returns."""
        future: Future[Any] = Future()
        try:
            future.set_result(fn(*args, **kwargs))
        except BaseException as error:
            future.set_exception(error)
        return future


AT_ONCE = Helpers(crew=lambda _: AtOnce())


def loaded(profile: Profile) -> LoadedProfile:
    """As if it came from a file."""
    return LoadedProfile(profile, f"{profile.id}.yaml", hashlib.sha256(profile.id.encode()).hexdigest())


def fixed(
    source: Path,
    out: Path,
    profile: Profile,
    wishes: Wishes = USUAL,
    helpers: Helpers = AT_ONCE,
    use_cache: bool = True,
) -> Fixed:
    """One player's copy."""
    order = Order(source, (loaded(profile),), wishes, Options("full", 1, use_cache=use_cache), out)
    (found,) = fix(order, replace(helpers, crew=helpers.crew or AT_ONCE.crew))
    return found


def hashes(folder: Path) -> dict[str, str]:
    """All files below a folder, each with its SHA-256."""
    return {
        path.relative_to(folder).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }
