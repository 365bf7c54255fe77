"""Plants the demo's stories into a unit's true record: one function for each kind of story.

A story that is a change, or its harm, is planted by the effects of the scenario; the others
alter single newborns here, after everything was drawn, so that a story switched off moves
nothing else.
"""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np
import pandas as pd

from pipelines.definitions.read_units import Unit
from synthetic_data.scenario import Bools, stream
from synthetic_data.stories import GAP, OUTLIER, SENTINEL, Story, of_unit

COLD_BELOW_C: Final = 36.5  # WHO lower edge, as in the measures of cold
TERM_DAYS, GROWN_G = 37 * 7, 2500
VACCINE, GLOBULIN = "hepatitis_b_vaccine", "hepatitis_b_immune_globulin"
TOLD_COLUMNS: Final = ("story", "newborn", "minutes", "value")
Events = dict[str, pd.DataFrame]


@dataclass(frozen=True)
class _Place:
    """A unit's newborns and events, and the random stream of one story."""

    babies: pd.DataFrame
    events: Events
    rng: np.random.Generator

    def born_from(self, story: Story) -> Bools:
        """Newborns born alive in or after the story's month, of its group."""
        start = np.datetime64(story.month, "M").astype("M8[s]")
        chosen = self.babies["live_birth"] & (self.babies["birth_month"] >= start)
        for column, value in story.group.items():
            chosen = chosen & (self.babies[column] == value)
        return np.asarray(chosen, dtype=bool)

    def some(self, newborns: pd.Index, share: float) -> pd.Index:
        """Draw a share of these newborns."""
        return newborns[self.rng.random(len(newborns)) < share]


def plant_stories(
    babies: pd.DataFrame, events: Events, unit: Unit, seed: int, stories: Iterable[Story]
) -> pd.DataFrame:
    """Plant the unit's stories in place; return whom each touched, with what was true.

    Columns: ``story`` (id), ``newborn`` (row of ``babies``), ``minutes`` and ``value``: of the
    reading that was left blank, or when the screen or the dose would have been.
    """
    found = []
    for story in of_unit(stories, unit):
        if story.kind in _PLANTED:
            place = _Place(babies, events, stream(seed, unit.id, "story", story.id))
            touched = _PLANTED[story.kind](place, story)
            found.append(touched.assign(story=story.id)[list(TOLD_COLUMNS)])
    return pd.concat(found, ignore_index=True) if found else pd.DataFrame(columns=TOLD_COLUMNS)


def _sentinel(place: _Place, story: Story) -> pd.DataFrame:
    """Make one newborn's mother positive, and the doses late: the first one who fits.

    Who fits: born in the unit at term, well, given the vaccine once, there until after the dose.
    """
    babies, dose = place.babies, place.events["dose"]
    own = dose[dose["kind"] == VACCINE].drop_duplicates("newborn", keep=False)
    given = own[own["status"] == "given"].dropna(subset="minutes").set_index("newborn")
    fits = place.born_from(story) & babies.index.isin(given.index)
    fits &= (babies["birth_place"] == "birth_room") & (babies["resuscitation"] == "none")
    fits &= (babies["gestational_age_days"] >= TERM_DAYS) & (babies["weight_g"] >= GROWN_G)
    fits &= (babies["disposition"] == "home") & (babies["stay"] > story.minutes + 60)
    fits &= babies["maternal_hepatitis_b"] == "negative"
    newborn = int(np.flatnonzero(fits)[0])
    babies.loc[newborn, "maternal_hepatitis_b"] = "positive"
    babies.loc[newborn, "maternal_hepatitis_b_minutes"] = np.nan  # known before the birth
    is_vaccine = (dose["newborn"] == newborn) & (dose["kind"] == VACCINE)
    was = float(dose.loc[is_vaccine, "minutes"].iloc[0])
    dose.loc[is_vaccine, "minutes"] = story.minutes
    globulin = dose[is_vaccine].copy()
    globulin["kind"], globulin["strength"] = GLOBULIN, None
    is_left = (globulin["site"] == "left_thigh").iloc[0]
    globulin["site"] = "right_thigh" if is_left else "left_thigh"
    place.events["dose"] = _in_order(pd.concat([dose, _like(globulin, dose)]))
    return pd.DataFrame({"newborn": [newborn], "minutes": [was], "value": [np.nan]})


def _like(rows: pd.DataFrame, table: pd.DataFrame) -> pd.DataFrame:
    """Give rows the types of a table, so that joining them keeps its categories."""
    return rows.astype(dict(table.dtypes))


def _in_order(rows: pd.DataFrame) -> pd.DataFrame:
    """Put event rows in order of newborn and time, as the generator does."""
    return rows.sort_values(["newborn", "minutes"], kind="stable", ignore_index=True)


def _silent_gap(place: _Place, story: Story) -> pd.DataFrame:
    """Leave out the readings of the time after arrival of newborns who arrived cold."""
    table = place.events["observation"]
    arrived = place.babies["arrival_minutes"].where(place.born_from(story))
    here = table.loc[table["kind"] == "temperature", ["newborn", "minutes", "value"]]
    since = here["minutes"] - arrived.to_numpy()[here["newborn"]]
    window = here[(since >= 0) & (since <= story.minutes)]
    first = window.sort_values(["newborn", "minutes", "value"]).drop_duplicates("newborn")
    cold = first[first["value"] < COLD_BELOW_C].set_index("newborn")
    blank = place.some(cold.index, story.size)
    gone = window.index[window["newborn"].isin(blank)]
    place.events["observation"] = table.drop(index=gone).reset_index(drop=True)
    blanked: pd.DataFrame = cold.loc[blank].reset_index()
    return blanked


def _outlier(place: _Place, story: Story) -> pd.DataFrame:
    """Move the heart screen of a share of one group, saturations and result, by some minutes."""
    own = pd.Index(np.flatnonzero(place.born_from(story)))
    touched = place.some(own, story.size)
    table, finding = place.events["observation"], place.events["finding"]
    is_screen = (table["kind"] == "oxygen_saturation") & table["newborn"].isin(touched)
    was = table[is_screen].drop_duplicates("newborn")
    for name in ("minutes", "charted_minutes"):
        table.loc[is_screen, name] += story.minutes
    is_result = (finding["kind"] == "heart_screen") & finding["newborn"].isin(touched)
    finding.loc[is_result, "minutes"] += story.minutes
    place.events["observation"], place.events["finding"] = _in_order(table), _in_order(finding)
    return was[["newborn", "minutes", "value"]]


_PLANTED: Final[Mapping[str, Callable[[_Place, Story], pd.DataFrame]]] = {
    SENTINEL: _sentinel,
    GAP: _silent_gap,
    OUTLIER: _outlier,
}
