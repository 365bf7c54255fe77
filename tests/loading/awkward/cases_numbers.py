"""Numbers: marks, codes for nothing, units in parts and beside one another, gestation."""

from tests.loading.awkward.truth import (
    NEWBORNS,
    Case,
    Newborn,
    csv_case,
    rows,
    text,
    unit,
    weeks_days,
)

COMMA = '[locale]\ndecimal = ","'
GERMAN = '[locale]\ndecimal = ","\nthousands = "."'
KEYS = [one.key for one in NEWBORNS]
POUND, OUNCE, INCH = 453.59237, 28.349523125, 2.54  # by definition, 1959


def comma(number: float, digits: int = 1) -> str:
    return f"{number:.{digits}f}".replace(".", ",")


def grouped(number: float, mark: str) -> str:
    return f"{number:,.0f}".replace(",", mark)


def in_commas(**changed):  # type: ignore[no-untyped-def]
    return rows(
        **{"length": lambda one: comma(one.length_cm), "temp": lambda one: comma(one.temperature_c)}
        | changed
    )


def pounds_ounces(one: Newborn) -> tuple[int, float]:
    """Whole pounds, and ounces to a tenth, never 16.0."""
    tenths = round(one.weight_g / OUNCE * 10)
    return tenths // 160, tenths % 160 / 10


def fahrenheit(celsius: float) -> float:
    return celsius * 9 / 5 + 32


def every(column: str) -> frozenset[tuple[str, str]]:
    return frozenset((column, key) for key in KEYS)


LB_OZ = unit(weight_g='{ from = ["lb", "oz"], unit = ["[lb_av]", "[oz_av]"] }')
IN_POUNDS = rows(
    weight=lambda one: dict(
        zip(("lb", "oz"), (f"{part:g}" for part in pounds_ounces(one)), strict=True)
    )
)
TENTH_OUNCE = {"weight_g": OUNCE / 20 + 0.06}
HUNDREDTH_F = {"value": 0.04}

NUMBERS: list[Case] = [
    # Marks.
    Case(
        "decimal_comma",
        unit(more=COMMA, file='pattern = "babies*.csv"\ndelimiter = ";"'),
        {"babies.csv": text(in_commas(), ";").encode()},
    ),
    csv_case("decimal_comma_quoted", unit(more=COMMA), in_commas()),
    csv_case(
        "decimal_comma_and_thousands_point",
        unit(more=GERMAN),
        in_commas(weight=lambda one: grouped(one.weight_g, ".")),
    ),
    csv_case(
        "thousands_not_in_every_cell",
        unit(more=GERMAN),
        in_commas(
            weight=lambda one: grouped(one.weight_g, ".") if one.apgar == 9 else f"{one.weight_g}"
        ),
    ),
    csv_case(
        "thousands_comma",
        unit(more='[locale]\nthousands = ","'),
        rows(weight=lambda one: grouped(one.weight_g, ",")),
    ),
    csv_case(
        "thousands_blank",
        unit(more='[locale]\nthousands = " "'),
        rows(weight=lambda one: grouped(one.weight_g, " ")),
    ),
    csv_case(
        "thousands_no_break_space",
        unit(more='[locale]\nthousands = " "\ndecimal = ","'),
        in_commas(weight=lambda one: grouped(one.weight_g, "\u202f")),
    ),
    csv_case(
        "thousands_apostrophe",
        unit(more='[locale]\nthousands = "\'"'),
        rows(weight=lambda one: grouped(one.weight_g, "\u2019")),
    ),
    csv_case(
        "marks_of_one_column",
        unit(weight_g='{ from = "weight", unit = "kg", decimal = "," }'),
        rows(weight=lambda one: comma(one.weight_g / 1000, 3)),
    ),
    csv_case(
        "marks_of_one_file",
        unit(file='pattern = "babies*.csv"\nlocale = { decimal = "," }'),
        in_commas(),
    ),
    csv_case(
        "decimal_comma_not_declared",
        unit(),
        in_commas(),
        unread=every("value") | every("length_cm"),
    ),
    csv_case(
        "decimal_point_where_a_comma_is_declared",
        unit(more=COMMA),
        rows(),
        unread=every("value") | every("length_cm"),
    ),
    csv_case(
        "a_point_is_no_group_of_thousands",
        unit(more=GERMAN),
        in_commas(temp=lambda one: f"{one.temperature_c:.1f}"),
        unread=every("value"),
    ),
    csv_case(
        "one_mark_for_both",
        unit(more='[locale]\nthousands = "."'),
        rows(),
        refused="cannot set off both decimals and thousands",
    ),
    csv_case(
        "no_mark_of_numbers",
        unit(more='[locale]\ndecimal = "x"'),
        rows(),
        refused="decimal must be '.' or ','",
    ),
    csv_case(
        "unit_beside_the_number",
        unit(),
        rows(
            temp=lambda one: (
                f"{one.temperature_c:.1f} C" if one.key == "B4" else f"{one.temperature_c:.1f}"
            )
        ),
        unread=frozenset({("value", "B4")}),
    ),
    # Codes for nothing.
    csv_case(
        "missing_code_of_a_column",
        unit(apgar_5='{ from = "apgar", missing = ["88"] }'),
        rows(apgar=lambda one: "88" if one.key == "B2" else str(one.apgar)),
        absent=frozenset({("apgar_5", "B2")}),
    ),
    csv_case(
        "not_applicable_everywhere",
        unit(more='[locale]\nmissing = ["k.A."]\nnot_applicable = ["entf."]'),
        rows(
            apgar=lambda one: "entf." if one.key == "B2" else str(one.apgar),
            length=lambda one: "K.A. " if one.key == "B5" else f"{one.length_cm:.1f}",
        ),
        absent=frozenset({("apgar_5", "B2"), ("length_cm", "B5")}),
    ),
    csv_case(
        "missing_code_of_a_time",
        unit(more='[locale]\nmissing = ["99.99.9999 99:99"]'),
        rows(
            taken=lambda one: (
                "99.99.9999 99:99" if one.key == "B7" else rows()[KEYS.index(one.key)]["taken"]
            )
        ),
        absent=frozenset({("minutes", "B7")}),
    ),
    csv_case(
        "missing_code_not_declared",
        unit(),
        rows(length=lambda one: "k.A." if one.key == "B5" else f"{one.length_cm:.1f}"),
        unread=frozenset({("length_cm", "B5")}),
    ),
    csv_case(
        "missing_code_that_is_a_reading",
        unit(apgar_5='{ from = "apgar", missing = ["9"] }'),
        rows(),
        refused="it is a possible apgar_5 (0 to 10",
    ),
    csv_case(
        "missing_code_that_is_a_weight_in_pounds",
        unit(weight_g='{ from = "weight", unit = "[lb_av]", missing = ["9"] }'),
        rows(),
        refused="it is a possible weight_g",
    ),
    csv_case(
        "missing_code_in_a_list_of_words",
        unit(
            sex='{ from = "sex", recode = "sex", missing = ["x"] }',
            more='[recodes.sex]\nx = "unknown"',
        ),
        rows(),
        refused="stands for no value; take it out of one",
    ),
    csv_case(
        "missing_codes_as_numbers",
        unit(apgar_5='{ from = "apgar", missing = [88] }'),
        rows(),
        refused="columns.apgar_5.missing: a list that is not all words stands here; write a list",
    ),
    # Pounds and ounces, feet and inches.
    csv_case("pounds_and_ounces", LB_OZ, IN_POUNDS, within=TENTH_OUNCE),
    csv_case(
        "pounds_without_ounces",
        LB_OZ,
        [row | ({"oz": ""} if row["key"] == "B2" else {}) for row in IN_POUNDS],
        within=TENTH_OUNCE,
        unread=frozenset({("weight_g", "B2")}),
    ),
    csv_case(
        "sixteen_ounces",
        LB_OZ,
        [row | ({"oz": "16"} if row["key"] == "B2" else {}) for row in IN_POUNDS],
        within=TENTH_OUNCE,
        unread=frozenset({("weight_g", "B2")}),
    ),
    csv_case(
        "pounds_and_ounces_in_one_text",
        unit(weight_g='{ from = "weight", form = "pounds_and_ounces" }'),
        rows(weight=lambda one: "{:g} lb {:g} oz".format(*pounds_ounces(one))),
        within=TENTH_OUNCE,
    ),
    csv_case(
        "pounds_and_ounces_of_one_unit",
        unit(weight_g='{ from = ["lb", "oz"], unit = "[lb_av]" }'),
        IN_POUNDS,
        refused="a number cannot be read from several columns joined",
    ),
    csv_case(
        "ounces_before_pounds",
        unit(weight_g='{ from = ["oz", "lb"], unit = ["[oz_av]", "[lb_av]"] }'),
        IN_POUNDS,
        refused="name the larger unit first",
    ),
    csv_case(
        "feet_and_inches",
        unit(length_cm='{ from = ["ft", "in"], unit = ["[ft_i]", "[in_i]"] }'),
        rows(
            length=lambda one: {
                "ft": f"{one.length_cm / INCH // 12:.0f}",
                "in": f"{one.length_cm / INCH % 12:.2f}",
            }
        ),
        within={"length_cm": 0.02},
    ),
    csv_case(
        "feet_and_inches_in_one_text",
        unit(length_cm='{ from = "length", form = "feet_and_inches" }'),
        rows(
            length=lambda one: (
                f"{one.length_cm / INCH // 12:.0f}' {one.length_cm / INCH % 12:.2f}\""
            )
        ),
        within={"length_cm": 0.02},
    ),
    # Units beside one another.
    csv_case(
        "unit_of_each_row",
        unit(
            value='{ from = "temp", unit_from = "temp unit" }',
            more='[recodes.units]\n"°C" = "Cel"\n"°F" = "[degF]"',
        ),
        rows(
            temp=lambda one: (
                {"temp": f"{one.temperature_c:.1f}", "temp unit": "°C"}
                if one.apgar == 9
                else {"temp": f"{fahrenheit(one.temperature_c):.1f}", "temp unit": "°f"}
            )
        ),
        within=HUNDREDTH_F,
    ),
    csv_case(
        "unit_of_each_row_for_the_weight",
        unit(
            weight_g='{ from = "weight", unit_from = "weight unit" }',
            more='[recodes.units]\nkilo = "kg"',
        ),
        rows(
            weight=lambda one: (
                {"weight": f"{one.weight_g / 1000:.3f}", "weight unit": "Kilo"}
                if one.apgar == 9
                else {"weight": f"{one.weight_g:g}", "weight unit": "g"}
            )
        ),
    ),
    csv_case(
        "unit_of_a_row_not_known",
        unit(weight_g='{ from = "weight", unit_from = "weight unit" }'),
        rows(
            weight=lambda one: {
                "weight": f"{one.weight_g:g}",
                "weight unit": "stone" if one.key == "B3" else "g",
            }
        ),
        unread=frozenset({("weight_g", "B3")}),
    ),
    csv_case(
        "fahrenheit_beside_celsius",
        unit(value='{ from = "temp", either_unit = ["Cel", "[degF]"] }'),
        rows(
            temp=lambda one: (
                f"{one.temperature_c:.1f}"
                if one.apgar == 9
                else f"{fahrenheit(one.temperature_c):.1f}"
            )
        ),
        within=HUNDREDTH_F,
    ),
    csv_case(
        "fahrenheit_beside_celsius_and_neither",
        unit(value='{ from = "temp", either_unit = ["Cel", "[degF]"] }'),
        rows(temp=lambda one: "55.5" if one.key == "B1" else f"{one.temperature_c:.1f}"),
        unread=frozenset({("value", "B1")}),
    ),
    csv_case(
        "grams_beside_kilograms",
        unit(weight_g='{ from = "weight", either_unit = ["g", "kg"] }'),
        rows(
            weight=lambda one: (
                f"{one.weight_g / 1000:.3f}" if one.apgar == 9 else f"{one.weight_g:g}"
            )
        ),
    ),
    csv_case(
        "kilograms_beside_pounds",
        unit(weight_g='{ from = "weight", either_unit = ["kg", "[lb_av]"] }'),
        rows(),
        refused="the number alone does not tell which it is",
    ),
    csv_case(
        "fahrenheit_of_a_room",
        unit(room_temperature_c='{ from = "temp", either_unit = ["Cel", "[degF]"] }'),
        rows(),
        refused="unit_from =",
    ),
    csv_case(
        "unit_that_is_none",
        unit(value='{ from = "temp", unit = "Celsius" }'),
        rows(),
        refused="unit 'Celsius' cannot be brought to that of value. Did you mean 'Cel'?",
    ),
    csv_case(
        "unit_of_a_score",
        unit(apgar_5='{ from = "apgar", unit = "g" }'),
        rows(),
        refused="unit 'g' cannot be brought to that of apgar_5",
    ),
    # Gestation.
    csv_case(
        "bare_weeks_beside_days_not_allowed",
        unit(),
        rows(gestation=lambda one: "41" if one.key == "B4" else weeks_days(one.gestation_days)),
        unread=frozenset({("gestational_age_days", "B4")}),
    ),
    csv_case(
        "bare_weeks_beside_days",
        unit(gestational_age_days='{ from = "gestation", form = "weeks_with_or_without_days" }'),
        rows(
            gestation=lambda one: (
                f"{one.gestation_days // 7}"
                if one.key == "B4"
                else f"{one.gestation_days // 7} {one.gestation_days % 7}/7"
            )
        ),
        within={"gestational_age_days": 3},
    ),
    csv_case(
        "completed_weeks",
        unit(gestational_age_days='{ from = "gestation", form = "completed_weeks" }'),
        rows(gestation=lambda one: f"{one.gestation_days // 7}"),
        within={"gestational_age_days": 3},
    ),
    csv_case(
        "a_fraction_is_no_completed_week",
        unit(gestational_age_days='{ from = "gestation", form = "completed_weeks" }'),
        rows(gestation=lambda one: f"{one.gestation_days / 7:.1f}"),
        unread=frozenset(
            ("gestational_age_days", one.key)
            for one in NEWBORNS
            if f"{one.gestation_days / 7:.1f}"[-1] != "0"
        ),
        within={"gestational_age_days": 3},
    ),
    csv_case(
        "weeks_point_days",
        unit(gestational_age_days='{ from = "gestation", form = "weeks_point_days" }'),
        rows(gestation=lambda one: f"{one.gestation_days // 7}.{one.gestation_days % 7}"),
    ),
    csv_case(
        "weeks_and_days_in_two_columns",
        unit(gestational_age_days='{ from = ["w", "d"], form = "weeks_and_days" }'),
        rows(
            gestation=lambda one: {
                "w": str(one.gestation_days // 7),
                "d": str(one.gestation_days % 7),
            }
        ),
    ),
    csv_case(
        "weeks_and_days_in_two_columns_without_form",
        unit(gestational_age_days='{ from = ["w", "d"] }'),
        rows(),
        refused='need form = "weeks_and_days"',
    ),
    csv_case(
        "days",
        unit(gestational_age_days='"gestation"'),
        rows(gestation=lambda one: str(one.gestation_days)),
    ),
    csv_case(
        "form_of_another_column",
        unit(weight_g='{ from = "weight", form = "completed_weeks" }'),
        rows(),
        refused="is not a form of weight_g",
    ),
    csv_case(
        "weeks_and_days_added_up",
        unit(gestational_age_days='{ from = ["w", "d"], unit = ["wk", "d"] }'),
        rows(
            gestation=lambda one: {
                "w": str(one.gestation_days // 7),
                "d": str(one.gestation_days % 7),
            }
        ),
    ),
    csv_case(
        "unit_of_each_row_for_the_minutes",
        unit(minutes='{ from = "taken", unit_from = "taken unit" }'),
        rows(
            taken=lambda one: (
                {"taken": str(one.taken_after), "taken unit": "min"}
                if one.apgar == 9
                else {"taken": f"{one.taken_after / 60:.4f}", "taken unit": "h"}
            )
        ),
    ),
    csv_case(
        "unit_of_each_row_for_the_gestation",
        unit(gestational_age_days='{ from = "gestation", unit_from = "in" }'),
        rows(
            gestation=lambda one: (
                {"gestation": str(one.gestation_days), "in": "d"}
                if one.apgar == 9
                else {"gestation": f"{one.gestation_days / 7:.2f}", "in": "wk"}
            )
        ),
    ),
    csv_case(
        "units_of_another_kind",
        unit(value='{ from = "temp", either_unit = ["g", "kg"] }'),
        rows(),
        refused="g and kg are no units of temperature",
    ),
    csv_case(
        "a_number_as_a_word",
        unit(
            weight_g='{ from = "weight", recode = "weight" }',
            more='[recodes.weight]\nsmall = "1985"',
        ),
        rows(weight=lambda one: "Small" if one.key == "B5" else f"{one.weight_g:g}"),
    ),
]
