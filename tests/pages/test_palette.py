"""Contrast and colour vision, measured on the palette itself.

Contrast and relative luminance: WCAG 2.2, criteria 1.4.3 (text 4.5:1) and 1.4.11 (marks 3:1).
Colour vision: the matrices of Machado, Oliveira and Fernandes 2009 for full deficiency, in
linear light (values from memory). Lightness: CIE 1976 L*.
"""

import numpy as np
import pytest

from pipelines.drawing.theme import DARK, LIGHT

MACHADO = {
    "normal": np.eye(3),
    "protanopia": np.array(
        [
            [0.152286, 1.052583, -0.204868],
            [0.114503, 0.786281, 0.099216],
            [-0.003882, -0.048116, 1.051998],
        ]
    ),
    "deuteranopia": np.array(
        [
            [0.367322, 0.860646, -0.227968],
            [0.280085, 0.672501, 0.047413],
            [-0.011820, 0.042940, 0.968881],
        ]
    ),
    "tritanopia": np.array(
        [
            [1.255528, -0.076749, -0.178779],
            [-0.078411, 0.930809, 0.147602],
            [0.004733, 0.691367, 0.303900],
        ]
    ),
}
LUMINANCE = np.array([0.2126, 0.7152, 0.0722])


def linear(colour: str) -> np.ndarray:
    channels = np.array([int(colour[at : at + 2], 16) for at in (1, 3, 5)]) / 255
    return np.where(channels <= 0.04045, channels / 12.92, ((channels + 0.055) / 1.055) ** 2.4)


def contrast(one: str, other: str) -> float:
    low, high = sorted(float(LUMINANCE @ linear(colour)) for colour in (one, other))
    return (high + 0.05) / (low + 0.05)


def lightness(colour: str, vision: str) -> float:
    seen = np.clip(MACHADO[vision] @ linear(colour), 0, 1)
    luminance = float(LUMINANCE @ seen)
    return 116 * luminance ** (1 / 3) - 16 if luminance > 0.008856 else 903.3 * luminance


def test_contrast_of_known_colours() -> None:
    """Black on white is 21:1, and #767676 on white just passes 4.5 (WCAG 2.2)."""
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert contrast("#767676", "#ffffff") == pytest.approx(4.54, abs=0.01)


@pytest.mark.parametrize("palette", [LIGHT, DARK], ids=["light", "dark"])
@pytest.mark.parametrize("role", ["ink", "quiet"])
def test_text_contrast(palette: dict[str, str], role: str) -> None:
    assert contrast(palette[role], palette["paper"]) >= 4.5


@pytest.mark.parametrize("palette", [LIGHT, DARK], ids=["light", "dark"])
@pytest.mark.parametrize("role", ["data", "attention", "good", "unknown"])
def test_mark_contrast(palette: dict[str, str], role: str) -> None:
    assert contrast(palette[role], palette["paper"]) >= 3


@pytest.mark.parametrize("palette", [LIGHT, DARK], ids=["light", "dark"])
@pytest.mark.parametrize("vision", MACHADO)
def test_attention_and_good_differ_in_lightness(palette: dict[str, str], vision: str) -> None:
    """15 steps of L* also keeps them apart in grey print (the project's own bound)."""
    apart = abs(lightness(palette["attention"], vision) - lightness(palette["good"], vision))
    assert apart >= 15
