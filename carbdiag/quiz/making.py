"""Make a quiz: fill every place of the blueprint with an item that holds up, and throw away those that do not."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Mapping
from types import MappingProxyType

from carbdiag.errors import CaseError, Problem
from carbdiag.knowledge import Knowledge, the_knowledge
from carbdiag.model import Strokes
from carbdiag.quiz.bench import bench
from carbdiag.quiz.blueprint import Slot, machines, rules_of, slots
from carbdiag.quiz.cause_items import likely_cause, look_alikes, rules_out
from carbdiag.quiz.check_items import best_check
from carbdiag.quiz.circuit_items import rich_or_lean, which_circuit
from carbdiag.quiz.dice import Dice
from carbdiag.quiz.draft import Draft, all_tags, finish
from carbdiag.quiz.kinds import Maker, Work
from carbdiag.quiz.safety_items import unsafe_step
from carbdiag.quiz.scenario_items import scenario
from carbdiag.quiz.setting_items import correct_it, order_steps, size_it
from carbdiag.quiz_schema import Blueprint, ItemKey, ItemView, Quiz, StudentQuiz
from carbdiag.records.quiz import QuizRules

MAKERS: Mapping[str, Maker] = MappingProxyType(
    {
        "which_circuit": which_circuit,
        "rich_or_lean": rich_or_lean,
        "likely_cause": likely_cause,
        "best_check": best_check,
        "rules_out": rules_out,
        "correct_it": correct_it,
        "order_steps": order_steps,
        "look_alikes": look_alikes,
        "size_it": size_it,
        "unsafe_step": unsafe_step,
        "scenario": scenario,
    }
)

_TRIES_OF_A_KIND = 12


def make_quiz(
    blueprint: Blueprint | None = None,
    seed: int | str = 1,
    knowledge: Knowledge | None = None,
    progress: Callable[[int, int], None] | None = None,
) -> Quiz:
    """Make a quiz with its key. Students get `quiz.student_view()`, which holds no key.

    Args:
        blueprint: what it must hold; without it, ten mixed items.
        seed: the same seed, blueprint and knowledge give the same quiz, byte for byte.
        knowledge: the records to ask about; without it, the shipped ones.
        progress: called with (items made, items wanted) after each item.

    Raises:
        CaseError: unknown ids or tags, or a blueprint that cannot be met: which wish, and what is possible.
    """
    k = the_knowledge(knowledge)
    wish = blueprint or Blueprint()
    rules = rules_of(k)
    places = slots(k, wish)
    dice = Dice(f"carbdiag quiz|{seed}")
    drafts: list[Draft] = []
    for slot in places:
        draft = _fill(k, rules, wish, slot, drafts, dice)
        if draft is None:
            raise CaseError([_impossible(wish, slot, places, drafts)])
        drafts.append(draft)
        if progress is not None:
            progress(len(drafts), len(places))
    items: list[ItemView] = []
    keys: list[ItemKey] = []
    for n, draft in enumerate(dice.shuffled(drafts), 1):
        view, key = finish(k, rules, draft, f"q{n:02d}", dice)
        items.append(view)
        keys.append(key)
    seen = StudentQuiz(edition=k.edition, quiz_id="-", items=tuple(items))
    digest = hashlib.sha256(seen.model_dump_json().encode()).hexdigest()[:16]
    return Quiz(
        edition=k.edition, seed=str(seed), blueprint=wish, quiz_id=digest, items=tuple(items), keys=tuple(keys)
    )


def _fill(
    k: Knowledge, rules: QuizRules, wish: Blueprint, slot: Slot, drafts: list[Draft], dice: Dice
) -> Draft | None:
    kinds = [q for q in rules.kinds if (not wish.kinds or q.id in wish.kinds) and q.weight > 0]
    asked = {t.split(":")[1] for t in slot.wanted if t.startswith("kind:")}
    skills = {t.split(":")[1] for t in slot.wanted if t.startswith("skill:")}
    if asked | skills and not any(t.startswith(("circuit:", "group:", "band:", "family:")) for t in slot.wanted):
        kinds = [q for q in kinds if q.id in asked or q.skill in skills]
    weights = [q.weight for q in kinds]
    allowed = machines(k, wish)
    families = {t.split(":")[1] for t in slot.wanted if t.startswith("family:")}
    if families and all(t.startswith("family:") for t in slot.wanted):
        allowed = [m for m in allowed if m[0] in families]
    circuits = {t.split(":")[1] for t in slot.wanted if t.startswith("circuit:")}
    if circuits and all(t.startswith("circuit:") for t in slot.wanted):
        allowed = [m for m in allowed if circuits & set(k.families[m[0]].circuits)]
    if not kinds or not allowed:
        return None
    usual = [_how_usual(k, *m) for m in allowed]
    lead = sum(d.lead for d in drafts)
    kind = kinds[0]
    for attempt in range(rules.tries):
        if attempt % _TRIES_OF_A_KIND == 0:
            # a kind gets several tries before another has its turn, so that the mix follows the weights
            kind = dice.weighted(kinds, weights)
            weights[kinds.index(kind)] *= 0.5
        work = Work(k, rules, kind, bench(k, *dice.weighted(allowed, usual)), slot.wanted, dice, lead)
        draft = MAKERS[kind.id](work)
        if draft is None or not draft.is_defensible:
            continue
        fits = _fits(rules, wish, slot, draft) and not _key_worn_out(rules, wish, draft, drafts)
        if fits and not any(too_alike(rules, draft, d) for d in drafts):
            return draft
    return None


#: A kind of machine that is hardly met is asked about now and then all the same.
_LEAST_WEIGHT = 0.02


def _how_usual(k: Knowledge, family: str, strokes: Strokes) -> float:
    """How often such a machine is met, as a diagnosis weighs it when nobody said."""
    weight = k.families[family].weight_when_unknown
    return max(weight.two_stroke if strokes == 2 else weight.four_stroke, _LEAST_WEIGHT)


def _fits(rules: QuizRules, wish: Blueprint, slot: Slot, draft: Draft) -> bool:
    tags = all_tags(draft)
    if slot.wanted and not tags & slot.wanted:
        return False
    if tags & slot.unwanted:
        return False
    return wish.difficulty is None or draft.rated(rules)[1] == wish.difficulty


def _key_worn_out(rules: QuizRules, wish: Blueprint, draft: Draft, drafts: list[Draft]) -> bool:
    """Whether the same answer was right too often already, so that it could be guessed from the others.

    Where a kind always offers the same options, nothing can be guessed, and none is worn out.
    """
    if draft.form != "choice":
        return False
    offered = {o.text for o in draft.options}
    same = [
        d for d in drafts
        if d.kind.id == draft.kind.id and d.options[0].text == draft.options[0].text
        and {o.text for o in d.options} != offered
    ]  # fmt: skip
    return len(same) >= max(2, rules.same_key_per_ten * wish.items // 10)


def too_alike(rules: QuizRules, one: Draft, other: Draft) -> bool:
    """Whether two items are about nearly the same: they share too much of what they are about, or their text."""
    if one.kind.id == other.kind.id and one.stem == other.stem and one.options[:1] == other.options[:1]:
        return True
    return len(one.about & other.about) / len(one.about | other.about) >= rules.near_duplicate


def _impossible(wish: Blueprint, slot: Slot, places: tuple[Slot, ...], drafts: list[Draft]) -> Problem:
    wanted = sum(p.field == slot.field for p in places)
    before = sum(p.field != slot.field for p in places[: len(drafts)])
    made = len(drafts) - before
    limits = [
        f"difficulty {wish.difficulty}" if wish.difficulty else "",
        f"strokes {wish.strokes}" if wish.strokes else "",
        f"families {', '.join(wish.families)}" if wish.families else "",
        f"kinds {', '.join(wish.kinds)}" if wish.kinds else "",
    ]
    within = "; ".join(x for x in limits if x)
    within = f" within {within}" if within else ""
    about = f" about {', '.join(sorted(slot.wanted))}" if slot.wanted else ""
    return Problem(
        slot.field,
        f"cannot be met{within}: {wanted} different items{about} are wanted. Nearest possible with this seed: {made}",
        str(wanted),
    )


