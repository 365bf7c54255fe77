"""What the rules make of planted faults: caught, suggested rightly, and false alarms beside.

The ledger is the outside truth: the generator writes it and knows nothing of the rules.
"""

import math
import re
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

import pandas as pd

from pipelines.base.store_file import open_store
from pipelines.build.every_stage import build_store
from pipelines.definitions.read_contract import read_contract
from pipelines.definitions.read_units import find_unit
from synthetic_data import read_scenario, write_demo
from synthetic_data.demo import DEMO_UNITS
from synthetic_data.scenario import Scenario

CELL = ["unit", "source_file", "source_line", "column_name"]
BANDS = ("24 to 32", "33 to 36", "37 to 42")
# Whole rows, not values: they are rejected, not flagged.
ROW_FAULTS = {"duplicate_record_exact", "duplicate_record_conflicting", "orphan_event"}
# True local times of the hour that the autumn clock shows twice; nothing about them is wrong,
# and which of the two hours is meant cannot be known from the export.
NO_FAULT = {"clock_hour_shown_twice"}
# Faults with one true value behind them that a suggestion can name.
SLIP = re.compile(
    r"^(weight|length|head)_(x10|div10|.*_as_.*|comma|with_unit|pounds_and_ounces)$"
    r"|^temperature_(?!jump)|^head_length_swapped$"
)
ALWAYS = re.compile(
    r"^(weight|length|head)_(x10|div10|(g|kg|oz|inch|mm)_as_.*)$|^temperature_fahr|^temperature_cel"
    r"|^head_length_swapped$|^before_birth"
)
# Entries that contradict others, or whose own text says the cause: the record can tell.
CONTRADICTIONS = {
    "stillborn_with_signs", "died_then_charted", "arrival_after_leaving", "size_after_leaving",
    "left_room_after_arrival", "stay_of_a_year", "birth_a_day_late", "birth_a_day_early",
    "birth_a_year_early", "apgar_noughts", "apgar_steep_fall", "compressions_beside_nines",
    "twin_missing", "weight_pounds_and_ounces", "weight_comma", "temperature_comma",
    "length_with_unit", "gestation_point", "saturation_fraction", "glucose_mmol",
    "temperature_jump", "one_rate_all_day", "entry_a_year_late", "entry_a_year_early",
    "forward_12_hours_beyond_stay",
    "forward_a_day_beyond_stay", "forward_12_hours_charted", "at_birth_12_hours_late",
    "all_at_one_minute", "all_at_minute_zero", "charted_in_one_go", "vaccine_by_mouth",
    "ointment_into_thigh", "vitamin_k_into_eyes", "vaccine_volume_x10", "vaccine_in_centimetres",
    "vaccine_adult_presentation", "cord_clamp_one_second", "cord_clamp_an_hour",
    "contact_after_leaving", "moved_before_arrival", "told_before_found", "dose_given_twice",
    "dose_declined_and_given", "globulin_of_negative", "newborn_under_two_keys",
}  # fmt: skip
# Most twins are too alike to tell, and within the stay nothing speaks against another hour.
SELDOM_TOLD = {"twin_weights_exchanged", "forward_12_hours_untold"}
POUNDS = {"37 to 42": 0.99, "33 to 36": 0.80, "24 to 32": 0.50}
MONTHS = 24
FAULTS_TIMES, WEIGHT_UNIT_TIMES = 6, 20
LEAST_SHARE = 0.0015  # of newborns for each kind, so that a recall can be told


def needed_share(fault: str, band: str) -> float | None:
    """Return the least share of planted faults to be caught, where one is asked for."""
    if fault == "head_against_length":
        return 1.0
    if fault == "weight_lb_as_kg":
        return POUNDS[band]
    return 0.99 if ALWAYS.match(fault) or fault in CONTRADICTIONS else None


def is_reached(caught: int, planted: int, share: float) -> bool:
    """Whether the share is reached, or chance alone explains that it is not (1 in 1,000)."""
    if caught >= share * planted:
        return True
    if share == 1:
        return False
    up_to = sum(
        math.comb(planted, k) * share**k * (1 - share) ** (planted - k) for k in range(caught + 1)
    )
    return up_to > 0.001


def scenario_of_every_week() -> Scenario:
    """Half the newborns born at 24 to 36 weeks, evenly, and many faults of every kind."""
    shipped = read_scenario()
    usual = {int(week): share for week, share in shipped["gestation"]["single"].items()}
    term = sum(share for week, share in usual.items() if week >= 37)
    single = {str(week): 0.5 / 13 if week <= 36 else 0.5 * usual[week] / term for week in usual}
    faults = {
        name: share if name == "at_least" else max(share * FAULTS_TIMES, LEAST_SHARE)
        for name, share in shipped["faults"].items()
    }
    faults["wrong_unit_weight"] = shipped["faults"]["wrong_unit_weight"] * WEIGHT_UNIT_TIMES
    gestation = {**shipped["gestation"], "single": single}
    return Scenario({**shipped.numbers, "gestation": gestation, "faults": faults})


@dataclass(frozen=True)
class Score:
    """Ledger and store of one run over both shipped units."""

    ledger: pd.DataFrame
    store: Path

    def query(self, sql: str) -> pd.DataFrame:
        with open_store(self.store) as store:
            return store.execute(sql).df()

    @cached_property
    def flags(self) -> pd.DataFrame:
        """Every flag on a value; ``source_line`` as text, as in the ledger."""
        found = self.query("select * from flag where record_id is not null")
        return found.assign(source_line=found["source_line"].astype("Int64").astype("str"))

    @cached_property
    def cells(self) -> pd.DataFrame:
        """One row per planted value: the ledger, ``band``, ``caught``, ``severity``, ``named``,
        ``first`` (the truth is among the suggestions, the truth is the first of them)."""
        planted = self.ledger[~self.ledger["fault"].isin(ROW_FAULTS | NO_FAULT)]
        told = self.flags.groupby(CELL, dropna=False).agg(
            severity=("severity", "min"), suggestion=("suggestion", _joined)
        )
        cells = planted.merge(told.reset_index(), on=CELL, how="left")
        cells["caught"] = cells["severity"].notna()
        cells["caught"] = caught_as_pair(cells, cells["caught"])
        cells = cells.merge(self._bands(), on=["unit", "record_id"], how="left")
        truth = [_true_value(*row) for row in cells[["unit", "column_name", "true_value"]].values]
        pairs = list(zip(truth, cells["suggestion"], cells["column_name"], strict=True))
        cells["named"] = [_says(text, value, column, False) for value, text, column in pairs]
        cells["first"] = [_says(text, value, column, True) for value, text, column in pairs]
        return cells

    def _bands(self) -> pd.DataFrame:
        babies = self.query(
            "select unit, record_id, gestational_age_days // 7 as week from typed.admission"
        )
        # A planted gestation is read from the truth.
        wrong = self.ledger[self.ledger["column_name"] == "gestational_age_days"]
        weeks = wrong.set_index(["unit", "record_id"])["true_value"].str[:2].astype(float)
        keyed = babies.set_index(["unit", "record_id"])["week"].astype(float)
        keyed.update(weeks)
        band = pd.cut(keyed, [0, 32, 36, 99], labels=list(BANDS))
        return band.rename("band").reset_index()

    def caught(self) -> pd.DataFrame:
        """Return caught and planted by fault (rows) and band (columns), as two-level columns."""
        counts = self.cells.groupby(["fault", "band"], observed=False)["caught"]
        frame = counts.agg(caught="sum", planted="count").unstack("band")
        return frame.swaplevel(axis="columns").sort_index(axis="columns")

    def suggestions(self) -> pd.DataFrame:
        """Return, by kind of slip: caught, truth named first, truth named at all."""
        slips = self.cells[self.cells["fault"].str.match(SLIP) & self.cells["caught"]]
        return slips.groupby("fault").agg(
            caught=("caught", "sum"), first=("first", "sum"), named=("named", "sum")
        )

    @cached_property
    def clean_flags(self) -> pd.DataFrame:
        """Every flag on a value of a newborn without a planted fault."""
        touched = self.ledger.set_index(["unit", "record_id"]).index
        # The first twin of a pair with copied sizes bears the flag of the second. So does the
        # record beside which a newborn stands again.
        flags = self.flags[~self.flags["rule_id"].isin({"identical_twins", "same_newborn_twice"})]
        return flags[~flags.set_index(["unit", "record_id"]).index.isin(touched)]

    def false_positives_by_rule(self) -> pd.DataFrame:
        """Return, by rule and table: error and query flags on newborns without a fault, and both
        per 10,000 recorded cells of the columns that it flagged."""
        cells = self.false_positives()["cells"]
        flags = self.clean_flags[self.clean_flags["severity"] != "note"]
        keys = ["rule_id", "table_name"]
        counted = flags.groupby([*keys, "severity"]).size().unstack("severity", fill_value=0)
        counted = counted.reindex(columns=["error", "query"], fill_value=0)
        columns = flags[[*keys, "column_name"]].drop_duplicates()
        places = columns[["table_name", "column_name"]].itertuples(index=False, name=None)
        columns = columns.assign(cells=[int(cells[place]) for place in places])
        whole = counted.join(columns.groupby(keys)["cells"].sum())
        for severity in ("error", "query"):
            whole[f"{severity}_per_10_000"] = 1e4 * whole[severity] / whole["cells"]
        return whole

    def false_positives(self) -> pd.DataFrame:
        """Return, by table and column: recorded cells of newborns without a fault, the error and
        query flags on them, and both per 10,000 cells."""
        with open_store(self.store).cursor() as store:
            store.register("touched_row", self.ledger[["unit", "record_id"]].drop_duplicates())
            frames = []
            for table in ("admission", "observation", "dose", "care", "finding"):
                names = [column.name for column in read_contract()[table].stored_columns]
                counts = ", ".join(f"count({name}) as {name}" for name in names)
                row = store.execute(
                    f"select {counts} from typed.{table} "
                    "anti join touched_row using (unit, record_id)"
                ).df()
                cells = row.iloc[0].rename("cells").rename_axis("column_name").reset_index()
                frames.append(cells.assign(table_name=table))
        keys = ["table_name", "column_name"]
        counted = self.clean_flags.groupby([*keys, "severity"]).size()
        counted = counted.unstack("severity", fill_value=0)
        counted = counted.reindex(columns=["error", "query"], fill_value=0)
        whole = pd.concat(frames).merge(counted.reset_index(), on=keys, how="left").fillna(0)
        whole = whole[whole["cells"] > 0].set_index(keys).astype({"error": int, "query": int})
        whole["error_per_10_000"] = 1e4 * whole["error"] / whole["cells"]
        whole["query_per_10_000"] = 1e4 * whole["query"] / whole["cells"]
        return whole


def caught_as_pair(planted: pd.DataFrame, caught: pd.Series) -> pd.Series:
    """Return what was caught, by planted cell; of two false sizes of one newborn either will do.

    The weight may tell which of them does not fit: a person sees the newborn all the same.
    """
    either = caught.groupby([planted["unit"], planted["record_id"]]).transform("any")
    return caught.mask(planted["fault"] == "head_against_length", either)


def _joined(texts: pd.Series) -> str | None:
    return "; ".join(texts.dropna()) or None


def _true_value(unit: str, column: str, text: str) -> float | None:
    """Return the truth in the contract's unit; only Tansy Ridge writes kilograms, Fahrenheit."""
    try:
        number = float(text)
    except ValueError:
        return None
    if unit == "tansy_ridge" and column == "weight_g":
        return number * 1000
    if unit == "tansy_ridge" and column == "value":
        return (number - 32) / 1.8
    return number


def _says(text: str | None, truth: float | None, column: str, only_first: bool) -> bool:
    """Whether the suggestion names the truth, up to what is lost in writing the other unit."""
    if not isinstance(text, str) or truth is None:
        return False
    numbers = [
        float(n.replace(",", "")) for n in re.findall(r"([\d,]+(?:\.\d+)?) (?:g|cm|°C)\b", text)
    ]
    near = {"weight_g": 0.006 * truth, "value": 0.06}.get(column, 0.06)
    close = [abs(number - truth) <= near for number in numbers]
    return any(close[:1] if only_first else close)


def run(folder: Path, newborns: int, seed: int = 3) -> Score:
    """Write both units' exports, about ``newborns`` in all, with planted faults; build; score."""
    per_month = newborns / MONTHS / len(DEMO_UNITS)
    written = write_demo(
        folder,
        seed=seed,
        n_months=MONTHS,
        births_per_month=per_month,
        scenario=scenario_of_every_week(),
    )
    sources = [(find_unit(unit), written.exports[unit]) for unit in DEMO_UNITS]
    ledger = pd.concat(
        pd.read_csv(path, dtype="str", keep_default_na=False) for path in written.ledgers.values()
    )
    return Score(ledger, build_store(sources, folder / "store.duckdb").store)
