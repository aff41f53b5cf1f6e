"""Wood by species: specific gravity, shear strength, shrinkage and seasonal movement.

Source: USDA Forest Products Laboratory, *Wood Handbook: Wood as an Engineering Material*, FPL-GTR-190, 2010.
Specific gravity and shear parallel to grain at 12 % moisture content: table 5-3a, means of small clear
specimens and not design values. Shrinkage from green to ovendry: table 4-3. Coefficients of dimensional
change per 1 % moisture content, valid from 6 to 14 %: table 13-5. A figure is left out where the table could
not be checked, either by reading it or against the others (`coefficient` ties the two tables together).
"""

from __future__ import annotations

from dataclasses import dataclass
from math import inf

from sequencer.geometry.refusal import FigureError, number, require_between


@dataclass(frozen=True)
class Species:
    """A wood: specific gravity and shear (MPa) at 12 %, shrinkage (%), change per 1 % moisture (mm per mm).

    `group`: the coefficients are those the table prints for a commercial group of species.
    """

    name: str
    gravity: float
    shear: float
    radial_shrinkage: float | None = None
    tangential_shrinkage: float | None = None
    radial: float | None = None
    tangential: float | None = None
    group: bool = False


SPECIES: dict[str, Species] = {
    species.name: species
    for species in (
        Species("white ash", 0.60, 13.2, 4.9, 7.8, 0.00169, 0.00274),
        Species("American beech", 0.64, 13.9, 5.5, 11.9, 0.00190, 0.00431),
        Species("yellow birch", 0.62, 13.0, 7.3, 9.5, 0.00256, 0.00338),
        Species("black cherry", 0.50, 11.7, 3.7, 7.1, 0.00126, 0.00248),
        Species("sugar maple", 0.63, 16.1, 4.8, 9.9, 0.00165, 0.00353),
        Species("northern red oak", 0.63, 12.3, None, None, 0.00158, 0.00369, group=True),
        Species("white oak", 0.68, 13.8, 5.6, 10.5, 0.00180, 0.00365, group=True),
        Species("black walnut", 0.55, 9.4, 5.5, 7.8, 0.00190, 0.00274),
        Species("yellow-poplar", 0.42, 8.2, 4.6, 8.2, 0.00158, 0.00289),
        Species("eastern white pine", 0.35, 6.2, 2.1, 6.1, 0.00071, 0.00212),
        Species("ponderosa pine", 0.40, 7.8),
        Species("coast Douglas-fir", 0.48, 7.8, 4.8, 7.6, 0.00165, 0.00267),
    )
}


def coefficient(shrinkage: float) -> float:
    """Change in size per 1 % moisture content, mm per mm, from the shrinkage green to ovendry in percent.

    1 / (3000 / S - 20): the handbook's shrinkage formula taken at 10 % moisture content.

    >>> round(coefficient(7.8), 5)
    0.00274
    """
    require_between("shrinkage", shrinkage, 0, 30, "percent")
    return 1.0 / (3000.0 / shrinkage - 20.0)


def movement(width: float, coefficient: float, moisture_from: float, moisture_to: float) -> float:
    """Change in a board's width, mm (negative: it shrinks): width x coefficient x change in moisture content.

    Raises FigureError outside 6 to 14 % moisture content, where the coefficients do not hold. (Wood Handbook,
    ch. 13.)

    >>> round(movement(300, 0.00369, 6, 10), 3)
    4.428
    """
    require_between("width", width, 0, inf, "mm")
    for moisture in (moisture_from, moisture_to):
        require_between("moisture content", moisture, 6, 14, "percent", low_open=False, high_open=False)
    return width * coefficient * (moisture_to - moisture_from)


def moisture_content(humidity: float, celsius: float = 20.0) -> float:
    """Moisture content wood settles at, percent, in air of that relative humidity (percent) and temperature.

    Two-hydrate sorption formula: Simpson, "Equilibrium moisture content prediction for wood", Forest Products
    Journal.

    >>> round(moisture_content(55, 60), 1)
    8.4
    """
    require_between("relative humidity", humidity, 0, 100, "percent")
    require_between("temperature", celsius, -20, 100, "degrees Celsius")
    h, t = humidity / 100.0, celsius * 9 / 5 + 32
    w = 330 + 0.452 * t + 0.00415 * t * t
    k = 0.791 + 0.000463 * t - 8.44e-7 * t * t
    k1 = 6.34 + 0.000775 * t - 9.35e-5 * t * t
    k2 = 1.09 + 0.0284 * t - 9.04e-5 * t * t
    kh = k * h
    one, two = k1 * kh, k1 * k2 * kh * kh
    return 1800 / w * (kh / (1 - kh) + (one + 2 * two) / (1 + one + two))


def species(name: str) -> Species:
    """The species of that name, whatever its capitals and word order ("ash, white"). Raises FigureError if
    unknown.
    """
    words = frozenset(name.lower().replace(",", " ").replace("-", " ").split())
    for known in SPECIES.values():
        if frozenset(known.name.lower().replace("-", " ").split()) == words:
            return known
    raise FigureError(f'no figures for the species "{name}"', ", ".join(sorted(SPECIES)))


def seasonal(width: float, wood: Species, dry: float, damp: float, *, flat_sawn: bool = True) -> float:
    """How much a board moves over a year, mm, between two relative humidities (percent) at 20 degrees
    Celsius.

    The moisture contents are kept within 6 to 14 %, the range of the coefficients. Raises FigureError for a
    species without coefficients.
    """
    factor = wood.tangential if flat_sawn else wood.radial
    if factor is None:
        raise FigureError(
            f"no coefficient of movement for {wood.name}",
            ", ".join(s.name for s in SPECIES.values() if s.tangential is not None),
        )
    low, high = (min(14.0, max(6.0, moisture_content(h))) for h in (dry, damp))
    if low > high:
        raise FigureError(
            f"dry {number(dry)} percent is damper than {number(damp)} percent", "dry below damp"
        )
    return movement(width, factor, low, high)
