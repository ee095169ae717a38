"""Jets that exist: a number in its numbering, and the series of numbers that are sold."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from carbdiag.metering.limits import refuse, within

NUMBERINGS: Final = ("bore", "flow")


@dataclass(frozen=True)
class JetSize:
    """A jet number in its numbering: `bore` in 1/100 mm or `flow` in cc/min.

    Valid range: bore 10 to 400, flow 5 to 1500. Source: series descriptions, from memory.

    >>> JetSize(165, "bore").area_over(JetSize(160, "bore"))
    1.063
    >>> JetSize(165, "flow").area_over(JetSize(160, "flow"))
    1.031
    """

    number: float
    numbering: str = "bore"

    def __post_init__(self) -> None:
        if self.numbering not in NUMBERINGS:
            raise refuse("numbering", "a jet is numbered by bore or by flow", self.numbering, NUMBERINGS)
        if self.numbering == "bore":
            within("jet bore number", self.number, 10.0, 400.0, "1/100 mm")
        else:
            within("jet flow number", self.number, 5.0, 1500.0, "cc/min")

    @property
    def exponent(self) -> float:
        """Area goes as the number to this power: 2 for bore, 1 for flow (unitless)."""
        return 2.0 if self.numbering == "bore" else 1.0

    def area_over(self, other: JetSize) -> float:
        """Area of this jet over that of `other` (unitless); refuses mixed numberings."""
        if self.numbering != other.numbering:
            raise refuse(
                "numbering", "bore numbers and flow numbers cannot be compared: no fixed conversion exists",
                f"{self.number:g} {self.numbering} with {other.number:g} {other.numbering}", NUMBERINGS,
            )  # fmt: skip
        return float((self.number / other.number) ** self.exponent)

    def number_at(self, area_ratio: float) -> float:
        """The number with `area_ratio` times the area (unitless, 0.2 to 5); it may lie beyond any jet that is made."""
        within("area ratio", area_ratio, 0.2, 5.0, "")
        return float(self.number * area_ratio ** (1.0 / self.exponent))


@dataclass(frozen=True)
class JetSeries:
    """The numbers one can buy, in one numbering, ascending.

    Valid range: at least two numbers, ascending. Source: from memory unless the owner lists the jets in the
    box.

    >>> MAIN_BORE.nearest(JetSize(153.2, "bore")).number
    152.0
    """

    numbering: str
    numbers: tuple[float, ...]

    def __post_init__(self) -> None:
        if self.numbering not in NUMBERINGS:
            raise refuse("numbering", "a series is numbered by bore or by flow", self.numbering, NUMBERINGS)
        if len(self.numbers) < 2 or any(b <= a for a, b in zip(self.numbers, self.numbers[1:], strict=False)):
            raise refuse("jet series", "needs at least two ascending numbers", self.numbers)

    def holds(self, size: JetSize) -> bool:
        """Whether the size lies between the ends of the series, both included."""
        return self.numbering == size.numbering and self.numbers[0] <= size.number <= self.numbers[-1]

    def _same(self, size: JetSize) -> float:
        if size.numbering != self.numbering:
            raise refuse(
                "numbering",
                "jet and series are numbered differently",
                f"{size.numbering} in {self.numbering}",
            )
        low, high = self.numbers[0], self.numbers[-1]
        return within("jet number", size.number, low, high, "1/100 mm" if self.numbering == "bore" else "cc/min")

    def nearest(self, size: JetSize) -> JetSize:
        """The existing size nearest in number; the richer of two equals."""
        n = self._same(size)
        return JetSize(min(self.numbers, key=lambda m: (abs(m - n), -m)), self.numbering)

    def at_least(self, size: JetSize) -> JetSize:
        """The smallest existing size not leaner than `size`."""
        n = self._same(size)
        return JetSize(next(m for m in self.numbers if m >= n - 1e-9), self.numbering)

    def at_most(self, size: JetSize) -> JetSize:
        """The largest existing size not richer than `size`."""
        n = self._same(size)
        return JetSize(next(m for m in reversed(self.numbers) if m <= n + 1e-9), self.numbering)


def round_toward(series: JetSeries, present: JetSize, wanted: JetSize) -> JetSize:
    """Existing size nearest to `wanted` that does not cross `present`: richer stays richer, leaner stays
    leaner.

    Numbers in the series' numbering. Valid range: inside the series. Source: own rule.

    >>> round_toward(MAIN_BORE, JetSize(160, "bore"), JetSize(160.4, "bore")).number
    160.0
    """
    wanted.area_over(present)  # refuses mixed numbering
    size = series.nearest(wanted)
    if (size.number - present.number) * (wanted.number - present.number) < 0.0:
        return present
    return size


MAIN_BORE: Final = JetSeries("bore", tuple(float(t + u) for t in range(50, 300, 10) for u in (0, 2, 5, 8)))


MAIN_FLOW: Final = JetSeries("flow", (*(50.0 + 2.5 * i for i in range(60)), *(200.0 + 5.0 * i for i in range(61))))


PILOT_BORE: Final = JetSeries("bore", tuple(20.0 + 2.5 * i for i in range(41)))


PILOT_FLOW: Final = JetSeries("flow", tuple(10.0 + 2.5 * i for i in range(49)))
