"""The signs that were told, as evidence: at one place, somewhere among several, or once more after a repair."""

from __future__ import annotations

import numpy as np

from carbdiag.belief.evidence import PlaceTerm, SignPart, said_absent, said_present, signs_alone, single_term
from carbdiag.case_schema import Epoch, FindingReport
from carbdiag.casework.columns import Paraphrase, somewhere
from carbdiag.casework.complaint import Complaint
from carbdiag.casework.gathered import Gathered
from carbdiag.casework.observation import finding_said
from carbdiag.casework.repaired import ToldAgain
from carbdiag.casework.unsaid import Unsaid
from carbdiag.terms import Status


class FindingsTold:
    """Turns what an epoch says of signs into evidence."""

    def __init__(self, gathered: Gathered) -> None:
        self.gathered = gathered
        self.model, self.network, self.k = gathered.model, gathered.network, gathered.k
        self.unsaid = Unsaid(gathered.model, gathered.case)
        self.complaint = Complaint(gathered.model, gathered.case)
        self.somewhere: list[tuple[Paraphrase, ...]] = []  # told without one place
        self.reach: set[str] = set()
        self.unmixed: list[PlaceTerm] = []  # statements of one epoch about signs that the mixture does not touch
        self.shown: set[tuple[str, str]] = set()  # signs, by place, told present before this epoch
        self.again: list[ToldAgain] = []  # told of them once more, after a repair
        self.last_told = {
            (f.finding, at): n for n, e in enumerate(gathered.case.history()) for f in e.findings for at in f.at
        }

    def read(self, epoch: Epoch) -> None:
        """Take down what an epoch says of signs."""
        model, k = self.model, self.k
        placed: dict[tuple[str, Status, str], list[tuple[FindingReport, int]]] = {}
        loose: dict[tuple[str, Status], list[FindingReport]] = {}
        for report in epoch.findings:
            finding = k.findings[report.finding]
            places = [p for p in (report.at or finding.at) if (report.finding, p) in model.rows]
            self.unsaid.mention(report, places)
            if report.status is Status.UNKNOWN or not places:
                continue
            cluster = finding.cluster or finding.id
            if report.cylinders and report.status is Status.PRESENT:
                self.reach.add(report.cylinders)
            if len(places) == 1 and self.gathered.repaired is not None and (report.finding, places[0]) in self.shown:
                self._told_again(report, places[0])
            elif len(places) == 1:
                row = model.rows[report.finding, places[0]]
                placed.setdefault((cluster, report.status, places[0]), []).append((report, row))
            else:
                loose.setdefault((cluster, report.status), []).append(report)
        said = {(cluster, status) for cluster, status, _ in placed}
        for (_, status, place), reports in placed.items():
            self._placed(status, place, reports)
        if self.unmixed:
            self.gathered.columns.append(signs_alone(self.network, tuple(self.unmixed)))
            self.unmixed.clear()
        for key, loose_reports in loose.items():
            if key not in said:
                self._loose(key[1], loose_reports)

    def over(self, epoch: Epoch) -> None:
        """Keep which signs have shown by the end of an epoch, for those told again after a repair."""
        self.again.clear()
        self.shown |= {(f.finding, p) for f in epoch.findings if f.status is Status.PRESENT for p in f.at}

    def _line(self, report: FindingReport) -> tuple[float, float]:
        error = self.k.scales.certainty[report.certainty]
        return said_present(error) if report.status is Status.PRESENT else said_absent(error)

    def _placed(self, status: Status, place: str, reports: list[tuple[FindingReport, int]]) -> None:
        network = self.network
        index = self.model.place(place)
        n = len(reports)
        lines = [self._line(report) for report, _ in reports]
        step = int(self.gathered.steps[index])
        term = PlaceTerm(
            constant=sum(c for c, _ in lines) / n,
            parts=tuple(SignPart(row, w / n, step) for (_, row), (_, w) in zip(reports, lines, strict=True)),
        )
        if any(network.signs.has_mixture[row] for _, row in reports):
            self.gathered.at(index, term)
        else:
            self.unmixed.append(term)
        names = [self.k.findings[r.finding].name for r, _ in reports]
        single = single_term(network, index, term)
        sound = term.constant + sum(p.weight * float(self.model.network.single_silent[p.row, 0]) for p in term.parts)
        said = tuple(
            Paraphrase(c / n, p.weight, (p.row,), (p.steps,), float(network.base_mean[p.row, network.lattice.center]))
            for (c, _), p in zip(lines, term.parts, strict=True)
        )
        self.complaint.tell(status, [r for r, _ in reports], sound, single, said)
        self.gathered.note(
            finding_said(names, self.k.places[place].name, status, [r for r, _ in reports], (place,)),
            single,
            term.constant + sum(p.weight * (1 - float(self.model.unknown_rate[p.row])) for p in term.parts),
        )

    def _told_again(self, report: FindingReport, place: str) -> None:
        """A sign that showed before a repair, and still does or does so no longer."""
        if self.last_told[report.finding, place] != self.gathered.number:
            return  # what is told of it later says it all
        assert self.gathered.repaired is not None
        row = self.model.rows[report.finding, place]
        status, error = report.status, self.k.scales.certainty[report.certainty]
        again = ToldAgain(
            row, self.model.place(place), int(self.gathered.steps[self.model.place(place)]), status, error,
            self.k.scales.trials.felt_anew,
        )  # fmt: skip
        self.again.append(again)
        alone = again.present(self.network)[: self.network.states]
        a = self.gathered.repaired.alone
        single = (1 - a) * again.chance(alone, alone) + a * again.chance(alone[0], alone)
        rate = float(self.model.unknown_rate[row])
        name, where = self.k.findings[report.finding].name, self.k.places[place].name
        said = finding_said([name], where, status, [report], (place,))
        self.gathered.note(said, single, float(again.chance(rate, rate)))

    def _loose(self, status: Status, reports: list[FindingReport]) -> None:
        network, model = self.network, self.model
        n = len(reports)
        said: list[Paraphrase] = []
        background = 0.0
        for report in reports:
            constant, weight = self._line(report)
            rows = self._rows(report)
            steps = tuple(int(self.gathered.steps[int(network.signs.place[r])]) for r in rows)
            said.append(Paraphrase(constant / n, weight / n, rows, steps, model.everyday_silent[report.finding]))
            rate = 1 - (1 - float(np.add.reduce(model.unknown_rate.take(rows))) / len(rows)) ** min(len(rows), 2)
            background += (constant + weight * (1 - rate)) / n
        single = self.gathered.column(somewhere(said))
        sound = float(single[0])
        if self.gathered.steps.any():  # what a moved setting brought is no everyday sign
            at_first = [paraphrase._replace(steps=(0,) * len(paraphrase.rows)) for paraphrase in said]
            sound = float(somewhere(at_first)(self.model.network)[0])
        self.complaint.tell(status, reports, sound, single, tuple(said))
        self.somewhere.append(tuple(said))
        names = [self.k.findings[r.finding].name for r in reports]
        where = sorted({p for r in reports for p in r.at}, key=model.places.index)
        place = " or ".join(self.k.places[p].name for p in where)
        self.gathered.note(finding_said(names, place, status, reports, tuple(where)), single, background)

    def _rows(self, report: FindingReport) -> tuple[int, ...]:
        at = report.at or self.k.findings[report.finding].at
        return tuple(self.model.rows[report.finding, p] for p in at if (report.finding, p) in self.model.rows)
