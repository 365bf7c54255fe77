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

from .tables import local_columns

BLANK, WRONG = 0.12, 0.02
# Minutes at and beside every edge of the shipped windows.
EDGES = [-20, 0, 1, 3, 5, 6, 10, 11, 15, 16, 20, 29, 30, 31, 40, 45, 59, 60, 61, 66, 90, 91]
EDGES += [119, 120, 121, 150, 240, 241, 300, 359, 360, 361, 719, 720, 721, 900, 1439, 1440, 1441]
EDGES += [1500, 1560, 1561, 2879, 2880, 2881, 3000, 3001]
LATER = [119, 120, 130, 240, 900, 1439, 1440, 1441, 2880, 2881, 3000, 4000, 10080, 10081, 20000]
# Fahrenheit and Celsius at and beside every edge of the shipped bands, and a few impossible.
FAHRENHEIT = ["89.5", "89.6", "89.7", "96.7", "96.8", "97.6", "97.7", "98.2", "99.5", "99.6", "150"]
CELSIUS = ["31.99", "32", "35.99", "36.0", "36.44", "36.5", "36.8", "37.5", "37.51", "38.4", "70"]
# Of kinds whose windows are longer than a few days: at and beside the edges of those.
MUCH_LATER = [600, 1439, 1440, 2880, 10080, 10081, 13000, 20160, 20161, 40320, 40321, 43200, 43201]
LATE_KINDS = {
    "blood_spot", "hearing_screen", "hearing_assessment", "rsv_antibody", "intensive_care",
    "phototherapy", "readmission", "fall", "collapse", "weight",
}  # fmt: skip
READINGS = {
    "heart_rate": ["109", "110", "140", "160", "161", "400"],
    "respiratory_rate": ["29", "30", "44", "44.5", "46", "60", "61", "200"],
    "glucose": ["20", "45", "60", "900"],
    "oxygen_saturation": ["90", "96", "98", "120"],
    "bilirubin": ["4", "7.5", "12", "70"],
    "weight": ["1395", "1350", "2325", "2250", "2976", "2880", "3100", "90"],
}
# The edges of the ranges at rest come up, and now and then a little more.
SETTLED = {
    "temperature": ["36.5", "36.8", "36.9", "37.0", "37.5", "36.8", "36.7", "37.51"],
    "heart_rate": ["110", "140", "150", "135", "160", "141", "142", "161"],
    "respiratory_rate": ["30", "44", "45", "46", "60", "40", "48", "61"],
}
NUMBERS = {
    "gestational_age_days": ["33+6", "34+0", "34+6", "35+0", "36+6", "37+0", "39+2", "39+2", "39"],
    "weight_g": ["1500", "1501", "1999", "2000", "2499", "2500", "3200", "4000", "4001", "90"],
    "length_cm": ["50", "38", "500"],
    "head_circumference_cm": ["34.5", "27", "3"],
    "birth_month": ["2025-02", "2025-11", "2026-01", "2026-02"],
    "birth_hour": ["0", "6", "7", "18", "19", "25"],
    "plurality": ["1", "2"],
    "amount": ["1", "0.9", "1.1", "0.89", "0.5", "0.45", "10", "x"],
    "amount_unit": ["mg", "mg", "mg", "ug", "mL", "spoon"],
    "quantity": ["15", "29", "30", "45", "59", "60", "90", "zz"],
    "told_role": ["paediatrician", "Nurse practitioner", "ward clerk"],
    "detail": ["bulging", "Sunken", "large", "cleft", "tuft"],
    "language": ["English", "Spanish"],
    "payer": ["Public", "Private"],
    "race_ethnicity": ["A", "B"],
}
WEIGHT_KG = ["1.5", "1.999", "2", "2.499", "3.2", "4.001", "3200"]
WEEKS_AND_DAYS = {"GA Weeks": ["33", "34", "35", "37", "39"], "GA Days": ["0", "6"]}


class Mess:
    """Draws one unit's export; the same seed gives the same files."""

    def __init__(self, unit_file: Path, seed: int) -> None:
        self.spec = tomllib.loads(unit_file.read_text(encoding="utf-8"))
        self.random = Random(f"{self.spec['id']} {seed}")
        # Draws of its own, which move no others.
        self.apart = Random(f"{self.spec['id']} {seed} apart")
        self.is_clock = self.spec["time"]["form"] == "clock"
        # Across the dates on which the oracle's units change their policies.
        self.birth = dt.datetime(2025, 1, 1)

    def _pick(self, choices: Sequence[str]) -> str:
        chance = self.random.random()
        if chance < BLANK:
            return ""
        return "zz9" if chance < BLANK + WRONG else self.random.choice(choices)

    def _time(self, column: str, kind: str = "") -> str:
        is_end = column in {"discharge_minutes", "end_minutes"}
        edges = MUCH_LATER if column == "minutes" and kind in LATE_KINDS else EDGES
        minutes = self.random.choice(LATER if is_end and self.random.random() < 0.7 else edges)
        if not self.is_clock:
            return self._pick([str(minutes)])
        at = self.birth + dt.timedelta(minutes=minutes)
        return self._pick([at.strftime("%m/%d/%Y %H:%M")])

    def _kind_of(self, take: Mapping[str, Any], line: Mapping[str, str]) -> str:
        """The canonical kind of the row that a line will give."""
        spec = take["columns"].get("kind", {})
        if "value" in spec:
            return str(spec["value"])
        found = self.spec["recodes"].get(spec.get("recode"), {}).get(line.get(spec.get("from")), "")
        return str(found["kind"] if isinstance(found, dict) else found)

    def _reading(self, spec: Any, kind: str) -> str:
        is_fahrenheit = isinstance(spec, dict) and spec.get("unit") == "[degF]"
        return self._pick(READINGS.get(kind, FAHRENHEIT if is_fahrenheit else CELSIUS))

    def _choices(self, column: str, name: str, spec: Any) -> Sequence[str]:
        """What a cell that is no time and no reading may say."""
        about = spec if isinstance(spec, dict) else {}
        if about.get("recode"):
            return [*self.spec["recodes"][about["recode"]]]
        if column.startswith("apgar"):
            return ["0", "5", "6", "7", "9", "10", "11"]
        by_unit = WEIGHT_KG if about.get("unit") == "kg" else NUMBERS.get(column, ())
        return WEEKS_AND_DAYS.get(name, by_unit)

    def _cell(self, column: str, name: str, spec: Any, kind: str) -> str:
        if column.endswith("minutes"):
            return self._time(column, kind)
        if column == "value":
            return self._reading(spec, kind)
        choices = self._choices(column, name, spec)
        return self._pick(choices) if choices else ""

    def _line(self, file: Mapping[str, Any], key: str) -> dict[str, str]:
        line: dict[str, str] = {}
        for take in file["takes"]:
            for column, spec in take["columns"].items():
                origin = spec if isinstance(spec, str) else spec.get("from", ())
                for name in [origin] if isinstance(origin, str) else origin:
                    is_key = column == "record_id"
                    kind = self._kind_of(take, line)
                    line[name] = key if is_key else self._cell(column, name, spec, kind)
        return line

    def _rounds(self, file: Mapping[str, Any], key: str) -> list[dict[str, str]]:
        """Rounds of temperature, heart rate and breaths, mostly in range, of a long file.

        Drawn apart they would hardly ever make a set, and never two hours of sets.
        """
        columns = file["takes"][0]["columns"]
        lines, minute = [], 0
        steps = self.random.choice([[25, 30], [30, 35], [30, 35, 36]])
        for _ in range(self.random.randint(1, 9)):
            minute += self.random.choice(steps)
            for kind, values in SETTLED.items():
                later = minute + self.random.choice([0, 0, 0, 5, 10, 11])
                at = (self.birth + dt.timedelta(minutes=later)).strftime("%m/%d/%Y %H:%M")
                line = dict.fromkeys(local_columns(file), "")
                line[columns["record_id"]] = key
                line[columns["kind"]["from"]] = self._local(columns["kind"]["recode"], kind)
                line[columns["minutes"]] = at if self.is_clock else str(later)
                line[columns["value"]["from"]] = self.random.choice(values)
                lines.append(line)
        return lines

    def _before_leaving(self, file: Mapping[str, Any], key: str) -> list[dict[str, str]]:
        """Void, stool and a visit of one newborn in a long file: apart they hardly ever meet."""
        columns, lines = file["takes"][0]["columns"], []
        for kind in ("first_void", "first_stool", "follow_up_arranged"):
            minutes = self.apart.choice([0, 30, 60, 120, 1440, 3001])
            at = (self.birth + dt.timedelta(minutes=minutes)).strftime("%m/%d/%Y %H:%M")
            line = dict.fromkeys(local_columns(file), "")
            line[columns["record_id"]] = key
            line[columns["kind"]["from"]] = self._local(columns["kind"]["recode"], kind)
            line[columns["minutes"]] = at if self.is_clock else str(minutes)
            if self.apart.random() < 0.1:
                line[columns["minutes"]] = "zz9"
            lines.append(line)
        return lines

    def _local(self, recode: str, kind: str) -> str:
        """A local word for a canonical kind."""
        words: Mapping[str, Any] = self.spec["recodes"][recode]
        kinds = {
            word: said["kind"] if isinstance(said, dict) else said for word, said in words.items()
        }
        return next(word for word, said in kinds.items() if said == kind)

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
            ("HBsAg known at", ""),
            ("HepB Known Min", ""),
        ):
            if name in line and self.random.random() < 0.8:
                line[name] = usual
        if "Eyes" in line and self.random.random() < 0.3:
            line |= {"Eyes": "Given", "Eyes Route": "Eye", "Eyes Which": "Both"}
        return line

    def write(self, folder: Path, newborns: int) -> None:
        """Write one file per pattern; a long file has up to two dozen lines per newborn."""
        folder.mkdir(parents=True, exist_ok=True)
        lines: dict[str, list[dict[str, str]]] = {
            file["pattern"]: [] for file in self.spec["files"]
        }
        for number in range(newborns):
            self.birth += dt.timedelta(minutes=self.random.choice([70, 110, 250, 2500]))
            for file in self.spec["files"]:
                is_admission = file["takes"][0]["table"] == "admission"
                many = 1 if is_admission else self.random.randint(0, 24)
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
                is_flowsheet = file["takes"][0]["table"] == "observation"
                if is_flowsheet and self.random.random() < 0.5:
                    lines[file["pattern"]] += self._rounds(file, f"N{number:04d}")
                is_care = [take["table"] for take in file["takes"]] == ["care"]
                if is_care and self.apart.random() < 0.2:
                    lines[file["pattern"]] += self._before_leaving(file, f"N{number:04d}")
        for file in self.spec["files"]:
            path = folder / file["pattern"].replace("*", "")
            with path.open("w", encoding="utf-8", newline="") as handle:
                delimiter = file.get("delimiter", ",")
                writer = csv.DictWriter(handle, local_columns(file), delimiter=delimiter)
                writer.writeheader()
                writer.writerows(lines[file["pattern"]])
