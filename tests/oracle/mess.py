"""Made-up exports that no unit would write: every field drawn apart, edges drawn often.

The synthetic data are plausible, so rare pairings (a refusal beside a dose without a time,
a check of bands by a newborn with no leaving time) hardly occur in them. Here they do.
"""

import csv
import datetime as dt
import tomllib
from collections.abc import Mapping, Sequence
from pathlib import Path
from random import Random
from typing import Any

from .reader import PIPELINES
from .tables import local_columns

BLANK, WRONG = 0.12, 0.02
# Minutes at and beside every edge of the shipped windows.
EDGES = [-20, 0, 1, 3, 5, 6, 10, 15, 16, 20, 29, 30, 31, 40, 45, 59, 60, 61, 90, 91, 119, 120]
EDGES += [121, 150, 240, 241, 300, 359, 360, 361, 719, 720, 721, 900, 1439, 1440, 1441, 1500]
# Fahrenheit and Celsius at and beside every edge of the shipped bands, and a few impossible.
FAHRENHEIT = ["89.5", "89.6", "89.7", "96.7", "96.8", "97.6", "97.7", "98.2", "99.5", "99.6", "150"]
CELSIUS = ["31.99", "32", "35.99", "36.0", "36.44", "36.5", "36.8", "37.5", "37.51", "38.4", "70"]
NUMBERS = {
    "Gestation": ["34+6", "35+0", "39+2", "40+0", "39"],
    "GA Weeks": ["34", "35", "39"],
    "GA Days": ["0", "6"],
    "Weight g": ["1999", "2000", "3200", "90"],
    "Weight kg": ["1.999", "2", "3.2", "3200"],
    "Length cm": ["50", "38", "500"],
    "Head cm": ["34.5", "27", "3"],
    "HC cm": ["34.5", "27", "3"],
    "Birth Month": ["2025-11", "2026-01", "2026-02"],
    "Babies": ["1", "2"],
    "Number Born": ["1", "2"],
}


class Mess:
    """Draws one unit's export; the same seed gives the same files."""

    def __init__(self, unit: str, seed: int) -> None:
        path = PIPELINES / "units" / f"{unit}.toml"
        self.spec = tomllib.loads(path.read_text(encoding="utf-8"))
        self.random = Random(f"{unit} {seed}")
        self.is_clock = self.spec["time"]["form"] == "clock"
        self.birth = dt.datetime(2025, 11, 1)

    def _pick(self, choices: Sequence[str]) -> str:
        chance = self.random.random()
        if chance < BLANK:
            return ""
        return "zz9" if chance < BLANK + WRONG else self.random.choice(choices)

    def _time(self) -> str:
        minutes = self.random.choice(EDGES)
        if not self.is_clock:
            return self._pick([str(minutes)])
        at = self.birth + dt.timedelta(minutes=minutes)
        return self._pick([at.strftime("%m/%d/%Y %H:%M")])

    def _cell(self, table: str, column: str, name: str, spec: Any) -> str:
        recode = spec.get("recode") if isinstance(spec, dict) else None
        if recode:
            return self._pick([*self.spec["recodes"][recode]])
        if column.endswith("minutes"):
            return self._time()
        if name in NUMBERS:
            return self._pick(NUMBERS[name])
        if column == "value" and isinstance(spec, dict):
            return self._pick(FAHRENHEIT if spec["unit"] == "[degF]" else CELSIUS)
        if column.startswith("apgar"):
            return self._pick(["0", "7", "9", "10", "11"])
        return ""

    def _line(self, file: Mapping[str, Any], key: str) -> dict[str, str]:
        line: dict[str, str] = {}
        for take in file["takes"]:
            for column, spec in take["columns"].items():
                origin = spec if isinstance(spec, str) else spec.get("from", ())
                for name in [origin] if isinstance(origin, str) else origin:
                    is_key = column == "record_id"
                    line[name] = key if is_key else self._cell(take["table"], column, name, spec)
        return line

    def _soften(self, line: dict[str, str]) -> dict[str, str]:
        """Most newborns are born alive, in the unit, and stay: else nearly all are excluded."""
        for name, usual in (
            ("Outcome", "live birth"),
            ("Live", "Yes"),
            ("Room of birth", "birth room"),
            ("Born In", "Room"),
            ("Went to", "home"),
            ("Left To", "Home"),
            ("Cooling Start", ""),
            ("Comfort Plan", ""),
            ("Breathing help", "none"),
            ("Resus", "No"),
        ):
            if name in line and self.random.random() < 0.8:
                line[name] = usual
        if "Eyes" in line and self.random.random() < 0.3:
            line |= {"Eyes": "Given", "Eyes Route": "Eye", "Eyes Which": "Both"}
        return line

    def write(self, folder: Path, newborns: int) -> None:
        """Write one file per pattern; a long file has up to a dozen lines per newborn."""
        folder.mkdir(parents=True, exist_ok=True)
        lines: dict[str, list[dict[str, str]]] = {
            file["pattern"]: [] for file in self.spec["files"]
        }
        for number in range(newborns):
            self.birth += dt.timedelta(minutes=self.random.choice([70, 110, 250]))
            for file in self.spec["files"]:
                is_admission = file["takes"][0]["table"] == "admission"
                many = 1 if is_admission else self.random.randint(0, 12)
                kind = file["takes"][0]["columns"].get("kind", {}).get("from")
                last = ""
                for _ in range(many):
                    line = self._soften(self._line(file, f"N{number:04d}"))
                    if kind and last and self.random.random() < 0.4:
                        line[kind] = last  # several rows of one kind: first, latest, any
                    last = line[kind] if kind else ""
                    if "Born at" in line:
                        line["Born at"] = self.birth.strftime("%m/%d/%Y %H:%M")
                    lines[file["pattern"]].append(line)
        for file in self.spec["files"]:
            path = folder / file["pattern"].replace("*", "")
            with path.open("w", encoding="utf-8", newline="") as handle:
                delimiter = file.get("delimiter", ",")
                writer = csv.DictWriter(handle, local_columns(file), delimiter=delimiter)
                writer.writeheader()
                writer.writerows(lines[file["pattern"]])
