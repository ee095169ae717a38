"""The full answer: what to do now first, then what to ask, the causes, the change, the mixture, and the rest."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from carbdiag.answers.document import (
    Block,
    Caution,
    Cautions,
    Document,
    Item,
    Line,
    Listing,
    Paragraph,
    Section,
    Span,
    Table,
    listing,
    paragraph,
    plain,
    strong,
)
from carbdiag.answers.essentials import (
    PostWords,
    cautions_of_questions,
    checks_after,
    first_steps,
    from_to,
    headline,
    in_turn,
    measured,
    must_not_be_used,
    observed_hazard,
    of_the_machine,
    other_brackets,
    pressing,
    put_back,
    questions,
    settled,
    use_as_it_is,
    verdict,
    which_way,
)
from carbdiag.answers.phrases import BETWEEN, Phrases, capital, small
from carbdiag.case_schema import Case
from carbdiag.diagnosis_schema import CauseBelief, Correction, left_to_do
from carbdiag.records.safety import CautionText
from carbdiag.terms import Status

_MOST_CAUSES = 5
#: Causes whose reasons are given; what stands below them is too unlikely to be worth the reading.
_MOST_REASONED = 3
#: Odds of three or more causes, against all counted, from which a rider should hear of it.
_WORTH_A_NOTE = 0.1


def full_page(p: Phrases, post: PostWords) -> Document:
    """The whole answer, led by its first step."""
    change = (_change_title(p), _change(p))
    certain = settled(p) is not None
    titled: tuple[tuple[str, Iterable[Block]], ...] = (
        *((change,) if certain else ()),
        (_do_title(p), _first_step(p)),
        (p.say("title_ask"), _questions(p)),
        (p.say("title_after"), _after(p)),
        (p.say("title_understood"), _understood(p, post)),
        (p.say("title_causes"), _causes(p)),
        *(() if certain else (change,)),
        (p.say("title_mixture"), _mixture(p)),
        (p.say("title_cautions"), _in_full(p)),
        (p.say("title_other_cautions"), _other_cautions(p)),
        (p.say("title_notes"), _notes(p)),
    )
    sections = ((title, tuple(blocks)) for title, blocks in titled)
    opening = tuple(_opening(p, post.asks_to_use))
    return Document(p.language.code, opening, tuple(Section(title, blocks) for title, blocks in sections if blocks))


def _opening(p: Phrases, asked: bool) -> Iterator[Block]:
    mind: list[Block] = [
        Paragraph((Span(f"{p.say('mind')} {name}.", "strong"), Span(f" {why}"))) for name, why in pressing(p)
    ]
    if asked or p.d.may_use.how != "not_known":
        first, *more = use_as_it_is(p)
        said = (Span(f"{p.say('use_question')} {first}", "strong"), *(Span(f" {name}") for name in more))
        mind.append(Paragraph(said))
    lead: list[Block] = []
    for line, cautions in put_back(p):
        lead += [Paragraph(strong(line)), Cautions(p.in_short(cautions))]
    lead.append(Paragraph(strong(headline(p))))
    if p.d.next_steps or settled(p):
        lead.append(paragraph(verdict(p)))
    lead += [paragraph(text) for text in other_brackets(p)]
    general = of_the_machine(p)
    if general:
        mind.append(Cautions(p.in_short(general)))
    # what was observed to be dangerous comes before anything to do
    yield from (*mind, *lead) if observed_hazard(p) or must_not_be_used(p) else (*lead, *mind)


# ---------------------------------------------------------------------------------------------------------
# What to do and to ask


def _do_title(p: Phrases) -> str:
    step, _ = first_steps(p)
    if step is None:
        return p.say("title_ask")
    minutes = p.minutes(step.minutes)
    if settled(p):
        return p.say("title_surer", step=p.step_name(step), minutes=minutes)
    return p.say("title_do" if step.kind == "check" else "title_answer", minutes=minutes)


def _first_step(p: Phrases) -> Iterator[Block]:
    step, _ = first_steps(p)
    if step is None:
        return
    if step.cautions:
        yield Cautions(p.in_short(step.cautions))
    do = p.step_do(step)
    if do:
        yield paragraph(do)
    if step.tools:
        yield paragraph(p.say("you_need", tools=p.language.tools(step.tools)))
    yield Listing(tuple(Item(_pair(p.outcome(step, o), p.means(step, o))) for o in step.outcomes))
    if step.kind in ("check", "question"):  # elsewhere the outcomes have named the causes
        yield paragraph(p.why(step))


def _pair(name: str, text: str) -> Line:
    return (Span(f"{name}:", "strong"), Span(f" {text}"))


def _questions(p: Phrases) -> Iterator[Block]:
    steps = first_steps(p)[1]
    asked = questions(p, steps)
    if asked:
        yield listing(*asked, numbered=True)
    cautions = cautions_of_questions(steps)
    if cautions:
        yield Cautions(p.in_short(cautions))


def _after(p: Phrases) -> Iterator[Block]:
    items = [Item(plain(f"{p.step_name(s)} ({p.minutes(s.minutes)})"), p.in_short(s.cautions)) for s in checks_after(p)]
    if items:
        yield Listing(tuple(items))


# ---------------------------------------------------------------------------------------------------------
# What was understood, and what it points to


def _understood(p: Phrases, post: PostWords) -> Iterator[Block]:
    items = []
    if p.d.title:
        items.append(Item((Span(p.d.title, "quoted"),)))
    items.append(Item(plain(p.machine())))
    air = p.air()
    if air:
        items.append(Item(plain(air)))
    if post.set_up:
        told = ", ".join(p.say(f"set_up_{fact}", n=value) for fact, value, _ in post.set_up)
        quotes = tuple(s for w in dict.fromkeys(w for *_, w in post.set_up) for s in (Span(" "), Span(w, "quoted")))
        items.append(Item((Span(p.say("set_up", told=told)), *quotes)))
    for n, statement in enumerate(p.d.told):
        words = post.denied if statement.status is Status.DENIED else post.said
        of = statement.ids or tuple(measured(at) for at in statement.at)
        said = [w for i in of for w in words.get(i, ())]
        quotes = tuple(s for w in dict.fromkeys(said) for s in (Span(" "), Span(w, "quoted")))
        when = (Span(p.when(n), "strong"), Span(" ")) if p.when(n) else ()
        items.append(Item((*when, Span(p.statement(n, statement.text)), *quotes)))
    if post.not_understood:
        left = tuple(s for w in post.not_understood for s in (Span(" "), Span(w, "quoted")))
        items.append(Item((Span(p.say("not_understood")), *left)))
    yield Listing(tuple(items))


def _causes(p: Phrases) -> Iterator[Block]:
    d = p.d
    if d.unexplained.flag:
        yield paragraph(p.language.sentence(d.unexplained.text))
    items = [_cause(p, c, n < _MOST_REASONED) for n, c in enumerate(d.causes[:_MOST_CAUSES])]
    if items:
        several = d.several_settings
        if several is not None and several.named:
            said = p.say("several_possible", order=in_turn(p))
            items.append(Item(_odds_line(p.percent(several.probability), said)))
        if d.unlisted.probability:
            items.append(Item(_odds_line(p.percent(d.unlisted.probability), _unlisted(p))))
        if d.nothing_wrong:
            items.append(Item(_odds_line(p.percent(d.nothing_wrong), p.say("nothing_wrong"))))
        yield Listing(tuple(items))
    if any(c.because or c.against for c in d.causes[:_MOST_REASONED]):
        yield paragraph(p.say("beside_rival"))


def _odds_line(percent: str, text: str) -> Line:
    return (Span(percent, "strong"), Span(f" {text}"))


def _cause(p: Phrases, cause: CauseBelief, reasoned: bool) -> Item:
    more = []
    if cause.is_put_right:
        more.append(plain(p.say("put_right_already")))
    fitting = [r for r in cause.against if r.fits]
    worse = [r for r in cause.against if not r.fits]
    for template, reasons in (("fits_better", cause.because), ("fits_too", fitting), ("fits_worse", worse)):
        if reasoned and reasons:
            said = BETWEEN.join(p.statement(r.statement, r.observation) for r in reasons)
            more.append(plain(p.say(template, said=said)))
    if reasoned and cause.told_apart_by and cause.rival:
        by = cause.told_apart_by
        kind = "checks" if p.language.find("checks", cause.separator, "name") else "findings"
        by = p.language.text(kind, cause.separator, "name", by)
        more.append(plain(p.say("told_apart", rival=small(p.cause_id(cause.rival)), by=by)))
    name = p.cause(cause)
    words = p.language.sentence(cause.words)
    return Item(_odds_line(p.percent(cause.probability), f"{name}: {words}"), more=tuple(more))


def _unlisted(p: Phrases) -> str:
    where = p.d.unlisted
    if where.circuit and where.direction:
        return p.say(f"unlisted_{where.direction}", circuit=p.circuit(where.circuit))
    if where.group:
        return p.say("unlisted_kind", group=p.group(where.group))
    return p.say("unlisted")


# ---------------------------------------------------------------------------------------------------------
# What to change


def _to_change(p: Phrases) -> CauseBelief | None:
    """The cause whose correction is spelled out: below some chance none, a confident wrong one is the worst answer."""
    causes = left_to_do(p.d.causes)
    return causes[0] if causes and causes[0].spelled_out else None


def _change_title(p: Phrases) -> str:
    cause = _to_change(p)
    if cause is None:
        return p.say("title_change_nothing")
    return p.say("title_change_now" if settled(p) else "title_change", cause=small(p.cause(cause)))


def _change(p: Phrases) -> Iterator[Block]:
    cause = _to_change(p)
    if cause is None:
        if p.d.causes:
            yield paragraph(p.say("too_open"))
        return
    fix, text = cause.correction, p.language.text
    yield paragraph(text("causes", cause.id, "summary", cause.summary))
    before = [small(p.cause_id(i)) for i in p.d.order[: p.d.order.index(cause.id)]]
    if before:
        yield paragraph(p.say("rule_out_first", causes=BETWEEN.join(before)))
    if fix.held_back:
        yield Paragraph((Span(p.say("not_yet"), "strong"), Span(f" {p.language.sentence(fix.held_back)}")))
    name = text("actions", fix.action, "name", fix.name)
    when = "then_change" if fix.held_back else "change"
    yield Paragraph(strong(p.say(when, name=name, minutes=p.minutes(fix.minutes))))
    yield from _size(p, cause)
    tools = tuple(t for t in fix.tools if t != "none")
    if tools:
        yield paragraph(p.say("you_need", tools=p.language.tools(tools)))
    yield Cautions(p.in_short((*fix.cautions, *cause.cautions)))
    yield listing(*p.language.texts("actions", fix.action, "steps", fix.steps), numbered=True)
    yield Listing(tuple(_proof(p, cause)))


def _size(p: Phrases, cause: CauseBelief) -> Iterator[Block]:
    fix = cause.correction
    if fix.size:
        part = p.language.text("circuits", fix.circuit, "name", fix.part)
        yield paragraph(f"{capital(part)}: {_step(p, fix)}")
    sized = fix.sized
    if sized is None:
        return
    said = p.language.sentence
    lines = [p.say("worked_out", amount=said(sized.amount))]
    if sized.proposed and sized.present:
        lines.append(from_to(p, fix, sized.present, sized.proposed))
    if sized.refused:
        lines.append(p.say("no_size", why=said(sized.refused)))
    if sized.side_effects:
        lines.append(p.say("side_effects", effects=", ".join(said(s) for s in sized.side_effects)))
    lines += [said(note) for note in sized.notes]
    yield paragraph(" ".join(lines))


def _step(p: Phrases, fix: Correction) -> str:
    """One practical step of the setting and how it is made."""
    step = p.language.find("circuits", fix.circuit, "step")
    if step is None:
        return fix.size or ""
    return p.say("one_practical_step", step=step, way=p.say(str(fix.direction)), do=which_way(p, fix))


def _proof(p: Phrases, cause: CauseBelief) -> Iterator[Item]:
    fix, text = cause.correction, p.language.text
    setting = fix.direction is not None
    kind, identity = ("circuits", fix.circuit) if setting else ("causes", cause.id)
    yield Item(_pair(p.say("it_worked_if"), text(kind, identity, "verify", fix.verify)))
    kind, identity = ("circuits", fix.circuit) if setting else ("actions", fix.action)
    yield Item(_pair(p.say("put_it_back"), text(kind, identity, "put_back", fix.put_back)))
    if cause.workshop:
        yield Item(_pair(p.say("for_a_workshop"), text("causes", cause.id, "workshop", cause.workshop)))


# ---------------------------------------------------------------------------------------------------------
# The mixture


def _mixture(p: Phrases) -> Iterator[Block]:
    bands = p.d.mixture
    verdicts = [p.verdict(b) for b in bands]
    fed = [", ".join(p.circuit(c) for c in b.circuits) for b in bands]
    names = [p.place(b.place) for b in bands]
    if not bands:
        return
    if any(verdicts):
        unsaid = p.say("cannot_tell")
        rows = tuple((n, v or unsaid, f) for n, v, f in zip(names, verdicts, fed, strict=True))
        yield Table((p.say("throttle"), p.say("mixture"), p.say("fed_by")), rows)
    else:
        yield paragraph(p.say("mixture_open"))
        yield Table((p.say("throttle"), p.say("fed_by")), tuple(zip(names, fed, strict=True)))


# ---------------------------------------------------------------------------------------------------------
# Cautions, notes


def _near_a_step(p: Phrases) -> dict[str, CautionText]:
    """The cautions that stand above beside something to do, in short."""
    first, _ = first_steps(p)
    steps = (*((first,) if first else ()), *checks_after(p))
    cause = _to_change(p)
    fixes = (*cause.correction.cautions, *cause.cautions) if cause else ()
    return {c.id: c for c in (*of_the_machine(p), *(c for s in steps for c in s.cautions), *fixes)}


def _in_full(p: Phrases) -> Iterator[Block]:
    cautions: tuple[Caution, ...] = tuple(p.caution(c) for c in _near_a_step(p).values())
    if cautions:
        yield Cautions(cautions)


def _other_cautions(p: Phrases) -> Iterator[Block]:
    """What the other causes ask to obey, once each: their corrections are not spelled out."""
    told = _near_a_step(p)
    causes = p.d.causes[:_MOST_CAUSES]
    needed = (*p.d.cautions, *(c for cause in causes for c in (*cause.cautions, *cause.correction.cautions)))
    others = p.in_short(c for c in needed if c.id not in told)
    if others:
        yield Cautions(others)


def _notes(p: Phrases) -> Iterator[Block]:
    d = p.d
    said = []
    if d.unexplained.flag and d.unexplained.findings:
        numbers = d.unexplained.statements or (None,) * len(d.unexplained.findings)
        fits = (p.statement(n, f) for n, f in zip(numbers, d.unexplained.findings, strict=True))
        said.append(p.say("fits_least", said=BETWEEN.join(fits)))
    said += [p.language.sentence(note) for note in d.notes]
    if d.left_out >= _WORTH_A_NOTE:
        said.append(p.say("left_out"))
    said.append(p.language.sentence(d.meaning))
    named = "" if d.case_id == Case().id else d.case_id
    origin: Line = (Span(p.say("origin", edition=d.edition)),)
    if named:
        origin = (*origin, Span(f" {p.say('case')} "), Span(named, "quoted"))
    yield Listing((*(Item(plain(s)) for s in said), Item(origin)))
