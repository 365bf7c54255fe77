"""What leaves the unit: no record, no small number, and nothing by subtraction of two releases."""

import csv
import json
import re
from pathlib import Path

import pandas as pd
import pytest

from pipelines.base.errors import StoreError
from pipelines.base.store_file import open_store
from pipelines.definitions.states import COUNTS
from pipelines.release.ledger import Entry, ReleaseRefused, read_ledger
from pipelines.release.made import Release
from pipelines.release.masking import Masked, Rule, hidden_words, protect
from pipelines.release.prepare import _published, _read, _with_earlier, prepare_release
from pipelines.release.rows import choose_grain, every_period, rows_to_release
from pipelines.release.write import write_release
from tests.disclosure.conftest import UNIT, Loads

K = 11


@pytest.fixture(scope="module")
def ledger(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("ledger")


@pytest.fixture(scope="module")
def first(loads: Loads, ledger: Path) -> Release:
    return prepare_release(loads.before, UNIT, ledger=ledger)


@pytest.fixture(scope="module")
def written(first: Release, tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("out") / "release"
    write_release(first, folder)
    return folder


def rows(path: Path) -> list[dict[str, str]]:
    with path.open(newline="", encoding="utf-8") as stream:
        return list(csv.DictReader(stream))


def test_no_record_leaves(written: Path, ledger: Path, loads: Loads) -> None:
    with open_store(loads.before) as store:
        records = {row[0] for row in store.execute("select record_id from newborn").fetchall()}
    assert len(records) > 1000
    words = set()
    for path in [*written.iterdir(), *ledger.iterdir()]:
        words |= set(re.split(r"[^\w-]+", path.read_text(encoding="utf-8")))
    assert len(words) > 500
    assert not records & words


def test_no_small_count_is_in_a_released_table(written: Path) -> None:
    table = [*rows(written / "results.csv"), *rows(written / "strata.csv")]
    counts = [row[name] for row in table for name in COUNTS if row.get(name)]
    shown = [int(one) for one in counts if one != hidden_words(K)]
    assert len(shown) > 200
    assert hidden_words(K) in counts
    assert not [one for one in shown if 1 <= one < K]


def test_a_hidden_row_has_no_rate(written: Path) -> None:
    table = [*rows(written / "results.csv"), *rows(written / "strata.csv")]
    masked = hidden_words(K)
    hidden = [row for row in table if row["is_hidden"] == "True"]
    assert hidden
    for row in hidden:
        assert masked in (row["numerator"], row["not_in_numerator"])
        assert [row[name] for name in ("rate", "lower", "upper", "words")] == [masked] * 4
    for row in table:
        if row["is_hidden"] == "False":
            assert masked not in (row["numerator"], row["not_in_numerator"], row["rate"])


def test_every_measure_says_its_period_and_why(first: Release) -> None:
    measures = first.frames["measures"]
    assert measures["grain"].isin(["month", "quarter", "all"]).all()
    coarser = measures[measures["grain"] != "month"]
    assert coarser["words"].str.contains("would be hidden").all()
    kinds = first.frames["results"].groupby("measure_id")["period_kind"].agg(set)
    for one in measures.itertuples():
        assert kinds[one.measure_id] == {one.grain, "all"}


def test_the_ledger_knows_what_was_released(written: Path, ledger: Path) -> None:
    (entry,) = read_ledger(ledger, UNIT)
    about = json.loads((written / "about.json").read_text())
    assert entry.line["counts_sha256"] == about["counts_sha256"] == entry.line["published_sha256"]
    assert entry.line["threshold"] == K
    assert len(entry.published) == about["counts_shown"]
    assert entry.published["count"].ge(0).all()


def test_the_same_numbers_may_be_released_again(
    written: Path, first: Release, ledger: Path, loads: Loads
) -> None:
    assert written.exists()
    again = prepare_release(loads.before, UNIT, ledger=ledger)
    assert again.line == first.line


def test_a_release_that_differs_by_few_newborns_is_refused(
    written: Path, ledger: Path, loads: Loads
) -> None:
    """Three newborns came late: subtracted from the first release they would stand alone."""
    assert written.exists()
    with pytest.raises(ReleaseRefused, match=r"fewer than 11 .*(?s:.*)Wait until more") as refused:
        prepare_release(loads.now, UNIT, ledger=ledger)
    assert not [one for one in loads.added if one in str(refused.value)]
    assert prepare_release(loads.now, UNIT).line["counts_shown"] > 0  # nothing against it alone


def entry_of(rows: pd.DataFrame, masked: Masked) -> Entry:
    """What a release of these rows would have entered in a ledger."""
    offered = rows["is_offered"].to_numpy(bool)
    published = _published(rows[offered].reset_index(drop=True), masked.hidden[offered])
    return Entry({"number": 1, "released_at": "2026-01-01"}, published)


def test_a_longer_whole_does_not_give_the_new_month_away(loads: Loads) -> None:
    """The whole of 12 months less the whole of 11, released before, is the twelfth month."""
    rule, keys = Rule(K), ["measure_id", "stratifier", "stratum"]
    counts = _read(loads.now, UNIT)[0]
    some = sorted(counts["measure_id"].unique())[::4]  # every measure would take a minute
    counts = counts[(counts["stratifier"] == "all newborns") & counts["measure_id"].isin(some)]
    last = counts.loc[counts["period_kind"] == "month", "period_start"].max()
    every = every_period(counts)
    earlier = every_period(counts[counts["period_start"] < last])
    grain = choose_grain(every, rule, "all")
    before = rows_to_release(earlier, grain, rule)
    entry = entry_of(before, protect(before, rule))

    def new_wholes(entries: list[Entry]) -> pd.DataFrame:
        rows, known = _with_earlier(rows_to_release(every, grain, rule), every, entries, rule)
        return entry_of(rows, protect(rows, rule, known)).published

    def months_read(new: pd.DataFrame) -> pd.Series:
        whole = new.merge(entry.published, on=[*keys, "column"], suffixes=("", "_before"))
        return whole["count"] - whole["count_before"]

    assert months_read(new_wholes([])).between(1, K - 1).any()  # without a ledger: read at once
    safe = months_read(new_wholes([entry]))
    assert len(safe)
    assert not safe.between(1, K - 1).any()


def test_a_ledger_that_was_tampered_with_stops_the_release(
    written: Path, ledger: Path, loads: Loads, tmp_path: Path
) -> None:
    assert written.exists()
    for path in ledger.iterdir():
        (tmp_path / path.name).write_bytes(path.read_bytes())
    published = next(tmp_path.glob("published_*.csv"))
    published.write_text(published.read_text() + "x")
    with pytest.raises(ReleaseRefused, match="restore both"):
        prepare_release(loads.before, UNIT, ledger=tmp_path)


def test_a_release_prepared_before_another_was_written_is_refused(
    first: Release, written: Path, tmp_path: Path
) -> None:
    assert written.exists()
    with pytest.raises(ReleaseRefused, match="has grown since"):
        write_release(first, tmp_path / "late")
    assert not (tmp_path / "late").exists()


def test_a_folder_in_use_is_left_alone(first: Release, written: Path) -> None:
    with pytest.raises(ReleaseRefused, match="holds something already"):
        write_release(first, written)


def test_an_unknown_unit_or_measure_names_the_nearest(loads: Loads) -> None:
    with pytest.raises(StoreError, match="Did you mean 'quillmere'"):
        prepare_release(loads.before, "quilmere")
    with pytest.raises(ReleaseRefused, match="Did you mean 'vitamin_k'"):
        prepare_release(loads.before, UNIT, rule=Rule(sensitive=("vitamin_c",)))
