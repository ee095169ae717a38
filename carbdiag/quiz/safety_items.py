"""Items about safety: which of four steps must not be done.

The only item whose key is something dangerous, and it is asked for as that. The other three are the safe ways of
other unsafe steps, each written and sourced in knowledge, so that nothing dangerous is ever shown as right.
"""

from __future__ import annotations

from carbdiag.applies import fits
from carbdiag.knowledge import Knowledge
from carbdiag.quiz.draft import Draft, DraftOption, cited, fill
from carbdiag.quiz.kinds import Work
from carbdiag.records.quiz import UnsafeStep


def unsafe_step(w: Work) -> Draft | None:
    """One unsafe step among safe ways."""
    k, b = w.k, w.bench
    fit = [s for s in k.unsafe_steps.values() if fits(s.applies, b.family.id, b.model.strokes)]
    if len(fit) < w.rules.options + 1:
        return None
    key = w.dice.pick(fit)
    # what breaks the same caution is left out: its safe way would point at the key
    others = [s for s in fit if s.caution != key.caution]
    safe = w.dice.shuffled(others)[: w.rules.options - 1]
    if len({s.caution for s in safe}) < len(safe):
        return None

    def harmless(s: UnsafeStep) -> DraftOption:
        return DraftOption(s.instead, f"Safe as it stands. {s.why}", 0.0, 0.0, cited(s.sources))

    return Draft(
        kind=w.kind,
        form="choice",
        stem=w.stem(),
        ask=fill(w.ask()),
        explanation=fill(
            w.kind.explains,
            list=f"Never do this: “{key.unsafe}” {key.why} The safe way: {key.instead}",
        ),
        about=frozenset({f"unsafe:{key.id}"}),
        tags=frozenset(),
        options=(
            DraftOption(key.unsafe, f"Unsafe: {key.why}", 1.0, 1.0, cited(key.sources)),
            *(harmless(s) for s in safe),
        ),
        cautions=(key.caution,),
        sources=cited(k.cautions[key.caution].sources),
        usual=(_how_often_named(k, key.caution),),
        near=0.5,
    )


def _how_often_named(k: Knowledge, caution: str) -> float:
    """The share of checks and actions that name a caution: what is seldom named is seldom known."""
    named = [r.cautions for r in k.checks.values()] + [r.cautions for r in k.actions.values()]
    return max(sum(caution in cautions for cautions in named), 1) / len(named)
