"""Where the needle hangs: clip groove, clip pitch and the lengths of the needle.

The clip rests on the slide. What counts is how far below the clip the taper begins and the needle ends; a longer
part above the taper lowers it just as a higher groove does. Where the clip stands above the jet is not known, so the
lengths are only compared with those of a needle that ran right; one comparison is exact.
"""

from __future__ import annotations

from dataclasses import dataclass

from carbdiag.metering.limits import refuse, within


@dataclass(frozen=True)
class NeedleLengths:
    """Lengths of a needle (mm), all from its blunt end: to the first groove, to the taper, to the tip.

    Valid range: groove 0 to 30 mm below the end, taper beyond the last groove and up to 90 mm, length beyond the
    taper and up to 120 mm; pitch 0.2 to 3 mm. Source: geometry.

    >>> NeedleLengths(2.5, 1.0, 5, 30.0, 60.0).seat_mm(3)
    4.5
    >>> NeedleLengths(2.5, 1.0, 5, 30.0, 28.0)
    Traceback (most recent call last):
    ...
    carbdiag.errors.OutOfRangeError: needle length must be from 30 to 120 mm, got 28 mm
    """

    first_groove_mm: float
    pitch_mm: float
    grooves: int
    taper_mm: float
    length_mm: float = 120.0

    def __post_init__(self) -> None:
        within("first groove", self.first_groove_mm, 0.0, 30.0, "mm")
        within("clip pitch", self.pitch_mm, 0.2, 3.0, "mm")
        within("number of grooves", self.grooves, 1, 9, "")
        within("start of the needle taper", self.taper_mm, self.seat_mm(self.grooves), 90.0, "mm")
        within("needle length", self.length_mm, self.taper_mm, 120.0, "mm")

    def seat_mm(self, groove: float) -> float:
        """From the blunt end to the clip in a groove, counted from the blunt end (mm).

        Valid range: 1 to the number of grooves. Source: geometry.

        >>> NeedleLengths(2.0, 0.9, 5, 30.0).seat_mm(2)
        2.9
        """
        if not 1 <= groove <= self.grooves:
            raise refuse("clip groove", f"must be from 1 to {self.grooves}", f"{groove:g}")
        return self.first_groove_mm + (groove - 1) * self.pitch_mm

    @property
    def taper_below_middle_mm(self) -> float:
        """From the clip in the middle groove down to the taper (mm); more is leaner where the taper meters.

        >>> NeedleLengths(2.0, 1.0, 5, 30.0).taper_below_middle_mm
        26.0
        """
        return self.taper_mm - self.seat_mm((self.grooves + 1) / 2)


def taper_lowered_mm(was: NeedleLengths, now: NeedleLengths) -> float:
    """How much lower (mm) the taper of another needle hangs, clip in the middle groove of each; positive is leaner.

    Valid range: as the lengths. Source: geometry.

    >>> taper_lowered_mm(NeedleLengths(2.0, 1.0, 5, 30.0), NeedleLengths(2.0, 1.0, 5, 31.0))
    1.0
    """
    return now.taper_below_middle_mm - was.taper_below_middle_mm


def tip_leaves_at(taper_start: float, lengths: NeedleLengths, bore_mm: float) -> float:
    """Lift (share of the bore) at which the tip leaves the jet, clip in the middle groove.

    Beyond it the jet is open. Valid range: taper start 0 to 0.6 of the bore, bore 8 to 60 mm. Source: geometry.

    >>> tip_leaves_at(0.129, NeedleLengths(2.0, 1.0, 5, 30.0, 55.0), 34.0)
    0.864
    """
    within("taper start", taper_start, 0.0, 0.6, "of the bore")
    within("bore", bore_mm, 8.0, 60.0, "mm")
    return taper_start + (lengths.length_mm - lengths.taper_mm) / bore_mm
