"""Units of measurement by their UCUM code, and how to bring them to a canonical unit.

Factors: the avoirdupois pound is exactly 453.59237 g, the inch exactly 2.54 cm, the foot 12 inches
(international yard and pound agreement, 1959); Celsius = (Fahrenheit - 32) / 1.8 exactly.
Glucose 1 mmol/L = 18.0156 mg/dL (molar mass of C6H12O6, 180.156 g/mol).
Bilirubin 1 mg/dL = 17.104 umol/L (molar mass of C33H36N4O6, 584.66 g/mol).
Such a factor belongs to one substance, and no other is converted by it. Of each only the unit in
which laboratories report it is known, so that a slip of the unit is refused (common practice).
"""

from dataclasses import dataclass

from pipelines.base.errors import DeclarationError, nearest


@dataclass(frozen=True)
class Conversion:
    """canonical = (recorded - offset) * factor / divisor.

    A divisor apart from the factor keeps Fahrenheit exact where it can be: 97.7 gives 36.5.
    """

    factor: float = 1.0
    offset: float = 0.0
    divisor: float = 1.0

    def to_canonical(self, recorded: float) -> float:
        return (recorded - self.offset) * self.factor / self.divisor

    def from_canonical(self, canonical: float) -> float:
        return canonical * self.divisor / self.factor + self.offset

    def sql(self, expression: str) -> str:
        """Return the same conversion as a DuckDB expression."""
        return f"(({expression}) - {self.offset!r}) * {self.factor!r} / {self.divisor!r}"


# canonical unit -> recorded unit -> conversion
CONVERSIONS: dict[str, dict[str, Conversion]] = {
    "g": {
        "g": Conversion(),
        "kg": Conversion(1000.0),
        "[lb_av]": Conversion(453.59237),
        "[oz_av]": Conversion(453.59237, 0.0, 16.0),
    },
    "cm": {
        "cm": Conversion(),
        "mm": Conversion(1.0, 0.0, 10.0),
        "m": Conversion(100.0),
        "[in_i]": Conversion(2.54),
        "[ft_i]": Conversion(30.48),
    },
    "Cel": {"Cel": Conversion(), "[degF]": Conversion(1.0, 32.0, 1.8)},
    "d": {"d": Conversion(), "wk": Conversion(7.0)},
    "mg/dL": {
        "mg/dL": Conversion(),
    },
    "/min": {"/min": Conversion()},
    "%": {"%": Conversion()},
    "h": {"h": Conversion()},
    "min": {
        "min": Conversion(),
        "h": Conversion(60.0),
        "s": Conversion(1.0, 0.0, 60.0),
    },
    "{score}": {"{score}": Conversion()},
}


# substance -> molar unit -> conversion to mg/dL
MOLAR: dict[str, dict[str, Conversion]] = {
    "glucose": {"mmol/L": Conversion(18.0156)},
    "bilirubin": {"umol/L": Conversion(1.0, 0.0, 17.104)},
}


def conversions(canonical: str, substance: str | None = None) -> dict[str, Conversion]:
    """Return how each unit that can be brought to ``canonical`` is; of a substance its molar."""
    known = CONVERSIONS.get(canonical, {canonical: Conversion()})
    return {**known, **MOLAR.get(substance or "", {})}


def conversion(
    where: str, canonical: str, recorded: str, substance: str | None = None
) -> Conversion:
    """Return how to bring ``recorded`` to ``canonical``, for a reading of ``substance``.

    Raises DeclarationError, with ``where`` in front, when the pair is not known.
    """
    known = conversions(canonical, substance)
    if recorded not in known:
        of = f" for {substance}" if substance else ""
        raise DeclarationError(
            f"{where}: unit '{recorded}' cannot be brought to '{canonical}'{of}."
            f"{nearest(recorded, known)}"
        )
    return known[recorded]
