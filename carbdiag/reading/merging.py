"""Statements of the same put together: what is said twice, in which stretch of time, or against each other."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Iterator, Sequence

from carbdiag import reading_schema as out
from carbdiag.reading.found import Found
from carbdiag.reading.matcher import Hit
from carbdiag.reading.order import Border, Order
from carbdiag.reading.reaches import PLACE_REACH
from carbdiag.terms import Certainty, Status

_SURE = {Certainty.MAYBE: 0, Certainty.PROBABLY: 1, Certainty.SURE: 2}


class Merging:
    """Puts the statements of a post together."""

    def __init__(self, found: Found) -> None:
        self.found = found

    def with_implied(self, findings: Sequence[tuple[out.FindingRead, Hit]]) -> Iterator[tuple[out.FindingRead, Hit]]:
        """Signs, and those that are there with them and of which nothing is said: not even a pop is no start."""
        stated = {read.finding for read, _ in findings}
        for read, hit in findings:
            if read.status is Status.PRESENT:
                for other in self.found.k.findings[read.finding].implies:
                    if other not in stated:
                        yield read.model_copy(update={"finding": other}), hit
            yield read, hit

    def of_the_same(self, findings: Iterable[tuple[out.FindingRead, Hit]]) -> Iterator[tuple[out.FindingRead, Hit]]:
        """Denials of a broader sign as those of the one told before: "pops on decel ... the popping is gone"."""
        narrower: dict[str, out.FindingRead] = {}
        for read, hit in findings:
            if read.status is Status.PRESENT:
                narrower.update(dict.fromkeys(self.found.k.findings[read.finding].narrows, read))
            known = narrower.get(read.finding) if read.status is Status.DENIED else None
            if known and hit.meaning.more == "denied":
                # "dies when I come to a stop. Cold it idles perfect": what is right holds at times
                self.found.put_aside(hit, "contradicted")
                continue
            yield (read.model_copy(update={"finding": known.finding, "at": known.at}) if known else read), hit

    def in_order(
        self,
        order: Order,
        borders: Sequence[Border],
        findings: Iterable[tuple[out.FindingRead, Hit]],
        past: Iterable[tuple[out.FindingRead, Hit]],
    ) -> Iterator[tuple[out.FindingRead, Hit]]:
        """The signs with the stretch of time each was seen in."""
        known: dict[Hit, out.FindingRead] = {}
        for read, hit in findings:
            known[hit] = read
            seen = order.epoch(borders, hit) if borders else 0
            yield (read.model_copy(update={"epoch": seen}) if seen else read), hit
        for read, hit in past:
            epoch = order.epoch_of_past(borders, hit)
            if epoch is None:
                self.found.put_aside(hit, "past")
            else:
                yield read.model_copy(update={"epoch": epoch}), hit
        for hit, epoch in order.there_before(borders):
            yield known[hit].model_copy(update={"status": Status.PRESENT, "epoch": epoch}), hit
        for hit, epoch in order.not_before(borders):
            update = {"status": Status.DENIED, "epoch": epoch, "certainty": Certainty.SURE, "cylinders": None}
            yield known[hit].model_copy(update=update), hit

    def findings(self, placed: Iterable[tuple[out.FindingRead, Hit]]) -> Iterator[out.FindingRead]:
        """The signs of each stretch of time, what is told several times once."""
        epochs: dict[int, dict[tuple[str, tuple[str, ...]], list[tuple[out.FindingRead, Hit]]]] = {}
        for read, hit in placed:
            epochs.setdefault(read.epoch, {}).setdefault((read.finding, read.at), []).append((read, hit))
        for _, found in sorted(epochs.items()):
            yield from self._merge_of_epoch(found)

    def _merge_of_epoch(
        self, found: dict[tuple[str, tuple[str, ...]], list[tuple[out.FindingRead, Hit]]]
    ) -> Iterator[out.FindingRead]:
        located: dict[tuple[str, Status], tuple[str, ...]] = {}
        for (finding, at), reads in found.items():
            if at:
                for read, _ in reads:
                    located.setdefault((finding, read.status), at)
        # What was said without a place joins what was said of the same sign, the same way, at one.
        for finding, at in [key for key in found if not key[1]]:
            stay = []
            for read, hit in found[finding, at]:
                twin = located.get((finding, read.status))
                if twin is None:
                    stay.append((read, hit))
                else:
                    found[finding, twin].append((read, hit))
            found[finding, at] = stay
        for reads in found.values():
            firm = [(r, h) for r, h in reads if r.status is not Status.UNKNOWN] or reads
            firm = self._without_parts_of_denials(firm)
            statuses = {r.status for r, _ in firm}
            if len(statuses) > 1:
                for _, hit in firm:
                    self.found.put_aside(hit, "contradicted")
            elif len(firm) == 1:
                yield firm[0][0]
            elif firm:
                surest = max((r for r, _ in firm), key=lambda r: (_SURE[r.certainty], -r.said[0].start))
                said = tuple(sorted({r.said[0] for r, _ in firm}, key=lambda s: (s.start, s.end)))
                cylinders = next((r.cylinders for r, _ in firm if r.cylinders), None)
                yield surest.model_copy(
                    update={"said": said, "cylinders": cylinders, "at": next(r.at for r, _ in firm)}
                )

    def _without_parts_of_denials(self, firm: list[tuple[out.FindingRead, Hit]]) -> list[tuple[out.FindingRead, Hit]]:
        """Statements without what a denial of the same sign holds too: "no (surging) at steady throttle".

        Phrases of different length over the same words stand on either side of a denial's reach, and say one thing.
        """
        denials = [h for r, h in firm if r.status is Status.DENIED]
        return [(r, h) for r, h in firm if r.status is Status.DENIED or not any(self._held(h, d) for d in denials)]

    def _held(self, hit: Hit, denial: Hit) -> bool:
        if not denial.meaning.more:
            return denial.first <= hit.first and hit.last <= denial.last
        begins = denial.first < hit.first <= denial.last and denial.first in self.found.negators
        return begins and not self.found.broken(denial.first, hit.last, strong=True)

    def contexts(self, found: dict[str, list[tuple[Status, Hit]]]) -> Iterator[out.ContextRead]:
        """The circumstances, each once; one told both ways, or said by a more special one, is left out."""
        present = {c for c, told in found.items() if {status for status, _ in told} == {Status.PRESENT}}
        for context, told in found.items():
            special = present.intersection(self.found.k.contexts[context].settled_by)
            if any(context not in self.found.k.contexts[s].settled_by for s in special):
                continue  # the special says it all
            if len({status for status, _ in told}) > 1:
                for _, hit in told:
                    self.found.put_aside(hit, "contradicted")
                continue
            yield out.ContextRead.trusted(
                context=context, status=told[0][0], said=tuple(self.found.said(h.first, h.last) for _, h in told)
            )

    def checks(
        self, checks: Iterable[tuple[out.CheckRead, Hit]], order: Order, borders: Sequence[Border]
    ) -> Iterator[out.CheckRead]:
        """The checks of each stretch of time, each once at a place."""
        found: dict[tuple[int, str, str | None], list[tuple[out.CheckRead, Hit]]] = {}
        for read, hit in checks:
            epoch = order.epoch(borders, hit)
            update = {"epoch": epoch}
            put = read.model_copy(update=update) if epoch else read
            found.setdefault((epoch, read.check, read.at), []).append((put, hit))
        for told in map(self._longest, found.values()):
            if len({read.outcome for read, _ in told}) > 1:
                together = self._faults_together(told)
                if together is not None:
                    yield together
                    continue
                for _, hit in told:
                    self.found.put_aside(hit, "contradicted")
                continue
            read, *others = (read for read, _ in told)
            said = tuple(s for r in (read, *others) for s in r.said)
            yield read.model_copy(update={"said": said}) if others else read

    def _faults_together(self, told: Sequence[tuple[out.CheckRead, Hit]]) -> out.CheckRead | None:
        """One of several faults that were found in one look, told in one breath: "water and dirt in the bowl".

        A look holds one result: the least extraordinary, of those the one told first.
        """
        check = self.found.k.checks[told[0][0].check]
        if check.reads != "causes" or check.kind != "check":
            return None
        chances = self.found.k.scales.probability
        usual = {name: chances[o.otherwise] for name, o in check.outcomes.items() if o.otherwise is not None}
        first, last = min(hit.first for _, hit in told), max(hit.first for _, hit in told)
        sentences = {self.found.symbols.sentence_of[hit.first] for _, hit in told}
        sound = max(usual.values())
        apart = len(sentences) > 1 or self.found.broken(first, last, strong=True)
        if apart or any(usual[read.outcome] == sound for read, _ in told):
            return None
        return min(told, key=lambda t: (-usual[t[0].outcome], t[1].first))[0]

    def _longest(self, told: list[tuple[out.CheckRead, Hit]]) -> list[tuple[out.CheckRead, Hit]]:
        """Outcomes of one check without those that the longer words of a clause around them turn."""
        # "no (fuel coming out)"
        if len(told) == 1:
            return told
        around = sorted(((h.first, h, r.outcome) for r, h in told if not self.found.broken(h.first, h.last)))
        firsts = [first for first, _, _ in around]
        return [
            (read, hit)
            for read, hit in told
            if not any(
                outcome != read.outcome
                and longer.first <= hit.first
                and hit.last <= longer.last
                and (
                    longer.last - longer.first > hit.last - hit.first
                    # a phrase as it stands, rather than what was put together from part and verdict
                    or (hit in self.found.told and longer not in self.found.told)
                )
                for _, longer, outcome in around[
                    bisect_left(firsts, hit.first - 2 * PLACE_REACH) : bisect_right(firsts, hit.first)
                ]
            )
        ]
