"""Whether it is colder or hotter now than when it ran well: "ran great all summer, now its 3 degrees out"."""

from __future__ import annotations

import re
from bisect import bisect_left
from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import pairwise
from typing import Final, Literal, NamedTuple

from carbdiag.case_schema import Air, AirChange
from carbdiag.reading.found import Found
from carbdiag.reading.matcher import Hit, Meaning
from carbdiag.reading.spans import ends_between, furthest
from carbdiag.reading.statements import Statements
from carbdiag.records.scales import ReadingScale
from carbdiag.terms import Status

_FREEZING_F: Final = 32.0
_PER_F: Final = 5 / 9
_TURNED: Final[tuple[Literal["hotter"], Literal["colder"]]] = ("hotter", "colder")
_TWO: Final = 2
#: Degrees Celsius in which anybody rides, as a case takes them.
_COLDEST: Final = -45.0
_HOTTEST: Final = 55.0
#: What stands before a unit written right behind its number: "-5c", "90°F".
_FIGURES: Final = "+-.,0123456789°"
_ENDED: Final = re.compile(r"[.,;:!?\n]")
_AROUND: Final = 60  # characters in which the clause of a season or a number is looked for


class _Degrees(NamedTuple):
    """How warm it was told to be, from one symbol up to and with another."""

    first: int
    last: int
    celsius: float | None
    bare: float | None = None
    """Degrees of a scale that nobody names."""
    scale: tuple[float, float] | None = None
    """What the number told was multiplied by, and what was added, to make degrees Celsius."""
    doubtful: bool = False
    """Whether it may be the engine that is hot or cold."""
    number: bool = True
    """Whether it is told by a number, and not as a season."""


class _Warmth(NamedTuple):
    """The same, and when it was so."""

    degrees: _Degrees
    then: bool
    now: bool
    sentence: int


def weather_since(found: Found, told: Statements) -> Statements:
    """The statements with the change of weather that two seasons, or degrees, told as then and as now make.

    What else was said of hot and of cold weather names only one of the two, so it is put aside.
    """
    changes = {c.weather: c.id for c in found.k.contexts.values() if c.weather is not None}
    warmths = list(_told(found))
    told = _without_the_weather_it_likes(found, told, [*changes.values()])
    pair = _then_and_now(warmths)
    hotter = _hotter(pair[0].degrees, pair[1].degrees, found.book.limits) if pair else None
    if pair is None:
        return _with_heat(found, told, warmths, changes.get("hotter"))
    if hotter is None or all(w.degrees.doubtful for w in pair) or len(changes) != len(_TURNED):
        return told
    hot, cold = _TURNED
    way, other = (hot, cold) if hotter else (cold, hot)
    contexts = {context: hits for context, hits in told.contexts.items() if context != changes[other]}
    for _, hit in told.contexts.get(changes[other], []):
        found.put_aside(hit, "past")
    if changes[way] not in contexts:
        first, last = sorted((w.degrees.first, w.degrees.last) for w in pair)
        hit = Hit(first[0], last[1], Meaning("context", changes[way]), (first, last))
        found.content.append(hit)
        contexts[changes[way]] = [(Status.PRESENT, hit)]
    return told._replace(contexts=contexts)


def degrees_then_and_now(found: Found) -> AirChange | None:
    """The air of then and of now by their degrees alone, where both are numbers: "jets are for -10, its now -30".

    Of a scale that nobody names that one is taken which asks for more fuel: degrees Celsius where it is colder now, and
    Fahrenheit, which lie closer together, where it is hotter.
    """
    pair = _then_and_now(list(_told(found)))
    if pair is None or any(w.degrees.doubtful or not w.degrees.number for w in pair):
        return None
    then, now = (w.degrees for w in pair)
    hotter, book = _hotter(then, now, found.book.limits), found.book.weather
    was, is_now = (_clause(found, d.first, d.last) for d in (then, now))
    # "rode at 40F, the next day it was 95F" says of neither that it was set for it
    if hotter is None or not (_says(book.set_for, was) or (_says(book.then, was) and _says(book.now, is_now))):
        return None
    known = [_celsius(d, found.book.limits) for d in (then, now)]
    if then.bare is not None and now.bare is not None:
        known = [(d.bare - _FREEZING_F) * _PER_F if hotter else d.bare for d in (then, now) if d.bare is not None]
    kept = [round(c, 1) for c in known if c is not None and _COLDEST <= c <= _HOTTEST]
    if len(kept) != _TWO or (kept[1] > kept[0]) is not hotter:
        return None
    return AirChange(set=Air(temperature_c=kept[0]), now=Air(temperature_c=kept[1]))


def _without_the_weather_it_likes(found: Found, told: Statements, changes: Iterable[str]) -> Statements:
    """The statements without a weather in whose clause it is told to run right: "cold mornings she's a dream"."""
    contexts = dict(told.contexts)
    book = found.book.weather
    for context in (c for c in changes if c in contexts):
        liked = [
            hit for status, hit in contexts[context]
            if status is Status.PRESENT and _says(book.likes, said := _clause(found, hit.first, hit.last))
            and not _says(book.now, said)
        ]  # fmt: skip
        for hit in liked:
            found.put_aside(hit, "past")
        contexts[context] = [x for x in contexts[context] if x[1] not in liked]
        if not contexts[context]:
            del contexts[context]
    return told._replace(contexts=contexts)


def without_the_heights_it_likes(found: Found, told: Statements) -> Statements:
    """The statements without a height it goes to as a habit, and runs right at: "every weekend without trouble"."""
    book, records = found.book.weather, found.k.contexts
    contexts = dict(told.contexts)
    for context in [c for c in contexts if records[c].moved is not None]:
        liked = []
        for _, hit in contexts[context]:
            sentence, end = found.sentence(hit), found.symbols.ends[hit.last]
            said = found.small[sentence.start : min(end + 2 * _AROUND, sentence.end or len(found.small))]
            if _says(book.habit, said) and _says(book.no_trouble, said):
                liked.append(hit)
                found.put_aside(hit, "past")
        contexts[context] = [x for x in contexts[context] if x[1] not in liked]
        if not contexts[context]:
            del contexts[context]
    return told._replace(contexts=contexts)


def _with_heat(found: Found, told: Statements, warmths: Iterable[_Warmth], hotter: str | None) -> Statements:
    """The statements with heat that is told alone, as that of now: "it's 95 degrees out"."""
    outside, scale = found.book.weather.outside, found.book.limits
    for degrees in (w.degrees for w in warmths if not w.then):
        celsius, end = _celsius(degrees, scale), found.symbols.ends[degrees.last]
        if found.book.weather.either.search(found.small, 0, found.symbols.starts[degrees.first]):
            continue  # "doesn't matter if its 40 or 90 out"
        out = outside.match(found.small, end) or outside.search(found.small, found.symbols.starts[degrees.first], end)
        if hotter is None or hotter in told.contexts or celsius is None or celsius < scale.very_hot_c or out is None:
            continue
        hit = Hit(degrees.first, degrees.last, Meaning("context", hotter), ((degrees.first, degrees.last),))
        found.content.append(hit)
        return told._replace(contexts={**told.contexts, hotter: [(Status.PRESENT, hit)]})
    return told


def _then_and_now(told: list[_Warmth]) -> tuple[_Warmth, _Warmth] | None:
    """The weather it was right in, the last that is told, and that of now; None where only one of them is.

    Where nothing is told as now, it is what follows at once: "fine in summer. In the cold it pops".
    """
    at = next((n for n in reversed(range(len(told))) if told[n].then), None)
    if at is None:
        return None
    then, behind = told[at], told[at + 1 :]
    now = next((w for w in behind if w.now), None)
    now = now or next((w for w in behind if w.sentence - then.sentence <= 1), None)
    now = now or next((w for w in reversed(told[:at]) if w.now), None)
    # "(-5C) it ran perfect at 20C": a number of which nothing says when is of now
    plain = (w for w in reversed(told[:at]) if w.degrees.number and not w.then and then.sentence - w.sentence <= 1)
    now = now or next(plain, None)
    return (then, now) if now else None


def _hotter(then: _Degrees, now: _Degrees, scale: ReadingScale) -> bool | None:
    """Whether it is clearly hotter now; None where it is not clear."""
    if then.bare is not None and now.bare is not None:
        return None if abs(now.bare - then.bare) < scale.weather_apart else now.bare > then.bare
    # "summer jetting and its 25 out" is told because it is not the same: the one scale in which it is another tells it
    pairs = ((was, is_now) for was in _may_be(then, scale) for is_now in _may_be(now, scale))
    ways = {is_now > was for was, is_now in pairs if abs(is_now - was) >= scale.weather_apart_c}
    return ways.pop() if len(ways) == 1 else None


def _may_be(of: _Degrees, scale: ReadingScale) -> tuple[float, ...]:
    """The degrees Celsius that it may be, in either scale where nothing tells which."""
    known = _celsius(of, scale)
    if known is not None:
        return (known,)
    return () if of.bare is None else (of.bare, (of.bare - _FREEZING_F) * _PER_F)


def _celsius(of: _Degrees, scale: ReadingScale) -> float | None:
    """Degrees Celsius, where the number is cold or hot in either scale."""
    if of.bare is None:
        return of.celsius
    if of.bare <= scale.cold_in_either:
        return of.bare
    return (of.bare - _FREEZING_F) * _PER_F if of.bare >= scale.hot_in_either else None


def _told(found: Found) -> Iterator[_Warmth]:
    """Every season and temperature, in the order of the post, with what its clause says of it."""
    numbers = list(_numbers(found))
    numbers += _plain(found, numbers)
    taken = furthest([(n.first, n.last) for n in numbers])
    seasons = (s for s in _seasons(found) if not ends_between(taken[0], s.first - 1, s.last))
    turned = dict(_turned(found, numbers))
    every = sorted([*numbers, *seasons], key=lambda d: (d.first, d.last))
    yield from _alike_beside(found, list(_in_time(found, every, turned)))


def _in_time(found: Found, every: Sequence[_Degrees], turned: Mapping[_Degrees, bool]) -> Iterator[_Warmth]:
    """Seasons and temperatures, each as that of then or of now, by the words of its clause."""
    book = found.book.weather
    for degrees in every:
        said = _clause(found, degrees.first, degrees.last)
        if _says(book.no_weather, said) and not _says(book.set_for, said):
            continue
        if degrees in turned:
            was = turned[degrees]
            yield _Warmth(degrees, was, not was, found.symbols.sentence_of[degrees.first])
            continue
        fine = _says(book.then, said) or _begins_with(book.then, _said_next(found, degrees, every))
        is_now = _says(book.now, said) or (not fine and _says(book.lately, said))
        now = not fine and (is_now or _says(book.so, said))
        then = (fine or (not now and _says(book.was, said))) and not is_now
        yield _Warmth(degrees, then, now and not then, found.symbols.sentence_of[degrees.first])


def _alike_beside(found: Found, told: Sequence[_Warmth]) -> Iterator[_Warmth]:
    """The same, a number right behind a season as that season is: "set up in August, (31 degrees)"."""
    before: _Warmth | None = None
    for warmth in told:
        here = warmth
        if before is not None and before.sentence == here.sentence and before.degrees.number != here.degrees.number:
            between = found.small[found.symbols.ends[before.degrees.last] : found.symbols.starts[here.degrees.first]]
            if found.book.weather.small_words.issuperset(between.replace(",", " ").replace("(", " ").split()):
                then, now = before.then or here.then, before.now or here.now
                here = here._replace(then=then and not now, now=now and not then)
        yield here
        before = here


def _said_next(found: Found, degrees: _Degrees, every: Iterable[_Degrees]) -> str:
    """The clause behind that of degrees, if it tells of no others: "12 degrees, (spot on)"."""
    symbols, book = found.symbols, found.book.weather
    sentence, end = symbols.sentences[symbols.sentence_of[degrees.first]], symbols.ends[degrees.last]
    pieces = book.clauses.split(found.small[end : min(end + 2 * _AROUND, sentence.end)], maxsplit=2)
    if len(pieces) < _TWO or any(degrees.last < n.first < sentence.last for n in every):
        return ""
    return pieces[1]


def _turned(found: Found, numbers: Iterable[_Degrees]) -> Iterator[tuple[_Degrees, bool]]:
    """The degrees that it went from, with True, and to, with False: "it dropped from 80f to 50f"."""
    book, symbols = found.book.weather, found.symbols
    for one, other in pairwise(sorted(numbers, key=lambda d: d.first)):
        start, end = symbols.starts[one.first], symbols.ends[one.last]
        before = found.small[max(start - _AROUND, 0) : start].rstrip()
        between = " ".join(found.small[end : symbols.starts[other.first]].split())
        if before.endswith(book.went_from) and between in book.went_to:
            yield from ((one, True), (other, False))


def _says(words: re.Pattern[str] | None, clause: str) -> bool:
    return words is not None and words.search(clause) is not None


def _begins_with(words: re.Pattern[str] | None, clause: str) -> bool:
    """Whether a clause begins with one of some words, or with one word before it: "jetted perfect"."""
    said = words.search(clause) if words is not None else None
    return said is not None and len(clause[: said.start()].split()) <= 1


def _numbers(found: Found) -> Iterator[_Degrees]:
    values = found.symbols.values
    for hit in found.others:
        if hit.meaning[:2] != ("quantity", "temperature_c") or found.sentence(hit).quoted:
            continue
        number = next((values[at] for at in range(hit.first, hit.last + 1) if at in values), None)
        book = found.book
        if number is None or number < (book.least.get(hit.meaning) or number):
            continue
        times, plus = book.scale[hit.meaning]
        if hit.meaning in book.like_others:
            yield _Degrees(hit.first, hit.last, None, number)
        else:
            yield _Degrees(hit.first, hit.last, number * times + plus, None, _scale_of(found, hit))
    for said in found.book.weather.signed.finditer(found.small):
        yield from _bare(found, said, float(said["n"]) * (-1 if said["below"] else 1), doubtful=bool(said["above"]))
    for said in found.book.weather.degrees_outside.finditer(found.small):
        if float(said["n"]) >= found.book.limits.hot_in_either:
            yield from _bare(found, said, float(said["n"]))


def _plain(found: Found, taken: Sequence[_Degrees]) -> Iterator[_Degrees]:
    """Mere numbers that may be of degrees: "it was 85 when I jetted it and its 40 now"; two of them tell the way.

    Beside one told as degrees, a number is of the same where it may be one: "went from 90 degrees to 45".
    """
    told = {degrees.first: degrees for degrees in taken}
    lender = next(iter(told.values())) if len(told) == 1 else None
    book = found.book.weather
    named = book.degrees is not None and book.degrees.search(found.small) is not None
    bare = list(_mere_numbers(found, book.lent if lender or named else book.plain, told.values()))
    if lender is None:
        if not told and len(bare) == _TWO and _of_weather(found, bare):
            yield from (_Degrees(at, at, None, number) for at, number, _ in bare)
    elif len(bare) == 1 and abs(_sentence(found, bare[0][0]) - _sentence(found, lender.first)) <= 1:
        at, number, _ = bare[0]
        times, plus = lender.scale or (0.0, 0.0)
        yield _Degrees(at, at, number * times + plus) if lender.scale else _Degrees(at, at, None, number)


def _mere_numbers(
    found: Found, pattern: re.Pattern[str], taken: Iterable[_Degrees]
) -> Iterator[tuple[int, float, str]]:
    """Where numbers that may be of degrees stand, each with its words; none in a sentence of other numbers."""
    book, symbols = found.book.weather, found.symbols
    known = {at for degrees in taken for at in range(degrees.first, degrees.last + 1)}
    for said in pattern.finditer(found.small):
        which = "n" if said["n"] else "m"
        first = bisect_left(symbols.starts, said.start(which) + (said[which][0] == "-"))
        if first >= len(symbols.starts) or symbols.starts[first] >= said.end(which) or first in known:
            continue
        sentence = symbols.sentences[symbols.sentence_of[first]]
        number = float(said[which])
        other = book.no_degrees is not None and book.no_degrees.search(found.small, sentence.start, sentence.end)
        if first in symbols.values and number <= found.book.limits.hottest_told and not (other or sentence.quoted):
            known.add(first)
            yield first, number, said[0] + found.small[said.end() : said.end() + _AROUND // 2]


def _of_weather(found: Found, told: Iterable[tuple[int, float, str]]) -> bool:
    """Whether what stands beside one of two mere numbers is told of weather: "was 90 (when I tuned it), 45 (today)"."""
    book, sentences = found.book.weather, found.symbols.sentences
    within = (sentences[_sentence(found, at)] for at, _, _ in told)
    if any(book.degrees is not None and book.degrees.search(found.small, s.start, s.end) for s in within):
        return True
    return any(book.decade.search(said) or (book.of_weather and book.of_weather.search(said)) for _, _, said in told)


def _sentence(found: Found, at: int) -> int:
    return found.symbols.sentence_of[at]


def _scale_of(found: Found, hit: Hit) -> tuple[float, float] | None:
    """The scale in which degrees were told: that of their unit, or of the only one that has so many of them."""
    times, plus = found.book.scale[hit.meaning]
    if times != 1:
        return times, plus
    written = {word.strip(_FIGURES) for word in found.words(hit).lower().split()}
    units = (u for u in found.book.language.units if u.slot == "celsius")
    return next(((u.times, u.plus) for u in units if not written.isdisjoint(u.written)), None)


def _bare(found: Found, said: re.Match[str], number: float, *, doubtful: bool = False) -> Iterator[_Degrees]:
    """A number of degrees without a word for them; "+2" may be sizes of a jet."""
    starts = found.symbols.starts
    first = bisect_left(starts, said.start("n"))
    if first < len(starts) and starts[first] < said.end():
        yield _Degrees(first, first, None, number, doubtful=doubtful)


def _seasons(found: Found) -> Iterator[_Degrees]:
    symbols, book = found.symbols, found.book.weather
    for word, start, end in book.seasons.standing(found.small):
        first, behind = bisect_left(symbols.starts, start), bisect_left(symbols.starts, end)
        if first == behind:  # "jetted in May": of words that carry nothing the one before them in its clause
            first -= first > 0 and not _ENDED.search(found.small, symbols.ends[first - 1], start)
        if first < len(symbols.starts) and not symbols.sentences[symbols.sentence_of[first]].quoted:
            last, celsius = max(first, behind - 1), book.celsius[word]
            yield _Degrees(first, last, celsius, doubtful=word in book.doubtful, number=False)


def _clause(found: Found, first: int, last: int) -> str:
    """The words around, from the last comma, "and" or the like to the next."""
    symbols = found.symbols
    sentence = symbols.sentences[symbols.sentence_of[first]]
    start, end = symbols.starts[first], symbols.ends[last]
    said = found.small[max(start - _AROUND, sentence.start) : start]
    opened = found.book.weather.bracket.search(said)  # "set in a cold spell (about 20 F)"
    if opened is not None:
        said = f"{said[: opened.start()]} {opened['said']}"
    before = found.book.weather.clauses.split(said)[-1]
    behind = found.book.weather.clauses.split(found.small[end : min(end + _AROUND, sentence.end)])[0]
    return f"{before}{found.small[start:end]}{behind}"
