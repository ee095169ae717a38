"""A sweep as a picture: the mixture over the throttle opening, and below it the shares of the circuits.

One ink; line styles, markers, words on the axis and labels at the lines carry the meaning, no color does.
"""

from __future__ import annotations

import importlib
import math
import textwrap
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any, Final

from carbdiag.errors import CarbdiagError
from carbdiag.tuning_schema import MixtureSpan, SweepAnswer

FORMATS: Final = (".svg", ".png")
_INK: Final = "#1f2a33"
_PALE: Final = "#c9ced3"
_FAINT: Final = "#e9ebed"
_UNPROMISED: Final = 1 / 16
_LEAST_REACH: Final = 0.06
_TICKS: Final = ((0.0, "closed"), (0.125, "1/8"), (0.25, "1/4"), (0.5, "1/2"), (0.75, "3/4"), (1.0, "full"))
#: Circuit -> name, dashes, marker.
_CIRCUITS: Final[tuple[tuple[str, str, Any, str], ...]] = (
    ("pilot", "pilot", (0, (1, 1.6)), "o"),
    ("needle", "needle", "solid", "^"),
    ("main_jet", "main jet", (0, (7, 2.5)), "s"),
    ("cutaway", "cutaway (on top)", (0, (6, 2, 1, 2)), "D"),
)


class PlotsMissingError(CarbdiagError):
    """The plotting library is not installed."""

    def __init__(self) -> None:
        super().__init__("a plot needs matplotlib; install it with: pip install 'carbdiag[plots]'")


def draw_sweep(answer: SweepAnswer, file: Path) -> None:
    """Draw a sweep into an SVG or PNG file, by its ending.

    Raises:
        PlotsMissingError: matplotlib is not installed.
        ValueError: the file ends in neither.
        OSError: the file cannot be written.
    """
    if file.suffix.lower() not in FORMATS:
        raise ValueError(f"a plot is an {' or '.join(FORMATS)} file, not {file.name!r}")
    try:
        matplotlib = importlib.import_module("matplotlib")
        figures = importlib.import_module("matplotlib.figure")
    except ModuleNotFoundError:
        raise PlotsMissingError from None
    look = {"svg.hashsalt": "carbdiag", "font.size": 9.5, "axes.edgecolor": _INK, "text.color": _INK}
    with matplotlib.rc_context(look | {"axes.labelcolor": _INK, "xtick.color": _INK, "ytick.color": _INK}):
        figure = figures.Figure(figsize=(8.4, 8.2), layout="constrained")
        top, bottom = figure.subplots(2, 1, sharex=True, height_ratios=(1.35, 1))
        title = f"{answer.family_name}: mixture from closed to full throttle"
        figure.suptitle(title, x=0.02, ha="left", fontsize=13, fontweight="bold")
        _mixture(top, answer)
        _shares(bottom, answer)
        figure.supxlabel(textwrap.fill(answer.honesty, 118), x=0.02, ha="left", fontsize=8, style="italic")
        figure.savefig(file, dpi=150, metadata={"Date": None} if file.suffix.lower() == ".svg" else None)


# ---------------------------------------------------------------------------------------------------------
# The mixture


def _mixture(axes: Any, answer: SweepAnswer) -> None:
    reach = max((abs(v) for row in answer.rows for m in (row.before, row.after) for v in (m.low, m.high)), default=0.0)
    reach = 1.18 * max(reach, _LEAST_REACH)
    axes.set_ylim(-reach, reach)
    _opening_axis(axes, answer, labels=False)
    axes.axhline(0.0, color=_INK, linewidth=0.9)
    axes.text(0.995, 0.012 * reach, "as it ran right", ha="right", va="bottom", fontsize=8.5)
    for height, side, words in (
        (0.97, "top", "LEANER: hesitates, surges, runs hot"),
        (0.03, "bottom", "RICHER: heavy, smoky, stutters"),
    ):
        box = {"facecolor": "white", "edgecolor": "none", "pad": 2.0}
        axes.text(0.075, height, words, transform=axes.transAxes, va=side, fontsize=8.5, bbox=box, zorder=2)
    ticks = _percent_ticks(reach)
    axes.set_yticks([x for x, _ in ticks], [words for _, words in ticks])
    axes.grid(axis="y", color=_FAINT)
    _line(axes, answer, "before", dashes=(0, (5, 2.5)), marker="o", filled=False)
    if answer.changed:
        _line(axes, answer, "after", dashes="solid", marker="s", filled=True)
    names = ("now", "after") if answer.changed else ("now",)
    ends = [answer.rows[-1].before.middle, answer.rows[-1].after.middle][: len(names)]
    for name, height in zip(names, _apart(ends, 0.09 * reach), strict=True):
        _label(axes, name, height, fontweight="bold")
    legend = [f"– – ○  now: {answer.before_is}"] + (
        [f"──■  after the change: {answer.after_is}"] if answer.changed else []
    )
    wrapped = "\n".join(textwrap.shorten(line, 110, placeholder=" …") for line in legend)
    axes.set_title(f"{wrapped}\nPale bands: 10 to 90 % of plausible carburetors", loc="left", fontsize=9)


def _line(axes: Any, answer: SweepAnswer, which: str, dashes: Any, marker: str, filled: bool) -> None:
    openings = [row.opening for row in answer.rows]
    spans: list[MixtureSpan] = [getattr(row, which) for row in answer.rows]
    low, high = [m.low for m in spans], [m.high for m in spans]
    axes.fill_between(openings, low, high, color=_PALE if filled else _FAINT, linewidth=0, zorder=1)
    if not filled:
        for edge in (low, high):
            axes.plot(openings, edge, color=_INK, linewidth=0.5, linestyle=(0, (1, 3)), zorder=2)
    axes.plot(openings, [m.middle for m in spans], color=_INK, linewidth=1.8, linestyle=dashes, zorder=3)
    face = _INK if filled else "white"
    axes.plot(
        [b.opening for b in answer.bands],
        [getattr(b, which).middle for b in answer.bands],
        linestyle="none",
        marker=marker,
        markersize=6,
        markerfacecolor=face,
        markeredgecolor=_INK,
        clip_on=False,
        zorder=4,
    )


def _label(axes: Any, words: str, height: float, **look: Any) -> None:
    """Words beside the right end of a line."""
    spot = {"xytext": (9, 0), "textcoords": "offset points", "va": "center", "annotation_clip": False}
    axes.annotate(words, (1.0, height), **spot, **look)


def _percent_ticks(reach: float) -> list[tuple[float, str]]:
    step = next((s for s in (0.02, 0.05, 0.10, 0.20, 0.50) if reach / s <= 4.0), 1.0)
    ticks = [(0.0, "0 %")]
    for n in range(1, int(reach / step) + 1):
        x = math.log1p(n * step)
        ticks += [(x, f"{100 * n * step:.0f} % leaner"), (-x, f"{100 * n * step:.0f} % richer")]
    return ticks


# ---------------------------------------------------------------------------------------------------------
# The shares


def _shares(axes: Any, answer: SweepAnswer) -> None:
    promised = [row for row in answer.rows if row.opening >= _UNPROMISED]
    openings = [row.opening for row in promised]
    axes.set_ylim(0.0, 1.08)
    _opening_axis(axes, answer, labels=True)
    axes.set_yticks([0.0, 0.25, 0.5, 0.75, 1.0], ["0", "1/4", "1/2", "3/4", "all"])
    axes.set_ylabel("part of the fuel")
    axes.grid(axis="y", color=_FAINT)
    shown = [c for c in _CIRCUITS if any(getattr(row.shares, c[0]) > 0.02 for row in promised)]
    ends = _apart([getattr(answer.rows[-1].shares, name) for name, *_ in shown], 0.085)
    for (name, words, dashes, marker), height in zip(shown, ends, strict=True):
        values = [getattr(row.shares, name) for row in promised]
        # closed, the pilot circuit alone feeds; the line begins where something is promised
        marked = [b for b in answer.bands if b.opening >= _UNPROMISED or getattr(b.shares, name) > 0.5]
        axes.plot(openings, values, color=_INK, linewidth=1.7, linestyle=dashes, zorder=3)
        axes.plot(
            [b.opening for b in marked],
            [getattr(b.shares, name) for b in marked],
            linestyle="none",
            marker=marker,
            markersize=5.5,
            markerfacecolor="white",
            markeredgecolor=_INK,
            clip_on=False,
            zorder=4,
        )
        _label(axes, words, height)
    axes.set_title("Which circuit feeds it" + (" (after the change)" if answer.changed else ""), loc="left", fontsize=9)


def _apart(heights: Sequence[float], least: float) -> list[float]:
    """The heights moved up just enough that labels do not touch, in their own order."""
    out = list(heights)
    below = -math.inf
    for i in sorted(range(len(out)), key=lambda i: out[i]):
        out[i] = max(out[i], below + least)
        below = out[i]
    return out


# ---------------------------------------------------------------------------------------------------------
# What both share


def _opening_axis(axes: Any, answer: SweepAnswer, labels: bool) -> None:
    axes.set_xlim(0.0, 1.0)
    axes.set_xticks([x for x, _ in _TICKS], [words for _, words in _TICKS])
    for edge in ("top", "right"):
        axes.spines[edge].set_visible(False)
    axes.axvspan(0.0, _UNPROMISED, facecolor="none", edgecolor=_PALE, hatch="///", linewidth=0, zorder=0)
    for x in _inner_ticks():
        axes.axvline(x, color=_FAINT, linewidth=0.8, zorder=0)
    if labels:
        axes.set_xlabel(f"{answer.axis} (hatched: below 1/16, where nothing is promised)")


def _inner_ticks() -> Iterator[float]:
    yield from (x for x, _ in _TICKS if 0.0 < x < 1.0)
