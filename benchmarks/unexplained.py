"""How often the answer is `unexplained`: on cases that a listed cause explains, and on signs thrown together.

    python benchmarks/unexplained.py

Cases are drawn from the model itself (a four-stroke round slide): one cause by its prior odds, its signs, each
mentioned as often as its record says, at most six. The other half has as many signs drawn at random.
"""

from __future__ import annotations

import numpy as np

from carbdiag import Case, Knowledge
from carbdiag.casework.assessing import assess
from carbdiag.model import compile_model
from carbdiag.scales import probability

CASES, SEED, MOST_SIGNS = 400, 5, 6
RATIOS = (1.0, 0.5, 0.3, 0.25, 0.2, 0.1)


def main() -> None:
    """Print false alarms and hits by the ratio at which the answer would be `unexplained`."""
    k = Knowledge.load()
    model = compile_model(k, "round_slide", 4)
    network = model.network
    rng = np.random.default_rng(SEED)
    noticed = np.array([probability(k, k.findings[f].noticed_unasked) for f, _ in model.row_keys])
    usable = np.array([not k.findings[f].applies.cylinders for f, _ in model.row_keys])
    odds = np.where(network.cause >= 0, network.odds, 0.0)

    def ratio(rows: np.ndarray) -> float:
        findings = [{"finding": model.row_keys[r][0], "at": model.row_keys[r][1]} for r in rows]
        machine = {"family": "round_slide", "strokes": 4, "cylinders": 1}
        case = Case.model_validate({"machine": machine, "findings": findings})
        return assess(k, case).beliefs[0].background_ratio

    explained, thrown = [], []
    while len(explained) < CASES:
        state = rng.choice(len(odds), p=odds / odds.sum())
        x = network.single_cells[network.signs.place, state]
        shown = 1 - network.base_mean[np.arange(len(x)), x] * network.signs.silent_links[:, state]
        told = (rng.random(len(shown)) < shown) & (rng.random(len(shown)) < noticed) & usable
        rows = rng.permutation(np.flatnonzero(told))[:MOST_SIGNS]
        if len(rows) < 2:
            continue
        explained.append(ratio(rows))
        thrown.append(ratio(rng.choice(np.flatnonzero(usable), len(rows), replace=False)))
    now = k.scales.decision.explained_ratio
    for limit in RATIOS:
        mark = "  <- explained_ratio" if limit == now else ""
        alarms, hits = np.mean(np.array(explained) < limit), np.mean(np.array(thrown) < limit)
        print(f"ratio {limit:4}: said of {alarms:4.0%} of explainable cases, {hits:4.0%} of random signs{mark}")


if __name__ == "__main__":
    main()
