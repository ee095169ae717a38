"""The page of the manual that says what the knowledge covers and how well it is sourced."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import chain

from carbdiag.answers.phrases import capital
from carbdiag.coverage import Coverage, Share, Standing, total


def coverage_page(found: Coverage) -> str:
    """The page as CommonMark with tables."""
    head = (
        "# What the knowledge covers",
        "",
        f"Knowledge edition {found.edition}. `carbdiag lint --coverage` prints the same; with `--json` it also lists "
        "every link that no published source stands behind.",
        "",
    )
    sections = (_chart(found), _signs_and_causes(found), _groups(found), _sources(found))
    return "\n".join((*head, *chain.from_iterable(sections))).rstrip("\n") + "\n"


def _chart(found: Coverage) -> tuple[str, ...]:
    return (
        "## The chart",
        "",
        "An entry is one sign at one throttle band that points rich, or lean, with the circuit in control there and "
        "the correction ([the tables](bands/)). A sign that the mixture seldom shows points neither way and is not "
        "counted; causes settle it. The second number asks whether the diagnosis can name what the chart blames: "
        "circuit in control, rich or lean, with a cause of that family that is so.",
        "",
        "| Family | Entries with circuit and correction | Circuits that a cause can be |",
        "|---|---|---|",
        *(
            f"| {family} | {_of(entry)} | {_of(named)} |"
            for family, entry, named in zip(found.families, found.charts, found.named, strict=True)
        ),
        "",
        *_holes((*found.charts, *found.named)),
    )


def _signs_and_causes(found: Coverage) -> tuple[str, ...]:
    return (
        "## Signs and causes",
        "",
        "A cause produces a sign, or speaks through a check, when it makes it common (1 in 10 or more) and at least "
        "three times as likely as in a sound engine. Asked on every kind of machine that can have the cause, and the "
        "worst one counts.",
        "",
        "| What | There |",
        "|---|---|",
        *(f"| {capital(share.what)} | {_of(share)} |" for share in (found.signs, *found.causes)),
        "",
        *_holes((found.signs, *found.causes)),
    )


def _groups(found: Coverage) -> tuple[str, ...]:
    return (
        "## Groups",
        "",
        "How many causes of each group can occur on each family. A dash: the family has no such part, or the knowledge "
        "has no such cause yet.",
        "",
        f"| Group | {' | '.join(f.replace('_', ' ') for f in found.families)} |",
        f"|---|{'---|' * len(found.families)}",
        *(f"| `{group}` | {' | '.join(str(n) if n else '–' for n in counts)} |" for group, counts in found.groups),
        "",
    )


def _sources(found: Coverage) -> tuple[str, ...]:
    links, bare = found.all_links, found.links_without_weights
    return (
        "## Sources",
        "",
        "A **link** is one field of one record that claims something about engines: the signs a cause shows, what "
        "moves the mixture, the answers a check gives, which causes a circumstance speaks for. It is *published* when "
        "a published source is cited for that field or for a line of it (`supports` names which), else *common "
        "practice*, else *from memory*; *not said* means that the record's citations name other fields. Names, "
        "wording, times and tools are no links; nor are how readily a sign is mentioned and how far a cause reaches, "
        "which are judgment throughout.",
        "",
        "A published source supports that there is a connection and which way it points. The likelihood word beside "
        "it, *often* or *seldom*, is graded judgment everywhere. Three kinds of link are nothing but such a word "
        "(marked *), and hardly anybody publishes those.",
        "",
        f"- Links: **{links.published:.0%} published**, {links.counts[0]} of {links.total}. The goal is 70 %.",
        f"- Without those marked *: **{bare.published:.0%} published**, {bare.counts[0]} of {bare.total}.",
        f"- Citations, each one counted: {total('', found.citations).published:.0%} published.",
        f"- Single lines: a field often holds many. A published source singles out, by name, {links.lines_published} "
        f"of {links.lines} lines.",
        "",
        "| Link | Published | Common practice | From memory | Not said | Share published |",
        "|---|---|---|---|---|---|",
        *(_row(s, f"{s.what}{' *' if s.weight else ''}") for s in (*found.links, found.all_links)),
        "",
        "And each citation by the kind of record that makes it:",
        "",
        "| Records | Published | Common practice | From memory | Share published |",
        "|---|---|---|---|---|",
        *(_row(s, s.what, short=True) for s in (*found.citations, total("all citations", found.citations))),
    )


def _of(share: Share) -> str:
    return f"{share.there} of {share.of}"


def _row(standing: Standing, name: str, *, short: bool = False) -> str:
    counts = standing.counts[:-1] if short else standing.counts
    return f"| {name} | {' | '.join(map(str, counts))} | {standing.published:.0%} |"


def _holes(shares: Iterable[Share]) -> Iterator[str]:
    missing = [share for share in shares if share.missing]
    for share in missing:
        yield f"- {capital(share.what)}, missing: {', '.join(f'`{name}`' for name in share.missing)}."
    if missing:
        yield ""
