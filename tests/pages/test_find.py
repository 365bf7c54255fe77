"""A reader who searches for another word finds the measure, by the menu and by the eye."""

import html
import re
from pathlib import Path
from typing import Any

from selenium.webdriver.common.keys import Keys

from pipelines.definitions.read_measures import read_measures

from .visit import open_page

SHOWN = """
return [...document.querySelectorAll(".panels .panel")].filter((one) => !one.hidden)
  .map((one) => one.querySelector("h3").id).filter((id) => id.startsWith("m-"))
"""


def _find(browser: Any, words: str) -> list[str]:
    field = browser.find_element("css selector", "nav.here input[name=find]")
    field.clear()
    field.send_keys(words, Keys.ENTER)
    return list(browser.execute_script(SHOWN))


def test_another_word_leads_to_its_measures_and_to_no_other(browser: Any, fake_page: Path) -> None:
    open_page(browser, fake_page, 1280)
    found = _find(browser, "hypothermia")
    assert found
    assert all("cold" in one for one in found)
    assert _find(browser, "no such word") == []
    assert "vitamin_k" in "".join(_find(browser, "vitamin k"))
    assert "contains=vitamin" in browser.current_url
    seen = browser.execute_script(
        "const first = document.querySelector('.panels .panel:not([hidden]) h3[id^=m-]');"
        "return first.getBoundingClientRect().top"
    )
    assert 0 < seen < 800  # the reader is where the found measure stands


def test_words_stand_in_the_page_for_the_browsers_own_search(fake_page: Path) -> None:
    text = html.unescape(re.sub(r"<(script|style).*?</\1>", "", fake_page.read_text("utf-8")))
    assert "Also searched for as: hypothermia" in text


def test_what_people_call_it_leads_to_the_measure_meant() -> None:
    """Words of the trade, from memory; each must lead somewhere, and where it is meant."""
    called = {
        name: " ".join([measure.text("title"), *measure.get("also_called", [])]).lower()
        for name, measure in read_measures().items()
    }
    for word, meant in {
        "hypothermia": "arrival_cold",
        "hyperthermia": "warm_excess",
        "hypoglycemia": "glucose_check",
        "skin to skin": "skin_contact_start",
        "meconium": "first_stool",
        "delayed cord clamping": "cord_clamp_deferred",
        "phytonadione": "vitamin_k",
        "pulse oximetry": "heart_screen",
    }.items():
        assert word in called[meant], word
