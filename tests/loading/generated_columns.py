"""Columns made up for measuring the identifier guard: identifiers of many countries, and harmless.

faker writes the identifiers (a general-purpose library of made-up data); none is of a person.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import product

import numpy as np
from faker import Faker

LOCALES = (
    *("en_US", "en_GB", "de_DE", "de_AT", "de_CH", "fr_FR", "fr_CA", "es_ES", "es_MX"),
    *("it_IT", "nl_NL", "pl_PL", "pt_BR", "sv_SE"),
)
ROWS = 200


@dataclass(frozen=True)
class Generated:
    """One column: what it holds, where from, its name in the export, its texts."""

    what: str
    rule: str
    locale: str
    name: str
    texts: tuple[str, ...]


def _staff(fake: Faker) -> list[str]:
    """A dozen people of a ward, again and again."""
    people = [fake.name() for _ in range(12)]
    return [people[n % 12] for n in range(ROWS)]


def _surnames_capital(fake: Faker) -> str:
    return f"{fake.last_name().upper()}, {fake.first_name()}"


def _patient_mail(fake: Faker) -> str:
    return str(fake.email())


def _record(fake: Faker) -> str:
    return str(fake.numerify("########"))


def _record_dashed(fake: Faker) -> str:
    return str(fake.numerify("##-##-##-##"))


def _place(fake: Faker) -> str:
    return f"{fake.street_address()}, {fake.city()}".replace("\n", ", ")


ONE_BY_ONE: dict[str, tuple[str, str, Callable[[Faker], str]]] = {
    "full name": ("name", "Mother", lambda f: f.name()),
    "surname": ("name", "Surname", lambda f: f.last_name()),
    "first name": ("name", "First name", lambda f: f.first_name()),
    "surname, first name": ("name", "Patient name", _surnames_capital),
    "record number, 8 digits": ("record_number", "MRN", _record),
    "record number, grouped": ("record_number", "Case number", _record_dashed),
    "national number": ("insurance_number", "Insurance number", lambda f: f.ssn()),
    "phone": ("phone", "Phone", lambda f: f.phone_number()),
    "mail": ("mail", "Mail", _patient_mail),
    "street": ("address", "Street", lambda f: f.street_address().replace("\n", ", ")),
    "street and place": ("address", "Address", _place),
    "postcode": ("postcode", "Postcode", lambda f: f.postcode()),
    "device serial": ("device_serial", "Serial number", lambda f: f.bothify("??######").upper()),
    "network address": ("device_serial", "Device", lambda f: f.mac_address()),
    "sentence": ("free_text", "Comment", lambda f: f.sentence(nb_words=9)),
    "paragraph": ("free_text", "Notes", lambda f: f.paragraph(nb_sentences=3)),
}


def identifiers(seed: int = 1) -> Iterator[Generated]:
    """Yield every kind in every locale, with a name that says nothing ("Col 7")."""
    for place, (locale, what) in enumerate(product(LOCALES, [*ONE_BY_ONE, "staff"])):
        fake = Faker(locale)
        fake.seed_instance(seed * 1000 + place)
        if what == "staff":
            yield Generated(what, "name", locale, "Col 7", tuple(_staff(fake)))
            continue
        rule, _, make = ONE_BY_ONE[what]
        yield Generated(what, rule, locale, "Col 7", tuple(make(fake) for _ in range(ROWS)))


def _numbers(rng: np.random.Generator) -> Iterator[tuple[str, list[str]]]:
    for name, mean, sd, decimals in (
        ("Weight g", 3300, 500, 0), ("Weight kg", 3.3, 0.5, 3), ("Length", 50, 2.5, 1),
        ("Head", 34.5, 1.5, 1), ("Temp", 36.8, 0.4, 1), ("Temp F", 98.2, 0.8, 1),
        ("HR", 140, 14, 0), ("RR", 45, 8, 0), ("Glucose", 60, 15, 0), ("Glucose mmol", 3.3, 0.8, 1),
        ("Minutes", 90, 40, 0), ("Left min", 2800, 900, 0), ("Known min", -90000, 30000, 0),
        ("SpO2", 97, 2, 0), ("Bili", 8.4, 3, 1), ("GA days", 275, 9, 0), ("Pounds", 7.3, 1, 2),
        ("Print count", 3, 1, 0), ("Running no", 4000, 2000, 0), ("Seconds", 60, 20, 0),
    ):  # fmt: skip
        drawn = rng.normal(mean, sd, ROWS)
        yield name, [f"{one:.{decimals}f}" for one in drawn]
        yield f"{name} comma", [f"{one:.{decimals}f}".replace(".", ",") for one in drawn]


WORDS = {
    "Sex": "F M", "Geschlecht": "weiblich männlich divers", "Sexe": "féminin masculin",
    "Sexo": "femenino masculino", "Yes no": "Yes No", "Ja nein": "ja nein", "Oui": "oui non",
    "Sí": "sí no", "Status": "given refused held", "Route": "IM PO IV SC", "Ward": "W1 W2 W3 K12",
    "Room": "R101 R102 R203 OP1", "Diagnosis": "P07.3 Z38.00 P59.9 P22.1 P70.4 Q35.9 P05.1",
    "Version": "v1 v2", "Apgar": "7 8 9 10", "Plurality": "1 2 3", "Shift": "D N E",
    "Blood group": "A+ A- B+ 0+ AB- O-", "Payer": "Public Private", "Tri": "N/A n.a. k.A. -",
    "Code": "A10 A20 B15 C07 D99", "Priority": "high low", "Flag": "x", "Level": "I II III IV",
}  # fmt: skip
PHRASES = {
    "Delivery": ["vaginal", "CS planned", "CS unplanned", "forceps", "vacuum", "SVD"],
    "Modus": ["spontan", "vaginaloperativ", "primäre Sectio", "sekundäre Sectio"],
    "Accouchement": ["voie basse", "césarienne programmée", "césarienne en urgence"],
    "Parto": ["vaginal", "cesárea programada", "cesárea urgente", "instrumental"],
    "Room of birth": ["birth room", "theatre", "BBA", "other site"],
    "Geburtsraum": ["Kreißsaal", "OP", "vor Ankunft", "andernorts"],
    "Item": ["Temp axillary", "Temp rectal", "Apical pulse", "Respirations", "SpO2 foot"],
    "Medicine": ["phytonadione", "erythromycin eye oint", "hep B vaccine", "HBIG"],
    "Reason": ["family declined", "contraindicated", "unstable", "no stock", "not indicated"],
    "Race": ["Black or African American", "Hispanic or Latino", "White", "Asian"],
    "Language": ["English", "Spanish", "Arabic", "Russian"],
    "Told": ["nurse in charge", "physician", "midwife", "charge nurse"],
    "Dépistage": ["fait", "non fait", "refusé"], "Verbleib": ["Haus", "Verlegung", "verstorben"],
    "Care item": ["dried", "hat", "skin to skin", "2 ID bands", "1st feed", "cord clamp"],
}  # fmt: skip


def _times(rng: np.random.Generator) -> Iterator[tuple[str, list[str]]]:
    weeks, days = rng.integers(32, 42, ROWS), rng.integers(0, 7, ROWS)
    yield "Gestation", [f"{w}+{d}" for w, d in zip(weeks, days, strict=True)]
    yield "Gestation fraction", [f"{w} {d}/7" for w, d in zip(weeks, days, strict=True)]
    yield "Gestation w d", [f"{w}w{d}d" for w, d in zip(weeks, days, strict=True)]
    yield "Month", [f"2026-{m:02}" for m in rng.integers(1, 13, ROWS)]
    yield "Clock", [f"{h:02}:{m:02}" for h, m in rng.integers(0, 24, (ROWS, 2))]
    yield "Blood pressure", [f"{s}/{d}" for s, d in rng.integers(40, 90, (ROWS, 2))]


def harmless(seed: int = 1) -> Iterator[Generated]:
    """Yield columns of numbers, codes and words of lists, as exports have them."""
    rng = np.random.default_rng(seed)
    columns = [*_numbers(rng), *_times(rng)]
    lists = {name: words.split() for name, words in WORDS.items()} | PHRASES
    columns += [(name, list(rng.choice(words, ROWS))) for name, words in lists.items()]
    for name, texts in columns:
        yield Generated(name, "", "", name, tuple(map(str, texts)))
