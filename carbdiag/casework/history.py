"""The statements of a case, epoch by epoch: what was observed, and the changes then made."""

from __future__ import annotations

from carbdiag.belief.network import Network
from carbdiag.case_schema import Case, Epoch, FindingReport
from carbdiag.casework.checks import read_check, read_gauge
from carbdiag.casework.columns import reach_of
from carbdiag.casework.findings import FindingsTold
from carbdiag.casework.gathered import Gathered
from carbdiag.casework.observation import statement
from carbdiag.casework.repaired import with_repair
from carbdiag.casework.trials import read_repair, read_setting
from carbdiag.model import Model
from carbdiag.setting_shift import shift_by_trial
from carbdiag.terms import Effect, Status
from carbdiag.trials import moved_into_trouble


class History:
    """Reads a case as evidence for one model; lives only while one case is read."""

    def __init__(self, model: Model, network: Network, case: Case) -> None:
        self.gathered = Gathered(model, network, case)
        self.findings = FindingsTold(self.gathered)
        self.signs: tuple[FindingReport, ...] = ()  # the last that was said of signs

    def read(self) -> None:
        """Read every epoch in order."""
        g = self.gathered
        for trial in moved_into_trouble(g.case):
            shift = shift_by_trial(g.model, g.case.machine, trial)
            if shift is not None:
                g.steps = g.steps - g.network.lattice.steps(shift)
        for number, epoch in enumerate(g.case.history()):
            g.number = number
            self._observed(epoch)
            self._changed(epoch)
        if len(self.findings.reach) == 1:
            self._reach(next(iter(self.findings.reach)))

    def _observed(self, epoch: Epoch) -> None:
        g = self.gathered
        before = len(g.columns)
        outer = g.by_place
        if g.repaired is not None:
            # after a repair this epoch is its own integral, so that it can be read with and without the cause
            g.by_place = {}
        self.signs = epoch.findings or self.signs
        self.findings.read(epoch)
        for result in epoch.checks:
            read_check(g, result, self.signs)
        for reading in epoch.readings:
            read_gauge(g, reading)
        if g.repaired is not None:
            new = tuple(g.columns[before:])
            del g.columns[before:]
            places = g.places()
            g.by_place = outer
            again = tuple(self.findings.again)
            if new or places or again:
                g.columns.append(with_repair(g.repaired, new, places, again))
        self.findings.over(epoch)
        g.was_fine = g.was_fine and not any(f.status is Status.PRESENT for f in epoch.findings)

    def _changed(self, epoch: Epoch) -> None:
        g = self.gathered
        for trial in epoch.trials:
            if trial.do is not None:
                read_repair(g, trial)
            else:
                read_setting(g, trial)
            g.was_fine = g.was_fine and trial.effect is Effect.WORSE  # nobody mends what runs right

    def _reach(self, said: str) -> None:
        g = self.gathered
        single = g.column(reach_of(g.model.on_one, said))
        text = "Only one of several cylinders" if said == "one" else "All cylinders alike"
        # the outcome word is the one that a report used
        g.note(statement("reach", text, outcome=said), single, 0.5)
