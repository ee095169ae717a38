"""Check a folder of knowledge beyond what loading it checks: twins, gaps, counts, words.

Loading refuses what is broken. This module finds what is whole and still wrong: two causes that nothing tells
apart, a check said to separate two causes that does not, a sign nobody shows, a setting that can only be off one
way. Every mistake is listed at once, each with its file and line.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import Final

import numpy as np

from carbdiag import schema
from carbdiag.belief.lattice import Floats, shifted
from carbdiag.errors import KnowledgeError, Mistake
from carbdiag.knowledge import Knowledge, default_folder, record_kinds
from carbdiag.model import Model, compile_model, fits, probability
from carbdiag.terms import Level

#: One observation must shift the odds of two causes by at least this, or they are twins.
APART: Final = 3.0

#: The least a usable set of knowledge holds.
MINIMUMS: Final = {"causes": 80, "findings at places": 120, "checks": 45, "contexts": 15}

#: Groups of causes that the families shipped here cannot have.
GROUPS_OF_OTHER_FAMILIES: Final = frozenset({"cv_diaphragm", "governor", "diaphragm_pumper"})

_SPELLING: Final = {
    "carburettor": "carburetor",
    "carburettors": "carburetors",
    "carburetter": "carburetor",
    "carburettion": "carburetion",
    "colour": "color",
    "colours": "colors",
    "coloured": "colored",
    "discoloured": "discolored",
    "vapour": "vapor",
    "vapours": "vapors",
    "tyre": "tire",
    "tyres": "tires",
    "behaviour": "behavior",
    "odour": "odor",
    "neighbour": "neighbor",
    "neighbouring": "neighboring",
    "labour": "labor",
    "favour": "favor",
    "centre": "center",
    "litre": "liter",
    "litres": "liters",
    "metre": "meter",
    "metres": "meters",
    "millimetre": "millimeter",
    "fibre": "fiber",
    "grey": "gray",
    "aluminium": "aluminum",
    "sulphur": "sulfur",
    "mould": "mold",
    "plough": "plow",
    "kerb": "curb",
    "spanner": "wrench",
    "spanners": "wrenches",
}

#: Names of makers, as digests so that this file names none. `word_digest` gives the digest of a new one.
_MAKERS: Final = frozenset(
    """
    00152fc92c 04a72ed83d 08f933ab9c 090987789f 09652a6d29 0c786b62da 0e8d4b4601 1807dc39b2 197d4f92d8
    23282e2a2a 25317df7e2 25ad60ad96 260ee2b5c3 291dc0d720 2bdbfc1721 2bf3259ad1 2c90d9437c 2ea231ae06
    2ff6de4b0d 32a0de9bb6 35d3360294 37fb3b96c4 3a8cb1f573 3ee0f2ea25 4211dcecef 4380a3edd6 4380f1f1d1
    45ec0678f7 467e57c892 487e90fe35 4b9698b837 4d7aa8ca3b 5cef1995bc 5d50d6d06d 61eb14d5a4 6233864213
    62b823e0d1 637eb3f249 6eab8bed3f 70381b3f43 70af470951 71d68af47a 736883a1df 75d42a1d19 75fb966585
    7c32c19f94 7d039bd8a1 7dcd843b81 823c3a2332 82a6d29bce 84490cec38 8699458e28 86dd71a193 86e18fad72
    89bb41e851 8e9e4ac990 8eb5f2e718 90fe4448c1 933c3ac71f 94a4bcaa85 95a08e219e 963c65fca1 9bfa80db2d
    9d9a1f41b9 9dccff780a a17b36c3e8 a2e65314cb a4b98b67fa a5ac942390 a5eded40e4 a619b4803f aa596e66fb
    aa8d729988 abdc26f95c b083372dd7 b0d0ca7763 b4a3c43e30 bc2753d77c bcdc362380 be212eaf1c c023bd5a09
    c7625f2678 ca16bccb0f cbd5a0152e cdc551726c cdc90fa16b ce059a6e08 ceef2cec3d d0099b1841 d2c5d4c60a
    d7f265d6b8 deecc3e651 df8dc722a8 e0966454f0 e0b8788383 f00da66d71 f17573b074 f35d1f152d f66388419a
    f86a800e69 f9f84d2a00 fbe0875afa fc1c49a653 fd46d68826 ff688be28b fff1e76c59
""".split()
)


@dataclass(frozen=True)
class Rival:
    """The cause hardest to tell from another, and the one observation that does it best."""

    cause: str
    rival: str
    observation: str
    ratio: float
    machine: str

    def __str__(self) -> str:
        return f"{self.cause} / {self.rival}: {self.observation} ({self.ratio:.1f}x) on {self.machine}"


@dataclass(frozen=True)
class LintReport:
    """All that was found. Mistakes must be mended; warnings should be looked at."""

    folder: Path
    mistakes: tuple[Mistake, ...]
    warnings: tuple[Mistake, ...] = ()
    counts: tuple[tuple[str, int], ...] = ()
    published: tuple[tuple[str, int, int], ...] = ()
    """For each kind of record: how many cite a published source, and of how many."""
    rivals: tuple[Rival, ...] = ()
    """The nearest rival of every cause, the hardest to tell apart first."""

    @property
    def fine(self) -> bool:
        """Whether there is no mistake."""
        return not self.mistakes

    def text(self) -> str:
        """The report for people."""
        lines = [f"error: {m}" for m in self.mistakes] + [f"warning: {m}" for m in self.warnings]
        lines += [f"{name}: {count}" for name, count in self.counts]
        lines += [f"{kind} with a published source: {cited} of {total}" for kind, cited, total in self.published]
        if self.rivals:
            lines.append("hardest to tell apart:")
            lines += [f"  {rival}" for rival in self.rivals[:5]]
        lines.append(f"{len(self.mistakes)} mistakes, {len(self.warnings)} warnings in {self.folder}")
        return "\n".join(lines)


def word_digest(word: str) -> str:
    """The digest under which a maker's name is kept."""
    return hashlib.blake2b(word.lower().encode(), digest_size=5).hexdigest()


def lint(folder: Path | None = None) -> LintReport:
    """Check a folder of knowledge; without one, the knowledge that carbdiag ships.

    Broken files are reported as mistakes, never raised; the checks of the whole set need files that load.
    """
    where = default_folder() if folder is None else Path(folder)
    texts = {
        str(file.relative_to(where)): file.read_bytes().decode("utf-8", "replace")
        for file in sorted(where.rglob("*.yaml"))
    }
    warnings = list(_words(texts)) + list(_modelines(texts))
    try:
        k = Knowledge.load(where)
    except KnowledgeError as error:
        return LintReport(where, error.mistakes, tuple(warnings))
    spot = _Spots(texts)
    machines = [_tabulate(compile_model(k, f.id, strokes)) for f in k.families.values() for strokes in f.strokes]
    rivals = _nearest_rivals(machines)
    counts = _counts(k)
    mistakes = [
        *_too_few(counts),
        *_groups_without_cause(k, spot),
        *_twins(machines, spot),
        *_one_way_settings(k, spot),
        *_signs_without_cause(k, spot),
        *_causes_without_sign(machines, spot),
        *_right_above_everyday(k, spot),
    ]
    warnings += [*_weak_separators(k, machines, spot), *_uncited(k, spot)]
    return LintReport(
        where, tuple(mistakes), tuple(warnings), tuple(counts.items()), _published(k), tuple(rivals)
    )


# ---------------------------------------------------------------------------------------------------------
# Where things stand in the files


class _Spots:
    """File and line of records and fields, found in the texts."""

    def __init__(self, texts: Mapping[str, str]) -> None:
        self._lines = {file: text.split("\n") for file, text in texts.items()}
        self._records: dict[tuple[str, str], tuple[str, int]] = {}
        for file, lines in self._lines.items():
            kind = file.split("/", maxsplit=1)[0]
            for number, line in enumerate(lines, 1):
                match = re.match(r"^(?:- \{?)?id: ([a-z0-9_]+)", line)
                if match:
                    self._records.setdefault((kind, match[1]), (file, number))

    def mistake(
        self, kind: str, identity: str, field: str, rule: str, found: str = "", near: str = "", words: str = ""
    ) -> Mistake:
        """A mistake in a record; `words` is text on the line meant, searched from the record on."""
        file, line = self._records.get((kind, identity), (kind, 0))
        if words:
            for number, text in enumerate(self._lines.get(file, [])[max(line - 1, 0) :], max(line, 1)):
                if words in text:
                    line = number
                    break
        is_list = file != f"{kind}/{identity}.yaml"
        return Mistake(file, f"{identity}.{field}" if is_list else field, rule, found, near, line or None)


# ---------------------------------------------------------------------------------------------------------
# How well one observation separates two causes


@dataclass(frozen=True, eq=False)
class _Machine:
    """P(observation | cause) for one family and stroke, causes at their usual severities."""

    name: str
    causes: tuple[str, ...]
    observations: tuple[str, ...]
    record: tuple[str, ...]  # id of the finding or check of each observation
    log_p: Floats  # (O, C)
    log_sound: Floats  # (O,) in an engine in which nothing is wrong
    everywhere: np.ndarray  # (O,) whether the observation can be made on every machine of the family


def _tabulate(model: Model) -> _Machine:
    k, network = model.knowledge, model.network
    number = {c: n for n, c in enumerate(model.cause_ids)}
    average = np.zeros((network.states, len(number) + 1))
    average[0, -1] = 1.0
    for n, state in enumerate(model.states):
        if state.cause is not None:
            average[n, number[state.cause]] = network.odds[n]
    average /= average.sum(axis=0)

    names: list[str] = []
    record: list[str] = []
    everywhere: list[bool] = []
    rows: list[Floats] = []

    def add(name: str, identity: str, applies: schema.Applies, by_state: Floats) -> None:
        names.append(name)
        record.append(identity)
        everywhere.append(_unrestricted(applies))
        rows.append(by_state)

    for row, (finding, at) in enumerate(model.row_keys):
        index = network.x_index[network.signs.place[row], : network.singles]
        silent = network.base_mean[row].take(index) * network.signs.silent_links[row]
        applies = k.findings[finding].applies
        add(f"{finding} at {at}", finding, applies, 1 - silent)
        add(f"no {finding} at {at}", finding, applies, silent)
    for (check_id, outcome), known in model.outcomes.items():
        check = k.checks[check_id]
        if not fits(check.applies, model.family.id, model.strokes):
            continue
        if known.table is None:
            by_state = np.where(known.speaks > 0, known.values, known.otherwise)
            add(f"{check_id}: {outcome}", check_id, check.applies, by_state)
            continue
        mean = network.weights @ np.stack([shifted(known.table, int(o)) for o in network.offsets])
        for at in check.at:
            index = network.x_index[model.place(at), : network.singles]
            add(f"{check_id} at {at}: {outcome}", check_id, check.applies, mean.take(index))
    log_p = np.log(np.stack(rows) @ average)
    return _Machine(
        f"{model.family.id}, {model.strokes}-stroke",
        model.cause_ids,
        tuple(names),
        tuple(record),
        np.ascontiguousarray(log_p[:, :-1]),
        log_p[:, -1],
        np.array(everywhere),
    )


def _unrestricted(applies: schema.Applies) -> bool:
    return not (applies.cylinders or applies.carburetors or applies.cooling or applies.fuel_feed or applies.oiling)


def _best(machine: _Machine, cause: int) -> tuple[Floats, np.ndarray]:
    """Against every other cause: the best |log ratio| of one observation, and which one."""
    apart = np.abs(machine.log_p - machine.log_p[:, [cause]])
    apart[~machine.everywhere] = 0.0
    which = apart.argmax(axis=0)
    return apart[which, np.arange(apart.shape[1])], which


def _nearest_rivals(machines: Iterable[_Machine]) -> list[Rival]:
    out: dict[str, Rival] = {}
    for machine in machines:
        for n, cause in enumerate(machine.causes):
            best, which = _best(machine, n)
            best[n] = np.inf
            rival = int(best.argmin())
            ratio = float(np.exp(best[rival]))
            if cause not in out or ratio < out[cause].ratio - 1e-9:
                out[cause] = Rival(
                    cause, machine.causes[rival], machine.observations[which[rival]], ratio, machine.name
                )
    return sorted(out.values(), key=lambda r: (r.ratio, r.cause))


def _twins(machines: Iterable[_Machine], spot: _Spots) -> Iterator[Mistake]:
    seen: set[tuple[str, str]] = set()
    for machine in machines:
        for n, cause in enumerate(machine.causes):
            best, which = _best(machine, n)
            for m in np.flatnonzero(best[n + 1 :] < np.log(APART)) + n + 1:
                pair = (cause, machine.causes[m])
                if pair in seen:
                    continue
                seen.add(pair)
                yield spot.mistake(
                    "causes", cause, "checks",
                    f"nothing tells it from {pair[1]} on {machine.name}: no finding or check outcome shifts their odds "
                    f"{APART:g}-fold",
                    f"{machine.observations[which[m]]} with {np.exp(best[m]):.1f}-fold", words="checks:",
                )  # fmt: skip


def _weak_separators(k: Knowledge, machines: list[_Machine], spot: _Spots) -> Iterator[Mistake]:
    for cause in k.causes.values():
        for n, rival in enumerate(cause.mistaken_for):
            best, shared = 0.0, False
            for machine in machines:
                if cause.id not in machine.causes or rival.cause not in machine.causes:
                    continue
                shared = True
                rows = [o for o, r in enumerate(machine.record) if r == rival.told_apart_by]
                if rows:
                    pair = [machine.causes.index(cause.id), machine.causes.index(rival.cause)]
                    apart = np.abs(np.diff(machine.log_p[np.ix_(rows, pair)], axis=1))
                    best = max(best, float(apart.max()))
            field = f"mistaken_for[{n}]"
            words = f"cause: {rival.cause},"
            if not shared:
                yield spot.mistake(
                    "causes", cause.id, f"{field}.cause", "the two never occur on the same machine", rival.cause,
                    words=words,
                )  # fmt: skip
            elif best < np.log(APART):
                yield spot.mistake(
                    "causes", cause.id, f"{field}.told_apart_by",
                    f"must shift the odds against {rival.cause} at least {APART:g}-fold",
                    f"{rival.told_apart_by} with {np.exp(best):.1f}-fold",
                    _strongest(machines, cause.id, rival.cause), words=words,
                )  # fmt: skip


def _strongest(machines: list[_Machine], cause: str, rival: str) -> str:
    for machine in machines:
        if cause in machine.causes and rival in machine.causes:
            best, which = _best(machine, machine.causes.index(cause))
            m = machine.causes.index(rival)
            if best[m] >= np.log(APART):
                return f"{machine.record[which[m]]} ({machine.observations[which[m]]}, {np.exp(best[m]):.1f}-fold)"
    return ""


def _causes_without_sign(machines: Iterable[_Machine], spot: _Spots) -> Iterator[Mistake]:
    seen: set[str] = set()
    for machine in machines:
        signs = np.array([" at " in o and ":" not in o for o in machine.observations])
        raised = (machine.log_p[signs] - machine.log_sound[signs][:, None]).max(axis=0)
        for n in np.flatnonzero(raised < np.log(APART)):
            if machine.causes[n] not in seen:
                seen.add(machine.causes[n])
                yield spot.mistake(
                    "causes", machine.causes[n], "shows",
                    f"no finding makes it {APART:g} times likelier than a sound engine on {machine.name}",
                    f"{np.exp(raised[n]):.1f}-fold at best",
                )  # fmt: skip


# ---------------------------------------------------------------------------------------------------------
# Gaps


def _counts(k: Knowledge) -> dict[str, int]:
    return {
        "causes": len(k.causes),
        "findings at places": sum(len(f.at) for f in k.findings.values()),
        "checks": len(k.checks),
        "contexts": len(k.contexts),
    }


def _too_few(counts: Mapping[str, int]) -> Iterator[Mistake]:
    for name, least in MINIMUMS.items():
        if counts[name] < least:
            yield Mistake("knowledge.yaml", name, f"at least {least} are needed", str(counts[name]))


def _groups_without_cause(k: Knowledge, spot: _Spots) -> Iterator[Mistake]:
    used = {c.group for c in k.causes.values()}
    for group in k.groups:
        if group not in used and group not in GROUPS_OF_OTHER_FAMILIES:
            yield spot.mistake("groups.yaml", group, "id", "a group needs at least one cause")


def _one_way_settings(k: Knowledge, spot: _Spots) -> Iterator[Mistake]:
    """A setting can be off both ways, so both ways need a cause in practical steps."""
    ways: dict[str, set[str]] = {}
    for cause in k.causes.values():
        if cause.mixture and cause.mixture.circuit:
            for text in cause.mixture.amounts:
                amount = schema.Amount.parse(text)
                if amount.unit == "steps":
                    ways.setdefault(cause.mixture.circuit, set()).add("richer" if amount.size > 0 else "leaner")
    for circuit, found in ways.items():
        for way in ("richer", "leaner"):
            if way not in found:
                yield spot.mistake(
                    "circuits", circuit, way, f"no cause has this setting too far {way}", f"only {', '.join(found)}"
                )


def _signs_without_cause(k: Knowledge, spot: _Spots) -> Iterator[Mistake]:
    shown = {(s.finding, at) for c in k.causes.values() for s in c.shows for at in s.at or k.findings[s.finding].at}
    for finding in k.findings.values():
        for at in finding.at:
            if (finding.mixture is None or at == "parked") and (finding.id, at) not in shown:
                yield spot.mistake("findings", finding.id, "at", "neither the mixture nor a cause shows it here", at)


def _right_above_everyday(k: Knowledge, spot: _Spots) -> Iterator[Mistake]:
    for finding in k.findings.values():
        if finding.mixture is None:
            continue
        right = finding.mixture[Level.RIGHT]
        if probability(k, right) > probability(k, finding.everyday):
            yield spot.mistake(
                "findings", finding.id, "mixture.right",
                f"must not be above everyday, which is {finding.everyday.value}", right.value, finding.everyday.value,
                words="mixture:",
            )  # fmt: skip


# ---------------------------------------------------------------------------------------------------------
# Sources and words


def _citing(k: Knowledge) -> dict[str, list[tuple[schema.Citation, ...]]]:
    return {
        kind: [record.sources for record in records]
        for kind, records in (
            ("causes", [*k.causes.values()]),
            ("findings", [*k.findings.values()]),
            ("checks", [*k.checks.values()]),
            ("actions", [*k.actions.values()]),
            ("circuits", [*k.circuits.values()]),
            ("families", [*k.families.values()]),
            ("contexts", [*k.contexts.values()]),
            ("cautions", [*k.cautions.values()]),
            ("holds", [*k.holds.values()]),
            ("tuning stages", [*k.tuning_order.values()]),
        )
    }


def _published(k: Knowledge) -> tuple[tuple[str, int, int], ...]:
    return tuple(
        (
            kind,
            sum(any(k.sources[c.source].kind == "published" for c in sources) for sources in all_sources),
            len(all_sources),
        )
        for kind, all_sources in _citing(k).items()
    )


def _uncited(k: Knowledge, spot: _Spots) -> Iterator[Mistake]:
    cited = {c.source for kind in _citing(k).values() for sources in kind for c in sources}
    cited |= {band.source for family in k.families.values() for band in family.published_bands}
    for source in k.sources.values():
        if source.kind == "published" and source.id not in cited:
            yield spot.mistake("sources.yaml", source.id, "id", "no record cites this source")


def _words(texts: Mapping[str, str]) -> Iterator[Mistake]:
    """Makers' names and other than US spelling, comments included; only an address may hold a maker's name."""
    for file, text in texts.items():
        for number, line in enumerate(text.split("\n"), 1):
            words = re.findall(r"[a-z]+(?:[0-9]+)?", re.sub(r"https?://[^\s\"']+", "", line).lower())
            joined = {a + b for a, b in pairwise(words)}
            for word in dict.fromkeys(words):
                if word in _SPELLING:
                    yield Mistake(file, "text", "US spelling", word, _SPELLING[word], number)
            for word in sorted({*words, *joined}):
                if word_digest(word) in _MAKERS:
                    yield Mistake(file, "text", "no maker's name in what we write", word, line=number)


def modeline(file: str) -> str:
    """The first line of a knowledge file: where editors find its JSON Schema."""
    parts = Path(file).parts
    return f"# yaml-language-server: $schema={'../' * len(parts)}docs/schema/{Path(parts[0]).stem}.json"


def _modelines(texts: Mapping[str, str]) -> Iterator[Mistake]:
    kinds = record_kinds()
    for file, text in texts.items():
        first = text.split("\n", 1)[0]
        if file.split("/", maxsplit=1)[0] in kinds and first != modeline(file):
            yield Mistake(file, "file", f"the first line must be {modeline(file)}", first[:60], line=1)
