"""Several settings off at once, as one more hypothesis of an outlook: what every candidate would show, and would tell.

So what may be asked, looked at and repaired is weighed beside going on from setting to setting.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Final

import numpy as np

from carbdiag.belief.information import Grouped, Shares, p_log_p
from carbdiag.candidates import Candidates
from carbdiag.casework.believed import Belief
from carbdiag.casework.several_settings import SeveralSettings
from carbdiag.outlook import Outlook, unspoken

#: What it is called beside the ids of causes.
SEVERAL: Final = "several settings"


def with_several(look: Outlook, belief: Belief) -> Outlook:
    """The outlook with several settings off at once as its last hypothesis, where that may be."""
    several = belief.several
    if several is None:
        return look
    c, old, share = look.candidates, look.groups, np.float32(several.share)
    row = _row(belief, several, c)
    signs = len(row) - len(c.noticed)
    row[signs + belief.unspoken] = unspoken(row[signs + belief.unspoken], c.noticed[belief.unspoken])
    groups = Grouped(
        np.append(old.weights * (1 - share), share),
        np.append(old.start, len(look.members)),
        np.append(old.count, 1),
        np.append(old.share, np.float32(1)),
    )
    comes = old.weights @ look.rows
    both = (1 - share) * comes + share * row

    def of(p: Shares) -> Shares:
        return c.by_candidate(p_log_p(p), p_log_p(1 - p[c.of_checks :]))

    gain = np.maximum((1 - share) * (look.gain + of(comes)) + share * of(row) - of(both), 0)
    return replace(
        look,
        members=np.append(look.members, 0),
        groups=groups,
        first=np.append(look.first, 0),
        second=np.append(look.second, 0),
        rows=np.vstack([look.rows, row]),
        gain=gain,
        several=several,
    )


def _row(belief: Belief, several: SeveralSettings, c: Candidates) -> Shares:
    """P(outcome) for every outcome of the checks, then P(yes) for the rest, as `Outlook.rows` has them, (rows,)."""
    network = belief.network
    lies = several.over_x(network.lattice, belief.steps).astype(np.float32)
    by_cause = c.values[0] / np.maximum(c.speaks[0], 1) + (c.speaks[0] == 0) * c.otherwise
    by_mixture = np.einsum("mn,mn->m", c.tables, lies[c.table_place])
    told = np.minimum(c.context_yes[0], c.most_told)
    silent = c.links[0] * c.always_silent
    silent[c.mixed] *= np.einsum("rn,rn->r", c.silent[c.mixed], lies[network.signs.place[c.mixed]])
    shown = silent * (2 * c.error - 1) + (1 - c.error)
    return np.concatenate([by_cause, by_mixture, told, shown]).astype(np.float32)
