"""What the look ahead says of every candidate, beside the same sums done plainly, hypothesis by hypothesis."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from carbdiag import Case
from carbdiag.casework import assess
from carbdiag.diagnosis import shipped_knowledge
from carbdiag.next_step import Outlook, _rows, outlook
from carbdiag.plan import likeliest

MACHINE = {"family": "round_slide", "strokes": 2, "cylinders": 1}
CASES: dict[str, dict[str, Any]] = {
    "one sign": {"findings": [{"finding": "bogs", "at": ["half"]}]},
    "nothing told": {},
    "thinner air": {"air": {"set": {"elevation_m": 0}, "now": {"elevation_m": 2000}}, "visited": ["full"]},
    "denser air": {"air": {"set": {"elevation_m": 1500}, "now": {"elevation_m": 0}}, "visited": ["full"]},
    "two faults": {
        "findings": [
            {"finding": "surges", "at": ["quarter"]},
            {"finding": "black_smoke"},
            {"finding": "spark_snaps_or_shocks"},
        ]
    },
}


@pytest.fixture(scope="module", params=CASES)
def look(request: pytest.FixtureRequest) -> tuple[Outlook, np.ndarray, np.ndarray]:
    """An outlook, what every hypothesis in it would show worked out anew, and which merged one it belongs to."""
    case = Case.model_validate({"machine": MACHINE, **CASES[request.param]})
    belief = likeliest(assess(shipped_knowledge(), case))
    found = outlook(belief)
    assert found is not None
    first, second = belief.network.members(found.members)
    rows = _rows(belief.network, found.candidates, first, second).astype(float)
    return found, rows, np.repeat(np.arange(len(found.first)), found.groups.count)


def test_a_merged_hypothesis_shows_the_mean_of_its_members(look: tuple[Outlook, np.ndarray, np.ndarray]) -> None:
    found, rows, of = look
    share = found.groups.share.astype(float)
    for m in range(len(found.first)):
        assert found.rows[m] == pytest.approx(share[of == m] @ rows[of == m], abs=1e-5)
        assert share[of == m].sum() == pytest.approx(1, abs=1e-5)


def test_the_members_of_a_merged_hypothesis_name_the_same_causes(look: tuple[Outlook, np.ndarray, np.ndarray]) -> None:
    found, _, of = look
    network = found.model.network
    assert len(set(found.members.tolist())) == len(found.members)
    named = [(network.cause[a], network.cause[b] if b else -1) for a, b in zip(found.first, found.second, strict=True)]
    assert len(set(named)) == len(named)
    alone = found.members < network.states
    assert [named[m] for m in of[alone]] == [(network.cause[s], -1) for s in found.members[alone]]


def test_the_gain_is_what_outcome_and_cause_tell_of_each_other(look: tuple[Outlook, np.ndarray, np.ndarray]) -> None:
    found, _, _ = look
    weights = found.groups.weights.astype(float)
    for t, gain in enumerate(found.gain.tolist()):
        joint = found.given(t).astype(float) * weights
        apart = np.outer(joint.sum(axis=1), weights)
        seen = joint > 1e-12
        assert gain == pytest.approx((joint[seen] * np.log2(joint[seen] / apart[seen])).sum(), abs=2e-5)
