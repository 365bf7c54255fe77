"""A mistake in a measure file is told with the file, the key and the nearest valid name."""

from pathlib import Path

import pytest

from pipelines.base.errors import DeclarationError
from pipelines.definitions.read_measures import read_measure, read_measures
from pipelines.drafts.measure import skeleton
from pipelines.stages.measure.worked_examples import mismatches

ID = "first_bath"


def write(folder: Path, old: str, new: str) -> Path:
    """Write the skeleton with one thing changed."""
    text = skeleton(ID)
    assert old in text, old
    path = folder / f"{ID}.sql"
    path.write_text(text.replace(old, new, 1), encoding="utf-8")
    return path


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ("question =", "qestion =", "key 'qestion' is not known. Did you mean 'question'"),
        ('kind = "proportion"', 'kind = "proportoin"', "kind 'proportoin'.*'proportion'"),
        ('direction = "higher"', 'direction = "hihger"', "direction 'hihger'.*'higher'"),
        ("at_most = 10080", "at_mots = 10080", "window 'at_mots'.*'at_most'"),
        ('"born_here"', '"born_hear"', "owner 'born_hear'.*'born_here'"),
        ('"born_here"', '"born_here_or_arrived"', "arrived_before .* goes with owner"),
        ('"born_here"', '"born_here"\narrived_before = 60', "arrived_before .* goes with owner"),
        ('"born_here"', '"present"\narrived_before = "3 h"', "must be a number of minutes"),
        ('"born_here"', '"born_here"\ngoing_home = "end"', "going_home 'end'.*'ends'"),
        (
            '"born_here"',
            '"born_here"\nexclude = ["died"]',
            "'died' is for the owner .* take it out",
        ),
        ('"born_here"', '"born_here"\nexclude = ["coolng"]', "exclude 'coolng'.*'cooling'"),
        ("balancing = []", 'balancing = ["first_bth"]', "balancing 'first_bth'.*'first_bath'"),
        ("because =", "becuase =", "examples.* key 'becuase' is not known.*'because'"),
        ("[[history]]\nversion =", "[[history]]\nvesion =", "history.*'vesion'.*'version'"),
        ("    bath.minutes,", "    bath.minutes as minuets,", "column 'minuets'.*'minutes'"),
        ("from mart.newborn as", "from mart.newborns as", "the select does not run"),
        ('kind = "proportion"', 'kind = "episode"', "kind = 'episode' needs the column 'item'"),
        ('kind = "proportion"', 'kind = "minutes"', "kind = 'minutes'.*has no window"),
        ('kind = "proportion"', 'kind = "descriptive"', "write 'neither'"),
        (
            'missing = "not_met"',
            'missing = "not_met"\nparameters = { spare = 1 }',
            "parameters 'spare' is read nowhere",
        ),
        (
            'missing = "not_met"',
            'missing = "not_met"\nparameters = { target = 1 }',
            "parameter 'target' is the engine's own",
        ),
        ('missing = "not_met"', 'missing = "not_met"\nlisted = "no"', "listed must be true"),
        ("A         | bath | 360", "X         | bath | 360", "'X' is not in given.admission"),
        ("record_id | kind | minutes", "record_id | knid | minutes", "'knid'.*'kind'"),
        (
            'because = "minute',
            'policy = { at_mots = 1 }\nbecause = "minute',
            "policy: no number 'at_mots'.*'at_most'",
        ),
    ],
)
def test_mistake_is_told_in_words(tmp_path: Path, old: str, new: str, message: str) -> None:
    path = write(tmp_path, old, new)
    with pytest.raises(DeclarationError, match=f"(?s){message}") as raised:
        read_measures(tmp_path)
        measure = read_measure(path)
        for example in measure.examples:
            mismatches(measure, example)
    if "given.admission" not in message and "knid" not in message:
        assert f"{ID}.sql" in str(raised.value)


def test_the_skeleton_itself_is_right(tmp_path: Path) -> None:
    measure = read_measure(write(tmp_path, "balancing", "balancing"))
    assert [mismatches(measure, example) for example in measure.examples] == [[]]


def test_a_newborn_twice_is_told(tmp_path: Path) -> None:
    join = "left join bath using (newborn_id)"
    path = write(tmp_path, join, f"cross join range(2)\n{join}")
    measure = read_measure(path)
    with pytest.raises(DeclarationError, match="rows repeat a newborn and item"):
        mismatches(measure, measure.examples[0])
