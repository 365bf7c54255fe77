"""What looks like an identifier: a column by its name, and by its texts, whatever its name.

Pure functions. Rules are ours, from common practice and no published source; what they find and
what they leave alone is measured on generated columns (tests/loading/test_guard_measured.py).
"""

import re
from collections import Counter
from collections.abc import Callable, Collection, Mapping, Sequence
from typing import Final

from pipelines.definitions.local_words import phrases, plain, vocabulary
from pipelines.definitions.safe_to_say import is_known

# Rule -> what a refused column looks like, in words.
RULES: Final[Mapping[str, str]] = {
    "name": "names of people",
    "record_number": "record numbers",
    "insurance_number": "insurance or identity numbers",
    "phone": "phone numbers",
    "mail": "mail addresses",
    "address": "street addresses or places",
    "postcode": "postcodes",
    "device_serial": "serial numbers or network addresses of devices",
    "free_text": "free text",
    "date": "dates, which this unit's form of time does not allow here",
}
_MAIL: Final = re.compile(r"\S+@\S+\.\w{2,}")
_DATE: Final = re.compile(
    r"(^|\D)(\d{4}[-/.]\d{1,2}[-/.]\d{1,2}|\d{1,2}[-/.]\d{1,2}[-/.](\d{4}|\d{2}))(\D|$)"
)
_MONTH: Final = re.compile(r"(19|20)\d{2}-\d{2}")
_NETWORK: Final = re.compile(r"\d{1,3}(\.\d{1,3}){3}|[0-9A-Fa-f]{2}([:-][0-9A-Fa-f]{2}){5}|([0-9A-Fa-f]{1,4}:){3,}[0-9A-Fa-f:]+")  # fmt: skip # noqa: E501
_PHONE: Final = re.compile(r"(\+|00|\(?0|\(\d|\d{3}[-. ]\d)[\d\s()./x-]{6,24}")
_NUMBER: Final = re.compile(r"[-+]?\d{1,3}([ .,']\d{3})*([.,]\d+)?|[-+]?\d{1,6}([.,]\d+)?")
_GROUPED: Final = re.compile(r"\d{2,}([- ./]\d+){1,6}[ -]?[A-Za-z]?|[A-Za-z]\d[\d ]{6,}[A-Za-z]?")
_POSTCODE: Final = re.compile(
    r"\d{5}|\d{5}-\d{4}|[A-Z]{1,2}\d[A-Z\d]? ?\d[A-Z]{2}|[A-Z]\d[A-Z][ -]?\d[A-Z]\d|\d{4} ?[A-Z]{2}"
)
_HASH: Final = re.compile(r"[0-9a-fA-F]{16,}|[0-9a-fA-F]{8}(-[0-9a-fA-F]{4}){3}-[0-9a-fA-F]{12}")
_PERSON: Final = re.compile(r"[^\W\d_]+\.?(?:[-'\u2019 .,]+[^\W\d_]+\.?){0,5}", re.UNICODE)
_CODE_DIGITS: Final = 5  # digits of a serial; codes of diagnoses and rooms have fewer
_LONG_DIGITS: Final = 7
_SENTENCE: Final = 4  # words
_PARTICLES: Final = frozenset(
    (
        "de",
        "del",
        "della",
        "der",
        "den",
        "di",
        "do",
        "dos",
        "da",
        "du",
        "la",
        "le",
        "van",
        "von",
        "y",
    )
)


def _digits(text: str) -> int:
    return sum(one.isdigit() for one in text)


def _is_plain(text: str, known: Collection[str]) -> bool:
    """A short number, or words that everybody knows: says nothing of anybody."""
    is_short = bool(_NUMBER.fullmatch(text)) and _digits(text) < _LONG_DIGITS
    return is_short or is_known(text, known)


def _unknown(words: Sequence[str]) -> list[str]:
    return [one for one in words if not one.isdigit() and one not in vocabulary()]


def _words_of(text: str) -> list[str]:
    return re.findall(r"[^\W\d_]+", text)


def kind_of(text: str, known: Collection[str] = ()) -> str | None:  # noqa: PLR0911
    """Return the rule that one text of a column looks like, None for what is harmless.

    >>> kind_of("anna@muster.example"), kind_of("12345678"), kind_of("3,410"), kind_of("39+6")
    ('mail', 'record_number', None, None)
    """
    if _MAIL.search(text):
        return "mail"
    if _POSTCODE.fullmatch(text) and text.casefold() not in known:
        return "postcode"
    if _is_plain(text, known) or _MONTH.fullmatch(text):
        return None
    if _DATE.search(text) and not re.search(r"[^\W\d_]{3}", text):
        return "date"
    if _NETWORK.fullmatch(text):
        return "device_serial"
    letters, digits = len("".join(_words_of(text))), _digits(text)
    if digits >= _CODE_DIGITS and re.fullmatch(r"[A-Za-z]{1,4}\d+[A-Za-z]{0,2}", text):
        return "device_serial"
    if digits and letters <= 2:
        return _of_digits(text, digits)
    if digits:
        return _of_both(text, digits)
    return _of_letters(text)


def _of_digits(text: str, digits: int) -> str | None:
    if text.startswith("+") and digits >= _LONG_DIGITS:
        return "phone"
    if re.fullmatch(r"\d{3}-\d{2}-\d{4}", text):
        return "insurance_number"
    if digits >= _LONG_DIGITS and _PHONE.fullmatch(text) and not text.isdigit():
        return "phone"
    if digits >= _LONG_DIGITS and not re.search(r"[:]", text):
        return "record_number"
    return "record_number" if digits >= _CODE_DIGITS and _GROUPED.fullmatch(text) else None


def _of_both(text: str, digits: int) -> str | None:
    words = _words_of(text)
    if " " not in text.strip() and "\n" not in text:
        return "device_serial" if digits >= _CODE_DIGITS else None
    unknown = _unknown(plain(text)) or not text.isascii()
    if not unknown:
        return None
    if len(words) >= 2 * _SENTENCE and not re.search(r"\d{4,}", text):
        return "free_text"
    return "address" if any(len(one) >= 3 for one in words) else "device_serial"


def _of_letters(text: str) -> str | None:
    words = _words_of(text)
    if not words:
        return None
    if len(words) >= 2 * _SENTENCE - 1 or re.search(r"[.!?;:]\s+\S+\s+\S+\s", text):
        return "free_text"
    unknown = [one for one in words if _unknown(plain(one)) or not plain(one)]
    if not unknown:
        return None
    capital = [
        one
        for one in words
        if one[0].isupper() or one.casefold() in _PARTICLES or not one.isascii()
    ]
    looks = _PERSON.fullmatch(text.strip()) and len(capital) == len(words)
    return "name" if looks else ("free_text" if len(words) >= _SENTENCE else "word")


_Test = Callable[[Counter[str], int], bool]


def _share(found: Counter[str], total: int, *kinds: str) -> float:
    return sum(found[one] for one in kinds) / total


def _are_names(found: Counter[str], total: int) -> bool:
    """Names of families differ from row to row; of a ward's nurses there are at least three."""
    names = _share(found, total, "name")
    several = found["several"] / total
    if total >= 3 and names >= 0.6 and several >= 0.5 and found["known"] <= 0.25 * total:
        return True
    unknown = _share(found, total, "name", "word")
    return total >= 30 and unknown >= 0.8 and found["known"] <= 0.2 * total


# Rule -> whether a column is such, by the kinds of its distinct texts and how many there are.
_TESTS: Final[Mapping[str, _Test]] = {
    "mail": lambda found, total: _share(found, total, "mail") >= 0.05,
    "insurance_number": lambda f, n: _share(f, n, "insurance_number") >= 0.5,
    "postcode": lambda f, n: n >= 3 and _share(f, n, "postcode") >= 0.95,
    "phone": lambda f, n: (
        _share(f, n, "phone") >= 0.2 and _share(f, n, "phone", "record_number") >= 0.6
    ),
    "record_number": lambda f, n: _share(f, n, "record_number", "phone", "insurance_number") >= 0.5,
    "device_serial": lambda f, n: _share(f, n, "device_serial", "record_number") >= 0.6,
    "date": lambda f, n: _share(f, n, "date") >= 0.5,
    "address": lambda f, n: n >= 5 and _share(f, n, "address") >= 0.4,
    # A list of choices has few texts, however long they are.
    "free_text": lambda f, n: n >= 15 and _share(f, n, "free_text", "address") >= 0.25,
    "name": _are_names,
}


def _counted(texts: Collection[str], known: Collection[str]) -> Counter[str]:
    found: Counter[str] = Counter()
    for text in texts:
        kind = kind_of(text, known)
        found[kind or "plain"] += 1
        words = _words_of(text)
        if kind == "name":
            found["several"] += len(words) > 1
        if kind in {"name", "word"}:
            found["known"] += any(
                plain(one) and not _unknown(plain(one)) and len(one) > 2 for one in words
            )
    found["known"] += found["plain"]
    return found


def rule_of_name(name: str) -> str | None:
    """Return the rule that a column's name says: its words, whole or at an end of it.

    >>> rule_of_name("Mother phone"), rule_of_name("PLZ"), rule_of_name("Weight g")
    ('phone', 'postcode', None)
    """
    words = plain(name)
    best: tuple[int, str | None] = (0, None)
    for rule, one in phrases("identifiers").items():
        for phrase in one.by_words:
            n = len(phrase)
            inside = any(words[at : at + n] == phrase for at in range(len(words) - n + 1))
            at_end = words[:n] == phrase or words[-n:] == phrase
            if phrase and (at_end or (inside and n > 1)) and n > best[0]:
                best = (n, rule)
    return best[1]


def rule_of_texts(texts: Collection[str], known: Collection[str] = ()) -> str | None:
    """Return the rule that a column's distinct texts look like."""
    if not texts:
        return None
    found = _counted(texts, known)
    return next((rule for rule, is_so in _TESTS.items() if is_so(found, len(texts))), None)


def rule_of(name: str, texts: Collection[str], known: Collection[str] = ()) -> str | None:
    """Return the rule of ``RULES`` by which a column is refused, or None.

    ``texts``: its distinct texts, trimmed. A name alone refuses nothing where every text is a
    short number or a known word: a column called "name" may hold names of items.
    """
    by_texts = rule_of_texts(texts, known)
    by_name = rule_of_name(name)
    if by_name and texts:
        telling = [text for text in texts if not _is_plain(text, known) or _digits(text) >= 4]
        if len(telling) >= 0.2 * len(texts):
            return by_name
    return by_texts


def looks_like_record_numbers(name: str, texts: Collection[str]) -> str | None:
    """Return the rule that a key looks like: a study key has few digits, or is a hash."""
    rest = [text for text in texts if not _HASH.fullmatch(text)]
    if not rest or len(rest) < 0.2 * len(texts):
        return None
    long = [text for text in rest if _digits(text) >= _LONG_DIGITS]
    if len(long) >= 0.3 * len(rest):
        return "record_number"
    by_name = rule_of_name(name)
    if by_name in {"record_number", "insurance_number"} and any(_digits(one) >= 4 for one in rest):
        return by_name
    found = Counter(kind_of(text) for text in rest)
    for rule in ("mail", "name", "phone", "insurance_number"):
        if found[rule] >= 0.5 * len(rest):
            return rule
    return None
