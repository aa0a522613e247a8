"""People's units and SI, the only place where one becomes the other.

The table is closed: what a bench file may say (`docs/bench-file.md`), nothing read as an expression. Factors are exact
or to the digits of NIST SP 811 (2008), appendix B.8; `tests/outside` checks every one against the table and pint.
Pressures keep what they are, gauge or absolute: this room changes units, never the zero.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final, TypedDict, Unpack

G0_M_PER_S2: Final = 9.80665  # standard acceleration of free fall, exact (SP 811)
_POUND_KG: Final = 0.45359237  # exact (SP 811)
_INCH_M: Final = 0.0254  # exact
PSI_PA: Final = 6894.757293168361  # lbf/in², from the exact pound, inch and g₀
BAR_PA: Final = 1e5

# dimension -> unit -> (factor, offset): SI = factor · value + offset
TABLE: Final[dict[str, dict[str, tuple[float, float]]]] = {
    "length": {"mm": (1e-3, 0), "cm": (1e-2, 0), "m": (1, 0), "in": (_INCH_M, 0)},
    "volume": {"ml": (1e-6, 0), "cm^3": (1e-6, 0), "l": (1e-3, 0)},
    "area": {"mm^2": (1e-6, 0), "cm^2": (1e-4, 0)},
    "pressure": {"psi": (PSI_PA, 0), "bar": (BAR_PA, 0), "kPa": (1e3, 0), "MPa": (1e6, 0), "Pa": (1, 0)},
    "force": {"N": (1, 0), "kgf": (G0_M_PER_S2, 0), "lbf": (_POUND_KG * G0_M_PER_S2, 0)},
    "rate": {"N/mm": (1e3, 0), "N/m": (1, 0), "lbf/in": (_POUND_KG * G0_M_PER_S2 / _INCH_M, 0)},
    "mass": {"kg": (1, 0), "lb": (_POUND_KG, 0)},
    "angle": {"deg": (math.pi / 180, 0)},
    # makers print torques in all four: 18.64 N·m stands as 1864 N·cm and as 165 lbf·in
    "torque": {
        "N·m": (1, 0),
        "N·cm": (1e-2, 0),
        "lbf·in": (_POUND_KG * G0_M_PER_S2 * _INCH_M, 0),
        "lbf·ft": (_POUND_KG * G0_M_PER_S2 * 12 * _INCH_M, 0),
    },
    "temperature": {"degC": (1, 273.15), "degF": (5 / 9, 459.67 * 5 / 9), "K": (1, 0)},
}
DIMENSIONS: Final = tuple(TABLE)
# What is said and never typed with a unit: a bench file has none of these.
_SAID: Final[dict[str, dict[str, tuple[float, float]]]] = {
    "share": {"%": (1e-2, 0)}, "count": {"": (1, 0)}, "ratio": {"": (1, 0)},
    "energy": {"J": (1, 0), "ft·lbf": (_POUND_KG * G0_M_PER_S2 * 12 * _INCH_M, 0)},
    "altitude": {"m": (1, 0), "ft": (12 * _INCH_M, 0)},  # typed as a length; nobody says one in inches
}  # fmt: skip
# Friction per bar of pressure is written as a force ("0 N"); kept as a force per pascal inside.

# What a person may write for a unit beside the name in the table: the signs on keyboards and gauges, and the trade's words.
# Capitals only where they mean nothing else: MPa and mPa are a billion apart.
ALIASES: Final = {"PSI": "psi", "Psi": "psi", "BAR": "bar", "Bar": "bar", "MM": "mm", "CM": "cm", "IN": "in", "inch": "in",
    "inches": "in", '"': "in", "″": "in", "ML": "ml", "cc": "ml", "CC": "ml", "ccm": "ml", "cm3": "cm^3", "mm2": "mm^2",
    "cm2": "cm^2", "KG": "kg", "Kg": "kg", "kgs": "kg", "LB": "lb", "lbs": "lb", "LBS": "lb", "pounds": "lb", "DEG": "deg",
    "degree": "deg", "degrees": "deg", "º": "deg", "C": "degC", "F": "degF", "℃": "degC", "℉": "degF",
    "°C": "degC", "°F": "degF", "°": "deg", "cm³": "cm^3", "mm²": "mm^2", "cm²": "cm^2", "mL": "ml", "L": "l",
    "Nm": "N·m", "N m": "N·m", "Ncm": "N·cm", "in-lb": "lbf·in", "ft-lb": "lbf·ft",
}  # fmt: skip

# The other system, shown second: (dimension, unit typed first) -> unit shown second.
_SECOND: Final = {
    ("length", "mm"): "in", ("length", "cm"): "in", ("length", "m"): "in", ("length", "in"): "mm",
    ("pressure", "psi"): "bar", ("pressure", "bar"): "psi", ("pressure", "kPa"): "psi",
    ("pressure", "MPa"): "psi", ("pressure", "Pa"): "psi",
    ("force", "N"): "lbf", ("force", "kgf"): "lbf", ("force", "lbf"): "N",
    ("rate", "N/mm"): "lbf/in", ("rate", "N/m"): "lbf/in", ("rate", "lbf/in"): "N/mm",
    ("mass", "kg"): "lb", ("mass", "lb"): "kg", ("energy", "J"): "ft·lbf", ("energy", "ft·lbf"): "J",
    ("altitude", "m"): "ft", ("altitude", "ft"): "m",
    ("torque", "N·m"): "lbf·in", ("torque", "N·cm"): "lbf·in", ("torque", "lbf·in"): "N·m", ("torque", "lbf·ft"): "N·m",
    ("temperature", "degC"): "degF", ("temperature", "degF"): "degC", ("temperature", "K"): "degC",
}  # fmt: skip

# Decimals that a bench can see, per unit: a rule is read to half a millimetre, a gauge to one psi.
_DECIMALS: Final = {
    "mm": 1, "cm": 2, "m": 4, "in": 2, "ml": 1, "cm^3": 1, "l": 4, "mm^2": 0, "cm^2": 2,
    "psi": 1, "bar": 2, "kPa": 0, "MPa": 3, "Pa": 0, "N": 0, "kgf": 1, "lbf": 0, "N/mm": 1, "N/m": 0,
    "lbf/in": 1, "kg": 1, "lb": 1, "deg": 1, "degC": 0, "degF": 0, "K": 1,
    "N·m": 1, "N·cm": 0, "lbf·in": 0, "lbf·ft": 1, "%": 0, "J": 0, "ft·lbf": 0, "ft": 0, "": 0,
}  # fmt: skip
_IMPERIAL: Final = frozenset({"in", "psi", "lbf", "lbf/in", "lb", "lbf·in", "lbf·ft", "ft·lbf", "ft", "degF"})
_WRITTEN: Final = {"degC": "°C", "degF": "°F", "deg": "°", "mm^2": "mm²", "cm^2": "cm²", "cm^3": "cm³"}

LEAST_FIGURES: Final = 3  # that the figure in the other system has, where its decimals give it so many

NO_BREAK: Final = "\N{NO-BREAK SPACE}"
THIN: Final = "\N{NARROW NO-BREAK SPACE}"
MINUS: Final = "\N{MINUS SIGN}"

# Digits of other scripts are refused: they turn like letters do, and no gauge here is marked with them.
_NUMBER: Final = re.compile(r"[+-]?(\d+(\.\d*)?|\.\d+)([eE][+-]?\d+)?", re.ASCII)
DIGITS_MAX: Final = 40  # longer than any number that a person writes; keeps huge inputs cheap
BARE_NUMBER: Final = re.compile(r"[+-]?(\d+(\.\d*)?|\.\d+)", re.ASCII)  # as somebody types it into a box, whole
UNCERTAIN: Final = re.compile(r"±|\+/-|\bu\b|\bwithin\b")  # the three ways to write an uncertainty
NOT_UNCERTAIN: Final = "no uncertainty is taken here; give the value alone."


class UnitFault(ValueError):
    """What was typed can't be read as a number with a unit; `str()` says what was expected and how to mend it."""


@dataclass(frozen=True, slots=True)
class Typed:
    """What a person typed and what was understood: the SI value, the unit's name in the table, the text kept."""

    value_si: float
    unit: str
    text: str

    @property
    def number(self) -> float:
        """The number in the unit that was typed."""
        return float(number_of(self.text))


def number_of(text: str) -> str:
    """The number at the start of a typed quantity, as it was typed."""
    return number_at(text.strip())


def number_at(text: str) -> str:
    """The digits of a number that a text begins with, empty where it begins with none."""
    match = _NUMBER.match(text)
    return match.group() if match else ""


def name_of(text: str) -> str:
    """The name of a unit in the table as a person may have written it; one that no table has comes back as it is."""
    name = text.strip().replace("\N{NO-BREAK SPACE}", "").replace(THIN, "")
    return ALIASES.get(name, name)


def unit_named(name: str, dimension: str) -> str:
    """A name that `name_of` gave, where it is a unit of the dimension; raises UnitFault that says which ones are."""
    if name not in TABLE[dimension]:
        near = next((unit for unit in TABLE[dimension] if unit.lower() == name.lower()), None)
        if near:
            raise UnitFault(f'write the unit as "{near}".')
        known = ", ".join(TABLE[dimension])
        raise UnitFault(f'"{name[:20]}" is not a unit of {dimension} here; use one of {known}.')
    return name


def parse_number(text: str) -> float:
    """A plain number, decimal point; raises UnitFault for a comma, text, NaN or infinity."""
    text = text.strip()
    if len(text) > DIGITS_MAX:
        raise UnitFault("that is longer than any number here.")
    if re.fullmatch(r"[+-]?\d+,\d+", text, re.ASCII):
        raise UnitFault(f'write a decimal point: "{text.replace(",", ".")}".')
    if not _NUMBER.fullmatch(text):
        raise UnitFault("a number is expected.")
    value = float(text)
    if not math.isfinite(value):
        raise UnitFault("a number is expected that is not endless.")
    return value


def parse(text: str, dimension: str, default_unit: str | None = None, *, usual: str | None = None) -> Typed:
    """Read `"62 psi"` as a quantity of `dimension`; a bare number counts as `default_unit` where one is given.

    Without one it is refused; `usual` is then the unit that the sentence shows first.

    Raises UnitFault whose text says what was expected, with an example in the dimension's own units.
    """
    raw = text.strip()
    if len(raw) > DIGITS_MAX:
        raise UnitFault(f"that is longer than any {dimension} here.")
    comma = re.match(r"[+-]?\d+,\d+", raw, re.ASCII)
    if comma:
        raise UnitFault(f'write a decimal point: "{raw.replace(",", ".", 1)}".')
    if UNCERTAIN.search(raw):
        raise UnitFault(NOT_UNCERTAIN)
    match = _NUMBER.match(raw)
    if match is None:
        raise UnitFault(f"a number with a unit is expected, as in {example(dimension, default_unit or usual)}.")
    name = name_of(raw[match.end() :])
    if not name:
        if default_unit is None:
            raise UnitFault(f"needs a unit, {with_units(match.group(), dimension, usual)}.")
        name = default_unit
    unit_named(name, dimension)
    value = float(match.group())
    if not math.isfinite(value):
        raise UnitFault("a number is expected that is not endless.")
    return Typed(to_si(value, name, dimension), name, raw)


def to_si(value: float, unit: str, dimension: str) -> float:
    """`value` of a unit of the table in SI: m, m³, m², Pa, N, N/m, kg, rad, K."""
    factor, offset = TABLE[dimension][unit]
    return value * factor + offset


def from_si(value_si: float, unit: str, dimension: str) -> float:
    """An SI value in a unit of the table."""
    factor, offset = TABLE[dimension][unit]
    return (value_si - offset) / factor


_EXAMPLES: Final = {
    "length": ("44 mm", "1.73 in"), "volume": ("245 ml",), "area": ("1880 mm^2",), "pressure": ("62 psi", "4.3 bar"),
    "force": ("12 N",), "rate": ("60 N/mm",), "mass": ("82 kg", "181 lb"), "angle": ("65.5 deg",),
    "temperature": ("20 degC", "68 degF"), "torque": ("8 N·m", "71 lbf·in"),
}  # fmt: skip


def example(dimension: str, first: str | None = None) -> str:
    """Two ways to write a quantity of the dimension, for messages; that in the unit `first`, where one is, stands first."""
    ways = sorted(_EXAMPLES[dimension], key=lambda way: first is not None and not way.endswith(f" {first}"))
    return " or ".join(f'"{way}"' for way in ways)


def with_units(text_of_number: str, dimension: str, usual: str | None = None) -> str:
    """The bare number with the usual unit (the dimension's first), and the same in the other system if there is one."""
    first = usual or next(iter(TABLE[dimension]))
    second = _SECOND.get((dimension, first))
    text = f'"{text_of_number} {first}"'
    if second:
        same = from_si(to_si(float(text_of_number), first, dimension), second, dimension)
        decimals = 0 if same >= 100.0 else _DECIMALS[second]  # an example has no more than three or four figures
        text += f' or "{same:.{decimals}f} {second}"'
    return text


def other(dimension: str, unit: str) -> str | None:
    """The unit of the other system that is shown second; None where there is none."""
    return _SECOND.get((dimension, unit))


def decimals_of(unit: str) -> int:
    """Decimals that a bench can see in this unit."""
    return _DECIMALS[unit]


def factor(dimension: str, unit: str) -> float:
    """What one of a unit is in SI, of a difference: one degF is 5/9 K."""
    return (TABLE.get(dimension) or _SAID[dimension])[unit][0]


def number(value_si: float, dimension: str, unit: str, decimals: int | None = None) -> float:
    """The number that is said for an SI value: in `unit`, rounded once to `decimals` (−1: to tens), its own where None.

    Nothing else rounds what people read; a difference is that of two such numbers (`change`).
    """
    factor, offset = (TABLE.get(dimension) or _SAID[dimension])[unit]
    return round((value_si - offset) / factor, _DECIMALS[unit] if decimals is None else decimals)


def change(before_si: float, after_si: float, dimension: str, unit: str, decimals: int | None = None) -> float:
    """After less before of the numbers that are said, so that whoever subtracts finds the same."""
    places = _DECIMALS[unit] if decimals is None else decimals
    return round(number(after_si, dimension, unit, places) - number(before_si, dimension, unit, places), max(places, 0))


def needed(values_si: Iterable[float | None], dimension: str, unit: str, most: int | None = None) -> int:
    """The decimals that values said side by side need: those of the unit (or `most`), none where all are whole."""
    places = _DECIMALS[unit] if most is None else most
    said = [number(value, dimension, unit, places) for value in values_si if value is not None]
    return 0 if places > 0 and all(one == round(one) for one in said) else places


def beside_decimals(
    values_si: Iterable[float | None], dimension: str, unit: str, beside: str, decimals: int | None = None
) -> int:
    """The decimals of the figure in the other system: those of its unit, with no more figures in all than the first has, three at least.

    250 psi is 17.2 bar: 17.24 would be seven times as fine. Of values said side by side all have as many, so that they add up.
    """
    first, second = _DECIMALS[unit] if decimals is None else decimals, _DECIMALS[beside]
    found = second
    for value_si in values_si:
        said = None if value_si is None else number(value_si, dimension, beside, second)
        if value_si is not None and said:
            most = max(_size(number(value_si, dimension, unit, first)) + 1 + max(first, 0), LEAST_FIGURES)
            found = min(found, most - 1 - _size(said))
    return max(found, min(second, 0))


def _size(value: float) -> int:
    """The power of ten of a number's first figure; 0 of nothing."""
    return math.floor(math.log10(abs(value))) if value else 0


def digits(value: float, decimals: int, *, signed: bool = False) -> str:
    """A number as it is printed: thin space in thousands, true minus, a leading zero, no minus before a zero."""
    text = f"{abs(value):,.{max(decimals, 0)}f}".replace(",", THIN)
    zero = not any(c in "123456789" for c in text)
    if value < 0 and not zero:
        return MINUS + text
    return ("+" + text) if signed and not zero else text


class Digits(TypedDict, total=False):
    """How a quantity is said beside its unit: its decimals, whether the other system follows, and that one's decimals."""

    decimals: int | None
    second: bool
    second_decimals: int | None


class Trimmed(Digits, total=False):
    """The same, and whether decimals that are all zero are left out."""

    trim: bool


def show(
    value_si: float, dimension: str, unit: str, *,
    decimals: int | None = None, second: bool = False, second_decimals: int | None = None, trim: bool = False,
) -> str:  # fmt: skip
    """A quantity for people: digits, no-break space, unit; with `second` also the other system after a dot.

    `trim` leaves out decimals that are all zero, as targets are written, in either system.
    """
    if trim:
        decimals = needed([value_si], dimension, unit, decimals)
    text = plain(number(value_si, dimension, unit, decimals), unit, decimals)
    beside = other(dimension, unit) if second else None
    if beside is None:
        return text
    if second_decimals is None:
        second_decimals = beside_decimals([value_si], dimension, unit, beside, decimals)
    if trim:
        second_decimals = needed([value_si], dimension, beside, second_decimals)
    return f"{text} · {plain(number(value_si, dimension, beside, second_decimals), beside, second_decimals)}"


def show_change(
    before_si: float, after_si: float, dimension: str, unit: str, *,
    decimals: int | None = None, second: bool = False, second_decimals: int | None = None,
) -> str:  # fmt: skip
    """After less before, signed, with its unit: of the figures shown, in each system for itself, so both add up."""
    text = plain(change(before_si, after_si, dimension, unit, decimals), unit, decimals, signed=True)
    beside = other(dimension, unit) if second else None
    if beside is None:
        return text
    if second_decimals is None:
        second_decimals = beside_decimals([before_si, after_si], dimension, unit, beside, decimals)
    gap = change(before_si, after_si, dimension, beside, second_decimals)
    return f"{text} · {plain(gap, beside, second_decimals, signed=True)}"


def plain(value: float, unit: str, decimals: int | None = None, *, signed: bool = False) -> str:
    """A number that is said already, with its unit; a signed share is a difference, said in points."""
    written = "points" if signed and unit == "%" else _WRITTEN.get(unit, unit)
    space = "" if unit in ("deg", "") else NO_BREAK
    return digits(value, _DECIMALS[unit] if decimals is None else decimals, signed=signed) + space + written


@dataclass(frozen=True, slots=True)
class System:
    """The units somebody reads in: metric or imperial, pressures in bar or psi apart from that, alone or with the other beside.

    Whoever says a quantity names the unit it is said in otherwise; `unit` gives that or the other system's.
    """

    metric: bool = True
    bar: bool = False
    beside: bool = True

    def unit(self, dimension: str, unit: str) -> str:
        """The unit that takes the place of `unit` here; itself where there is no other."""
        metric = self.bar if dimension == "pressure" else self.metric
        return unit if (unit not in _IMPERIAL) == metric else other(dimension, unit) or unit

    def show(self, value_si: float, dimension: str, unit: str, **how: Unpack[Trimmed]) -> str:
        """`show` in these units; `decimals` belong to `unit`, `second_decimals` to the other, whichever stands first."""
        here = self.unit(dimension, unit)
        told = self._digits(how, turned=here != unit)
        return show(value_si, dimension, here, trim=how.get("trim", False), **told)

    def show_change(self, before_si: float, after_si: float, dimension: str, unit: str, **how: Unpack[Digits]) -> str:
        """`show_change` in these units, with the decimals of `show`."""
        here = self.unit(dimension, unit)
        return show_change(before_si, after_si, dimension, here, **self._digits(how, turned=here != unit))

    def number(self, value_si: float, dimension: str, unit: str, decimals: int | None = None) -> float:
        """`number` in these units; `decimals` belong to `unit`, the other's are its own."""
        here = self.unit(dimension, unit)
        return number(value_si, dimension, here, decimals if here == unit else None)

    def _digits(self, how: Digits, *, turned: bool) -> Digits:
        first, second = how.get("decimals"), how.get("second_decimals")
        if turned:
            first, second = second, first
        return Digits(decimals=first, second=how.get("second", False) and self.beside, second_decimals=second)


BENCH: Final = System()  # what a bench mostly has: a rule in millimetres and a pump in psi; the page's and the paper's
