"""A mixture in words: percent leaner or richer, with its range, at the steady openings."""

from __future__ import annotations

import math

from carbdiag import tuning_schema as t
from carbdiag.knowledge import Knowledge
from carbdiag.records.bands import Place


def percent_of(x: float) -> float:
    """A deviation as a rider's percent: + lean, - rich."""
    return 100.0 * (math.expm1(x) if x > 0 else -math.expm1(-x))


def side_words(percent: float) -> str:
    """A mixture shift in percent of lambda, in words: "7 % leaner"; leaner is positive."""
    whole = round(abs(percent))
    return "unchanged" if whole == 0 else f"{whole} % {'leaner' if percent > 0 else 'richer'}"


def mixture_span(low: float, middle: float, high: float) -> t.MixtureSpan:
    """A mixture with its interval, in numbers and words.

    >>> mixture_span(-0.09, -0.07, -0.06).words
    '7 % richer (6 to 9 %)'
    >>> mixture_span(-0.02, 0.01, 0.04).words
    '1 % leaner (from 2 % richer to 4 % leaner)'
    """
    a, m, b = (percent_of(v) for v in (low, middle, high))
    ends = sorted((round(abs(a)), round(abs(b))))
    if round(a) == round(b):
        words = side_words(m)
    elif (a < -0.5) and (b > 0.5):
        words = f"{side_words(m)} (from {side_words(a)} to {side_words(b)})"
    else:
        words = f"{side_words(m)} ({ends[0]} to {ends[1]} %)"
        if round(m) == 0:
            words = f"hardly changed (up to {ends[1]} % {'leaner' if b > -a else 'richer'})"
    return t.MixtureSpan.trusted(low=round(low, 4), middle=round(middle, 4), high=round(high, 4), words=words)


def steady_bands(k: Knowledge) -> list[tuple[Place, float]]:
    """The throttle bands, each with the middle of its opening (0 to 1)."""
    return [(p, p.opening[1]) for p in k.places.values() if p.opening is not None]
