"""Pages of the manual that are computed from knowledge: band tables, the glossary, coverage, priors, and
every record as a page to print.

`python -m carbdiag.reference [FOLDER]` writes them into docs. Nothing in them is typed by hand.
"""

from __future__ import annotations

import sys
from collections.abc import Iterable, Iterator, Mapping
from itertools import groupby
from pathlib import Path
from typing import Any, NamedTuple, cast

from carbdiag.answers.phrases import capital, small
from carbdiag.band_schema import BandRow, BandTable
from carbdiag.band_view import band_table
from carbdiag.coverage import coverage
from carbdiag.coverage_page import coverage_page
from carbdiag.knowledge import Knowledge, default_folder, load_worked_cases
from carbdiag.priors_page import OutcomeCounts, priors_page
from carbdiag.record_pages import either, record_pages
from carbdiag.records.applies import Applies
from carbdiag.records.bands import Place
from carbdiag.records.families import Family
from carbdiag.strict_yaml import parse_yaml
from carbdiag.terms import Certainty, Effect, RepairHow, Status

#: The manual of this checkout, which also holds the counts of outcomes that one page is made from.
DOCS = Path(__file__).parent.parent / "docs"

_MADE_BY = "<!-- Written by `python -m carbdiag.reference` from knowledge/. Do not edit here. -->"


def pages(folder: Path | None = None) -> dict[str, str]:
    """Path inside docs -> text, for every page.

    Args:
        folder: a folder of knowledge; without it, the knowledge that carbdiag ships.
    """
    where = default_folder() if folder is None else folder
    k = Knowledge.load(where)
    out = {f"bands/{family}.md": _band_page(k, k.families[family]) for family in k.families}
    out["glossary.md"] = _glossary(k, _themes(where))
    worked = load_worked_cases(where)
    out["coverage.md"] = f"{_MADE_BY}\n{coverage_page(coverage(k, worked))}"
    counts = OutcomeCounts.model_validate(parse_yaml((DOCS / "outcome_counts.yaml").read_text(encoding="utf-8")))
    out["priors.md"] = f"{_MADE_BY}\n{priors_page(k, counts)}"
    out |= {f"reference/{name}": f"{_MADE_BY}\n{text}" for name, text in record_pages(k, worked).items()}
    return out


def write(docs: Path) -> None:
    """Write every page, and remove the pages of records that are gone."""
    fresh = pages()
    for folder in ("bands", "reference"):
        for old in (docs / folder).rglob("*.md"):
            if str(old.relative_to(docs)) not in fresh:
                old.unlink()
    for name, text in fresh.items():
        (docs / name).parent.mkdir(parents=True, exist_ok=True)
        (docs / name).write_text(text, encoding="utf-8")


# ---------------------------------------------------------------------------------------------------------
# The band table


def _band_page(k: Knowledge, family: Family) -> str:
    tables = [band_table(family.id, strokes, k) for strokes in family.strokes]
    lines = [
        _MADE_BY,
        f"# {family.name}: what is in control at each throttle opening",
        "",
        family.what,
        "",
        f"Family id: `{family.id}`. Knowledge edition {k.edition}.",
        "",
        tables[0].note,
        "",
        "The circuit in control is the one whose setting commands the largest part of the fuel at that opening. "
        "(The straight part of a needle feeds small openings too, but moving its clip does next to nothing there.) "
        "The line above each table gives that part, and the neighbors that have at least a third as much. *Mixture* "
        "is what the sign most often means there: a sign with two rows occurs both ways.",
        "",
    ]
    alike = all(table.rows == tables[0].rows for table in tables)
    for table in tables[:1] if alike else tables:
        if not alike:
            lines += [f"## On a {_stroke_word(table.strokes)}", ""]
        elif len(tables) > 1:
            lines += ["The table is the same for two-strokes and four-strokes.", ""]
        for place, rows in groupby(table.rows, key=lambda row: row.place):
            lines += _band(k, k.places[place], tuple(rows), "##" if alike else "###")
    lines += _band_sources(k, tables)
    return "\n".join(lines).rstrip("\n") + "\n"


def _stroke_word(strokes: int) -> str:
    return "two-stroke" if strokes == 2 else "four-stroke"


def _band(k: Knowledge, place: Place, rows: tuple[BandRow, ...], heading: str) -> Iterator[str]:
    first = rows[0]
    opening = ""
    if place.opening:
        opening = f" ({place.opening[0]:.0%} to {place.opening[2]:.0%} open)"
    yield f"{heading} {capital(place.name)}{opening}"
    yield ""
    others = ""
    if first.others:
        others = "; also " + ", ".join(small(k.circuits[c].name) for c in first.others)
    yield f"In control: **{small(first.part)}**, which commands {first.share:.0%} of the fuel{others}."
    yield ""
    yield "| Sign | Mixture | Circuit | Correction |"
    yield "|---|---|---|---|"
    for row in rows:
        yield (
            f"| {_cell(row.sign)} (`{row.finding}`) | {row.direction.value} | {_cell(row.part)} "
            f"| {_cell(row.correction)} |"
        )
    yield ""
    yield f"- How you know it worked: {first.verify}"
    yield f"- To put it back: {first.put_back}"
    for caution in k.cautions_for(c for row in rows for c in row.cautions):
        yield f"- Caution: {caution.text}"
    yield ""


def _band_sources(k: Knowledge, tables: Iterable[BandTable]) -> Iterator[str]:
    yield "## Sources"
    yield ""
    for identity in sorted({s for table in tables for row in table.rows for s in row.sources}):
        source = k.sources[identity]
        address = f", <{source.url}>" if source.url else ""
        yield f"- `{identity}`: {source.title}{address}"
    yield ""


# ---------------------------------------------------------------------------------------------------------
# The glossary

_SKELETON = """\
```yaml
id: my_machine
title: Bogs at half throttle since the exhaust was changed
machine: {family: round_slide, strokes: 2, cylinders: 1}    # leave out what you do not know
contexts: [exhaust_changed]
findings:
  - {finding: bogs, at: half}                               # it does this
  - {finding: black_smoke, status: denied}                  # it does not: a clear no says a lot
  - {finding: surges, at: [quarter, half], certainty: maybe}
checks:
  - {check: touch_of_choke, at: half, outcome: better}
trials:
  - {do: clean_carburetor, effect: no_change}               # a repair
  - {do: replace_plug, how: new_part, effect: no_change}    # and how it was done
  - {change: needle, direction: richer, steps: 1, at: half, effect: better}   # a setting moved
  - {change: main_jet, from_size: 125, to_size: 130, numbering: bore, at: full, effect: better}   # or its sizes
  - {tried: cap_open, effect: no_change}                    # for seconds, standing, then undone
```"""


def _themes(folder: Path) -> dict[str, dict[str, str]]:
    """Kind -> id of the record -> name of the file it stands in."""
    out: dict[str, dict[str, str]] = {}
    for kind in ("findings", "checks", "actions"):
        out[kind] = {
            record["id"]: file.stem
            for file in sorted((folder / kind).glob("*.yaml"))
            for record in cast(list[dict[str, Any]], parse_yaml(file.read_text(encoding="utf-8")))
        }
    return out


class _Section(NamedTuple):
    """A section of the glossary; `about` stands beside its heading in the contents."""

    heading: str
    about: str
    lines: Iterable[str]

    @property
    def entry(self) -> str:
        """Its line of the contents."""
        title = f"{self.heading}: {self.about}" if self.about else self.heading
        return f"- [{title}](#{self.heading.lower().replace(' ', '-')})"

    def text(self) -> str:
        """The section under its heading."""
        return "\n".join((f"## {self.heading}", "", *self.lines)).rstrip("\n")


def _glossary(k: Knowledge, themes: Mapping[str, Mapping[str, str]]) -> str:
    sections = (
        _Section("A case to start from", "", _to_start_from()),
        _Section("Places", "throttle openings and situations", _places(k)),
        _Section("Findings", "what the engine does", _findings(k, themes["findings"])),
        _Section("Findings by place", "which of them fit where", _by_place(k)),
        _Section("Checks", "what you did to learn more", _checks(k, themes["checks"])),
        _Section("Contexts", "what happened before", _contexts(k)),
        _Section("Actions", "repairs already tried", _actions(k, themes["actions"])),
        _Section("Circuits", "settings already moved", _circuits(k)),
        _Section("Tried for a moment", "changes made and undone", _tried(k)),
        _Section("Families", "kinds of carburetors", _families(k)),
        _Section("Uses", "what the machine is for", _uses(k)),
        _Section("Causes", "what a diagnosis may name", _causes(k)),
        _Section("Cautions", "read them before a check", _cautions(k)),
    )
    head = (
        _MADE_BY,
        "# Glossary: every word a case may use",
        "",
        "Look here for the id of what your machine does, then write it into a case. Search this page for a "
        "plain word (smoke, choke, stalls); every entry gives its `id`, the question it answers, and where it "
        f"may be said. Knowledge edition {k.edition}.",
        "",
        *(section.entry for section in sections),
    )
    return "\n\n".join(("\n".join(head), *(section.text() for section in sections))) + "\n"


def _to_start_from() -> Iterator[str]:
    yield _SKELETON
    yield ""
    yield f"- `status`: {_choices(Status)}. Leave it out for present."
    yield f"- `certainty`: {_choices(Certainty)}. Leave it out for sure."
    yield (
        f"- `effect` of a trial: {_choices(Effect)}. Came back: cured for a while. Overshot: better, then the "
        "opposite fault (settings only). Moved: the fault went along with a part swapped between cylinders. Not told: "
        "repaired, and nobody said what that did, or it was not run since."
    )
    yield f"- `how` of a repair: {_choices(RepairHow)}. Leave it out when nobody said."
    yield "- `at`: one place or a list (somewhere among these). Leave it out when nobody said where."


def _contexts(k: Knowledge) -> Iterator[str]:
    yield from (f"- `{c.id}` **{c.name}.** {c.ask}" for c in k.contexts.values())


def _circuits(k: Knowledge) -> Iterator[str]:
    yield "For `change` in a trial, with `direction: richer` or `leaner` and `steps` (1 when left out)."
    yield ""
    yield from (f"- `{c.id}` **{c.name}.** {c.what} One step: {c.step}." for c in k.circuits.values())


def _tried(k: Knowledge) -> Iterator[str]:
    yield "For `tried` in a trial: done for seconds or for one ride, then undone."
    yield ""
    yield from (f"- `{t.id}` **{t.name}.** {t.what}" for t in k.temporary_trials.values())


def _families(k: Knowledge) -> Iterator[str]:
    yield from (f"- `{f.id}` **{f.name}.** {f.what}" for f in k.families.values())
    yield "- `unknown` **You do not know which.** All of them are weighed."


def _uses(k: Knowledge) -> Iterator[str]:
    yield "For `use` of the machine: it says which carburetors to expect, what fails there, and what must be said."
    yield ""
    yield from (f"- `{u.id}` **{u.name}.** {u.what}" for u in k.uses.values())


def _cautions(k: Knowledge) -> Iterator[str]:
    yield "Read the ones a check names before you do it."
    yield ""
    yield from (f"- **{c.name}.** {c.text}" for c in k.cautions.values())


def _choices(words: Iterable[str]) -> str:
    return ", ".join(f"`{word}`" for word in words)


def _places(k: Knowledge) -> Iterator[str]:
    for place in k.places.values():
        opening = f", {place.opening[0]:.0%} to {place.opening[2]:.0%} open" if place.opening else ""
        yield f"- `{place.id}` {place.name}{opening}"


def _by_theme(ids: Iterable[str], theme: Mapping[str, str]) -> Iterator[tuple[str, list[str]]]:
    for name, of_theme in groupby(ids, key=lambda i: theme[i]):
        yield capital(name.replace("_", " ")), list(of_theme)


def _findings(k: Knowledge, theme: Mapping[str, str]) -> Iterator[str]:
    for name, ids in _by_theme(k.findings, theme):
        yield f"### {name}"
        yield ""
        for finding in (k.findings[i] for i in ids):
            yield f"- `{finding.id}` **{finding.name}.** {finding.ask}{_only(finding.applies)}"
            yield f"  At: {_choices(finding.at)}."
        yield ""


def _by_place(k: Knowledge) -> Iterator[str]:
    for place in k.places.values():
        fitting = sorted(f.id for f in k.findings.values() if place.id in f.at)
        yield f"- `{place.id}`: {_choices(fitting)}"


def _checks(k: Knowledge, theme: Mapping[str, str]) -> Iterator[str]:
    for name, ids in _by_theme(k.checks, theme):
        yield f"### {name}"
        yield ""
        for check in (k.checks[i] for i in ids):
            yield f"- `{check.id}` **{_ended(check.name)}** {check.do}{_only(check.applies)}"
            if check.cautions:
                names = ", ".join(small(k.cautions[c].name) for c in check.cautions)
                yield f"  - [Cautions](#cautions): {names}."
            if check.at:
                weak = f"; says little at {_choices(check.weak_at)}" if check.weak_at else ""
                yield f"  - At: {_choices(check.at)}{weak}."
            for outcome, meaning in check.outcomes.items():
                yield f"  - `{outcome}`: {meaning.means.rstrip('.')}."
        yield ""


def _ended(name: str) -> str:
    """A name as a sentence: a question keeps its own mark."""
    return name if name.endswith("?") else f"{name}."


def _actions(k: Knowledge, theme: Mapping[str, str]) -> Iterator[str]:
    for name, ids in _by_theme(k.actions, theme):
        yield f"### {name}"
        yield ""
        yield from (f"- `{i}` **{k.actions[i].name}.**" for i in ids)
        yield ""


def _causes(k: Knowledge) -> Iterator[str]:
    for group in k.groups.values():
        causes = [c for c in k.causes.values() if c.group == group.id]
        if causes:
            yield f"### {group.name}"
            yield ""
            yield f"{group.what} (`{group.id}`)"
            yield ""
            yield from (f"- `{c.id}` **{c.name}.** {c.summary}{_only(c.applies)}" for c in causes)
            yield ""


def _only(applies: Applies) -> str:
    """On which machines, in brackets, when not on all."""
    words = [
        *(["several cylinders"] if applies.cylinders else []),
        *(["several carburetors"] if applies.carburetors else []),
        *([" or ".join(_stroke_word(s) for s in applies.strokes)] if applies.strokes else []),
        *([either(f.replace("_", " ") for f in applies.families)] if applies.families else []),
        *([" or ".join(applies.cooling) + " cooling"] if applies.cooling else []),
        *([either(f.replace("_", " ") for f in applies.fuel_feed) + " feed"] if applies.fuel_feed else []),
        *([" or ".join(applies.oiling) + " oiling"] if applies.oiling else []),
    ]
    return f" (Only: {'; '.join(words)}.)" if words else ""


# ---------------------------------------------------------------------------------------------------------


def _cell(text: str) -> str:
    return text.replace("|", "\\|").replace("\n", " ")


if __name__ == "__main__":
    write(Path(sys.argv[1]) if len(sys.argv) > 1 else DOCS)
