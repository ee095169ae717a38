"""Whether each trouble, verdict and effect is read at its own opening: sentences put together by chance, fixed seed.

    python benchmarks/openings.py [--sentences 400] [--show 10]

Three kinds: a trouble at one opening and "great" at another, two troubles at two openings, and a changed setting whose
effect is told at an opening. The wordings were looked at while the reader was mended, so the shares flatter; labels of
whole posts say nothing of openings.
"""

from __future__ import annotations

import argparse
import random
from collections.abc import Callable, Iterator
from typing import Any

from carbdiag import Knowledge, read_text

OPENINGS = {
    "full": ("pinned", "wide open", "wot", "full throttle", "flat out", "at full"),
    "half": ("half throttle", "at 1/2", "1/2 throttle"),
    "eighth": ("off idle", "1/8", "just off idle"),
    "idle": ("idle", "at idle"),
    "quarter": ("quarter throttle", "1/4"),
    "three_quarter": ("3/4", "3/4 throttle", "three quarter throttle"),
}
RIGHT = (
    "great", "perfect", "crisp", "clean", "mint", "spot on", "lovely", "sweet", "fine", "good", "smooth", "strong",
    "ok", "flawless", "beautiful", "awesome", "happy", "solid", "bang on", "dialed", "all good", "no issues",
    "really good",
)  # fmt: skip
TROUBLES = {
    "bogs": ("bogs", "bogs down"), "blubbers": ("blubbers", "burbles"), "misfires": ("stutters", "misses", "sputters"),
    "hesitates": ("hesitates", "stumbles"), "surges": ("surges", "hunts"),
}  # fmt: skip
ONE_RIGHT = (
    "{p} is {g}, {q} it {b}", "{p} it's {g}, {q} it {b}", "{q} it {b}, {p} is {g}", "{q} it {b} but {p} it's {g}",
    "{p}: {g}. {q}: it {b}", "{p} = {g}, {q} it {b}", "{g} at {p}, it {b} at {q}", "{p} {g}, it {b} at {q}",
    "Its {g} {p} and it {b} {q}", "runs {g} {p}, {q} it {b}", "{p} feels {g}. At {q} it {b}", "{p} {g} / {q} it {b}",
)  # fmt: skip
TWO_WRONG = (
    "it {b} at {p} and {c} at {q}", "at {p} it {b}, at {q} it {c}", "{p} {b}, {q} {c}", "{p}: {b}. {q}: {c}",
    "it {b} when I hold it at {p} but {c} at {q}", "it {b} at {p} then {c} when I get to {q}", "{p} - {b}\n{q} - {c}",
    "it {b} around {p}, then around {q} it {c}", "it {b} at {p} & it {c} at {q}",
)  # fmt: skip
MOVED = {
    ("main_jet", "richer"): ("went up two on the main", "main from 130 to 135", "fitted a bigger main jet"),
    ("main_jet", "leaner"): ("dropped the main from 140 to 135", "went down one on the main"),
    ("needle", "richer"): ("raised the needle a notch", "moved the clip down one", "dropped the clip one groove"),
    ("needle", "leaner"): ("lowered the needle one clip", "moved the clip up a notch"),
    ("pilot", "richer"): ("pilot from 42 to 45", "went up one on the pilot"),
    ("pilot", "leaner"): ("went from a 45 to a 42 pilot", "smaller pilot jet in"),
}
EFFECTS = {
    "better": ("better", "much better", "improved"), "worse": ("worse", "much worse"),
    "no_change": ("no change", "no difference", "the same"),
}  # fmt: skip
FELT = (
    "{d}, {e} at {p}", "{d} and it's {e} at {p}", "{d}: {e} at {p}", "{d}, {p} is {e}", "{d}. {p} {e}",
    "{d}, now it is {e} at {p}", "{d} and {p} got {e}", "{d} = {e} at {p}", "{d} -> {e} at {p}",
)  # fmt: skip


def at_places(k: Knowledge, text: str) -> dict[str, set[str]]:
    """The signs that show, with their openings; those denied under "right"."""
    out: dict[str, set[str]] = {}
    for read in read_text(text, k).findings:
        name = read.finding if str(read.status) == "present" else "right"
        out.setdefault(name, set()).update(read.at)
    return out


def one_right(k: Knowledge, chance: random.Random) -> tuple[str, str]:
    """A trouble at one opening, and that it runs right at another."""
    right, wrong = chance.sample([*OPENINGS], 2)
    sign = chance.choice([s for s in TROUBLES if wrong in k.findings[s].at])
    text = chance.choice(ONE_RIGHT).format(
        p=chance.choice(OPENINGS[right]), q=chance.choice(OPENINGS[wrong]), g=chance.choice(RIGHT),
        b=chance.choice(TROUBLES[sign]),
    )  # fmt: skip
    read = at_places(k, text)
    if any(right in at for name, at in read.items() if name != "right"):
        return "trouble put where it runs right", text
    return ("" if right in read.get("right", ()) else "that it runs right was lost"), text


def two_wrong(k: Knowledge, chance: random.Random) -> tuple[str, str]:
    """Two troubles, each at its own opening."""
    one, other = chance.sample([*TROUBLES], 2)
    here = chance.choice(k.findings[one].at)
    there = chance.choice([p for p in k.findings[other].at if p in OPENINGS and p != here])
    if here not in OPENINGS:
        return two_wrong(k, chance)
    text = chance.choice(TWO_WRONG).format(
        p=chance.choice(OPENINGS[here]), q=chance.choice(OPENINGS[there]), b=chance.choice(TROUBLES[one]),
        c=chance.choice(TROUBLES[other]),
    )  # fmt: skip
    read = at_places(k, text)
    wrong = any(read.get(sign, set()) - {place} for sign, place in ((one, here), (other, there)))
    if wrong:
        return "put at an opening that is not its own", text
    return ("" if read.get(one) and read.get(other) else "an opening was lost"), text


def felt(k: Knowledge, chance: random.Random) -> tuple[str, str]:
    """A changed setting, and its effect at an opening."""
    (setting, way), deeds = chance.choice([*MOVED.items()])
    effect, words = chance.choice([*EFFECTS.items()])
    place = chance.choice([p for p in OPENINGS if p != "idle"])
    text = "It bogs. " + chance.choice(FELT).format(
        d=chance.choice(deeds), e=chance.choice(words), p=chance.choice(OPENINGS[place])
    )
    trial: Any = next((t for t in read_text(text, k).trials if (t.change, t.direction) == (setting, way)), None)
    if trial is None:
        return "the trial was lost", text
    if trial.effect != effect:
        return "another effect", text
    return ("" if getattr(trial, "at", None) == place else "not at its opening"), text


def tried(of: Callable[[Knowledge, random.Random], tuple[str, str]], k: Knowledge, n: int) -> Iterator[tuple[str, str]]:
    chance = random.Random(of.__name__)
    for _ in range(n):
        yield of(k, chance)


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--sentences", type=int, default=400)
    options.add_argument("--show", type=int, default=0, help="how many that went wrong to show of each kind")
    asked = options.parse_args()
    k = Knowledge.load()
    for kind in (one_right, two_wrong, felt):
        results = [*tried(kind, k, asked.sentences)]
        wrong = [r for r in results if r[0]]
        print(f"{kind.__doc__} {asked.sentences - len(wrong)} of {asked.sentences} as told")
        for what in sorted({r[0] for r in wrong}):
            print(f"  {sum(r[0] == what for r in wrong):3} {what}")
        for what, text in sorted(wrong)[: asked.show]:
            print(f"      {what}: {text!r}")


if __name__ == "__main__":
    main()
