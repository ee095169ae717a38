"""How like its kin a listed cause is: left out one at a time, how well the others of its kind foretell it.

    python benchmarks/kindred.py

Signs and check outcomes of each cause are foretold by a share of the mean of the others of its group and direction, the
rest being the mean of all causes; the share with the best expected log-likelihood is printed beside n / (n + 1), which
`belief/kindred` takes.
"""

from __future__ import annotations

import numpy as np

from carbdiag import Knowledge
from carbdiag.model import Model, compile_model

MACHINES = (("round_slide", 4), ("flat_slide", 2), ("constant_velocity", 4), ("butterfly", 4), ("diaphragm", 2))
SHARES = np.arange(0.05, 1.0, 0.05)
LEAST = 1e-3


def chances(model: Model) -> tuple[np.ndarray, list[np.ndarray]]:
    """(signs, C) direct links of every cause, and (outcomes, C) for every check that reads causes."""
    k = model.knowledge
    first = [next(n for n, s in enumerate(model.states) if s.cause == c) for c in model.cause_ids]
    checks = []
    for check in (c for c in k.checks.values() if c.reads == "causes"):
        found = [model.outcomes[check.id, o] for o in check.outcomes]
        checks.append(np.stack([np.where(o.speaks[first] > 0, o.values[first], o.otherwise) for o in found]))
    return 1 - model.network.signs.silent_links[:, first], checks


def foretold(truth: np.ndarray, guess: np.ndarray, *, exclusive: bool) -> float:
    """Expected log-likelihood of what a cause shows, of outcomes that exclude each other or of signs that do not."""
    p = np.clip(guess, LEAST, 1 - LEAST)
    if exclusive:
        return float((truth * np.log(p / p.sum())).sum())
    return float((truth * np.log(p) + (1 - truth) * np.log(1 - p)).sum())


def score(
    signs: np.ndarray, checks: list[np.ndarray], n: int, others: list[int], rest: list[int], share: float
) -> float:
    """How well a cause is foretold by so large a share of its kin's mean, the rest being the mean of all others."""

    def blend(t: np.ndarray) -> np.ndarray:
        return share * t[:, others].mean(axis=1) + (1 - share) * t[:, rest].mean(axis=1)

    of_checks = sum(foretold(t[:, n], blend(t), exclusive=True) for t in checks)
    return of_checks + foretold(signs[:, n], blend(signs), exclusive=False)


def main() -> None:
    """Print the best share by number of others of the kind."""
    k = Knowledge.load()
    scores: dict[int, np.ndarray] = {}
    counts: dict[int, int] = {}
    for family, strokes in MACHINES:
        model = compile_model(k, family, strokes)  # type: ignore[arg-type]
        signs, checks = chances(model)
        kinds = [(k.causes[c].group, model.directions[c]) for c in model.cause_ids]
        for n, kind in enumerate(kinds):
            others = [m for m, other in enumerate(kinds) if m != n and other == kind]
            rest = [m for m in range(len(kinds)) if m != n]
            if not others or not k.groups[kind[0]].unlisted:
                continue

            size = min(len(others), 8)
            scores[size] = scores.get(size, np.zeros(len(SHARES))) + [
                score(signs, checks, n, others, rest, float(s)) for s in SHARES
            ]
            counts[size] = counts.get(size, 0) + 1
    for size, total in sorted(scores.items()):
        best = float(SHARES[int(np.argmax(total))])
        print(f"{size} others: best share {best:.2f}, n / (n + 1) {size / (size + 1):.2f} ({counts[size]} causes)")


if __name__ == "__main__":
    main()
