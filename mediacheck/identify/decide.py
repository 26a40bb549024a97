"""From what was seen in photos to an answer: a score for each loop, and one probability.

It must not look at pictures. The two small models are fitted by `benchmarks/identify_train.py`.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from importlib import resources

import numpy as np
from numpy.typing import NDArray

from mediacheck.identify.gallery import Gallery
from mediacheck.identify.photos import FEATURES, Look, Sight, beside, best_of_loops

Floats = NDArray[np.float32]
CERTAINTY = (
    "best", "margin", "lead", "where", "clear", "steady", "inliers", "spread", "mean", "good", "worst",
    "patch", "colour", "share", "centre", "inside", "edge", "larger", "blocks",
    "strange",
)  # fmt: skip
"""What the certainty of the best loop is reckoned from."""
MARGIN_MAX = 12.0
NOBODY = -4.0
"""Score of a picture that has nothing to do with the photo, where no other loop was seen."""
FEW_BLOCKS = 60.0
FAR = 4.0
"""Standard deviations."""


@dataclass(frozen=True, slots=True)
class Model:
    """A score of second order: numbers in the order of `names`, each less its mean, by its scale, and the
    products of any two of them."""

    names: tuple[str, ...]
    mean: Floats
    scale: Floats
    weights: Floats
    bias: float

    def score(self, rows: Floats) -> Floats:
        """Of each row, (n, names)."""
        return np.asarray(
            second_order((rows - self.mean) / self.scale) @ self.weights + self.bias, np.float32
        )


def second_order(rows: Floats) -> Floats:
    """Columns, and behind them the products of each two, those that are far out brought nearer."""
    near = np.clip(rows, -FAR, FAR)
    one, other = np.triu_indices(rows.shape[1])
    return np.asarray(np.concatenate([near, near[:, one] * near[:, other]], axis=1), np.float32)


@cache
def models() -> tuple[Model, Model]:
    """For sights, and for the certainty of the best loop."""
    record = json.loads(resources.files("mediacheck.identify").joinpath("model.json").read_text("utf-8"))
    found = tuple(_model(record[name]) for name in ("sight", "certainty"))
    return found[0], found[1]


def _model(record: dict[str, list[float]]) -> Model:
    mean, scale, weights = (np.array(record[key], np.float32) for key in ("mean", "scale", "weights"))
    return Model(tuple(map(str, record["names"])), mean, scale, weights, float(record["bias"][0]))


@dataclass(frozen=True, slots=True)
class Ranked:
    """One loop and its best sight. `score`: of the sight's model."""

    loop: int
    sight: Sight
    score: float


def rank(look: Look, gallery: Gallery, model: Model | None = None) -> list[Ranked]:
    """Every loop that was seen, the best first."""
    if not look.sights:
        return []
    rows = np.stack([sight.features() for sight in look.sights])
    scores = (model or models()[0]).score(rows)
    return [
        Ranked(loop, look.sights[number], float(scores[number]))
        for loop, number in best_of_loops(look.sights, gallery, scores)
    ]


def certainty_row(
    best: Ranked, rivals: Sequence[Ranked], lead: tuple[float, float, float], strange: float
) -> Floats:
    """In the order of CERTAINTY. `rivals`: other loops that do not show the same at that moment; one that is
    seen on another screen is none. `lead` as in `contest.Contest`, `strange` as in `verify.Agreement`."""
    gain, where, steady = lead
    rivals = [one for one in rivals if not beside(one.sight.part, best.sight.part)]
    margin = best.score - (rivals[0].score if rivals else NOBODY)
    row = dict(zip(FEATURES, best.sight.features(), strict=True))
    row |= {"lead": gain, "where": float(np.log1p(where)), "clear": gain * min(1.0, where / 6)}
    row |= {"steady": steady, "strange": strange}
    row |= {
        "best": best.score,
        "margin": float(np.clip(margin, -MARGIN_MAX, MARGIN_MAX)),
        "blocks": min(1.0, best.sight.agreement.compared / FEW_BLOCKS),
    }
    return np.array([row[name] for name in CERTAINTY], np.float32)


def probability(row: Floats, model: Model | None = None) -> float:
    """That the best loop is the right one."""
    score = float((model or models()[1]).score(row[None, :])[0])
    return float(1 / (1 + np.exp(-np.clip(score, -30, 30))))
