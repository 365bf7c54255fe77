"""``python -m synthetic_data``: write synthetic exports into a folder."""

import argparse
import re
import sys
from pathlib import Path

from pipelines.base.errors import LanugoError
from pipelines.definitions.read_units import find_unit
from synthetic_data.demo import DEMO_UNITS, write_demo
from synthetic_data.fhir import write_fhir
from synthetic_data.generate import START
from synthetic_data.scenario import read_scenario


def _month(text: str) -> str:
    if not re.fullmatch(r"\d{4}-(0[1-9]|1[0-2])", text):
        raise argparse.ArgumentTypeError(f"'{text}' is not a month; write it as 2024-11.")
    return text


def _positive(text: str) -> int:
    number = int(text) if text.isdecimal() else 0
    if number < 1:
        raise argparse.ArgumentTypeError(f"'{text}' is not a whole number above 0.")
    return number


def _seed(text: str) -> int:
    if not text.isdecimal():
        raise argparse.ArgumentTypeError(f"'{text}' is not a whole number from 0 on.")
    return int(text)


def parser() -> argparse.ArgumentParser:
    """Return the parser of the command's options."""
    options = argparse.ArgumentParser(
        prog="python -m synthetic_data",
        description=(
            "Write exports of invented newborns, in the shape that a unit file describes. "
            "Exports go to OUT/exports/<unit>, the list of planted faults to OUT/ledger/<unit>.csv."
        ),
        epilog="No row describes a real newborn. The same seed and options write the same bytes.",
    )
    options.add_argument("--out", type=Path, required=True, help="folder to write into")
    options.add_argument("--seed", type=_seed, default=1, help="number that fixes every draw (1)")
    options.add_argument(
        "--unit", action="append", metavar="ID|PATH",
        help=f"a shipped unit's id or a unit file; may be repeated ({' and '.join(DEMO_UNITS)})",
    )  # fmt: skip
    options.add_argument(
        "--start", type=_month, default=START, help=f"first month, YYYY-MM ({START})"
    )
    options.add_argument("--months", type=_positive, default=24, help="number of whole months (24)")
    options.add_argument(
        "--births-per-month", type=_positive, default=250, help="newborns a month, about (250)"
    )
    options.add_argument("--scenario", type=Path, help="TOML file laid over the shipped scenario")
    options.add_argument(
        "--fhir", action="store_true",
        help="also write the newborns of units with clock times as HL7 FHIR R4 (OUT/fhir/<unit>)",
    )  # fmt: skip
    return options


def main(argv: list[str] | None = None) -> int:
    """Run the command; return its exit code."""
    given = parser().parse_args(argv)
    try:
        units = [find_unit(unit) for unit in given.unit or DEMO_UNITS]
        written = write_demo(
            given.out,
            given.seed,
            lambda line: print(line, file=sys.stderr),  # noqa: T201
            units=units,
            start=given.start,
            n_months=given.months,
            births_per_month=given.births_per_month,
            scenario=read_scenario(given.scenario),
        )
        in_fhir = [unit for unit in units if given.fhir and unit.time_form == "clock"]
        for one in in_fhir:
            write_fhir(one, written.exports[one.id], given.out / "fhir" / one.id)
    except LanugoError as error:
        print(error, file=sys.stderr)  # noqa: T201
        return error.exit_code
    for unit, folder in written.exports.items():
        print(f"{unit}: {written.newborns[unit]} newborns in {folder}")  # noqa: T201
    for one in in_fhir:
        print(f"{one.id}: the same in {given.out / 'fhir' / one.id}")  # noqa: T201
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
