"""From which end the grooves of a needle are counted: "3rd from the top", "second from bottom"."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass


@dataclass(frozen=True)
class Groove:
    """Where a groove is, counted from the top and from the bottom; None from an end that is not told.

    How many grooves there are is seldom told, so one cannot be had from the other but for the last of all.
    """

    from_top: float | None
    from_bottom: float | None

    def down_to(self, other: Groove) -> float:
        """By how many grooves another lies lower; zero where they are counted from different ends."""
        if self.from_top is not None and other.from_top is not None:
            return other.from_top - self.from_top
        if self.from_bottom is not None and other.from_bottom is not None:
            return self.from_bottom - other.from_bottom
        return 0.0


class CountedGrooves:
    """The words of one language that tell a groove, and from which end it is counted."""

    def __init__(self, grooves: Mapping[str, float], passed: Collection[str], led_by: Collection[str]) -> None:
        """Take the grooves by name, what may stand between a number and its end, and what leads to that ("from")."""
        self.grooves, self._passed, self._led_by = dict(grooves), frozenset(passed), frozenset(led_by)
        self.top, self.bottom = min(grooves.values(), default=0.0), max(grooves.values(), default=0.0)

    def end_behind(self, said: Sequence[str]) -> tuple[str, int]:
        """The word of the end that a groove told before these words is counted from, and how many of them tell it."""
        led = next((n for n, word in enumerate(said) if word not in self._passed), len(said))
        if led == len(said) or said[led] not in self._led_by:
            return "", 0
        at = next((n for n in range(led + 1, len(said)) if said[n] not in self._passed), len(said))
        named = self.grooves.get(said[at]) if at < len(said) else None
        return (said[at], at + 1) if named in (self.top, self.bottom) else ("", 0)

    def counted(self, number: float, end: str) -> Groove:
        """A groove by its number and the end it is counted from, the top where none is told."""
        if self.grooves.get(end) == self.bottom:
            return Groove(None, number)
        return Groove(number, None)

    def named(self, said: Sequence[str]) -> Iterator[Groove]:
        """The grooves named in a row of words, in their order: "from the top to the second from the bottom"."""
        at = 0
        while at < len(said):
            number = self.grooves.get(said[at])
            at += 1
            if number is None:
                continue
            end, told = self.end_behind(said[at:])
            at += told
            yield self.counted(number, end) if end else Groove(number, 1.0 if number == self.bottom else None)


__all__ = ["CountedGrooves", "Groove"]
