"""What a family of jobs invents before features are switched on: settings, cuts with their values, precedence."""

from __future__ import annotations

from dataclasses import dataclass, field


@dataclass(frozen=True)
class Setting:
    """One setting of a station: half minutes for a reset, how many values are in use, whether they are names."""

    station: int
    name: str
    reset: int
    values: int
    named: bool = False


@dataclass(frozen=True)
class Cut:
    """A lot to be: its product, how far along its part it comes (0 to 1), its station and setting -> value."""

    product: int
    stage: float
    station: int
    values: dict[int, int]


@dataclass
class Draft:
    """A job drawn up cut by cut, part by part.

    `pairs` are (before, after); `forks` are choices, each with its ways as sets of cuts.
    """

    stations: tuple[str, ...]
    settings: tuple[Setting, ...]
    cuts: list[Cut] = field(default_factory=list)
    pairs: list[tuple[int, int]] = field(default_factory=list)
    forks: list[tuple[frozenset[int], ...]] = field(default_factory=list)

    def add(self, cut: Cut, after: tuple[int, ...] = ()) -> int:
        """Append a cut that comes after these; its number."""
        self.pairs += [(earlier, len(self.cuts)) for earlier in after]
        self.cuts.append(cut)
        return len(self.cuts) - 1

    def settings_of(self, station: int) -> list[int]:
        """The numbers of a station's settings."""
        return [n for n, setting in enumerate(self.settings) if setting.station == station]
