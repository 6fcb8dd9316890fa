"""Constants that a text states ("g = 9.8 m·s⁻²"): no givens of the situation."""

from __future__ import annotations

import re

from parser.question_text.draft import TAG, Draft
from parser.worksheet import Given

# (words before the value, unit, name of the constant)
_CONSTANTS: tuple[tuple[re.Pattern[str], tuple[str, ...], str], ...] = tuple(
    (
        re.compile(words + r"(?: is| =| of| as| to be| equals| ≈|,|:|\)|\(|_\{?\w\}?)* ?$"),
        units,
        name,
    )
    for words, units, name in (
        (r"", ("N*m**2/C**2",), "k"),
        (r"", ("N*m**2/kg**2",), "G"),
        (r"", ("J*s",), "h"),
        (r"", ("F/m", "C**2/N*m**2", "C**2/N/m**2", "C**2/(N*m**2)"), "eps0"),
        (
            r"(?:\be|elementary charge|charge (?:on|of) (?:an|the|one) ⟨b\d+⟩|charge (?:on"
            r"|of) (?:an |the )?electron|electronic charge)",
            ("C",),
            "e",
        ),
        (
            r"(?:\bg|gravity|gravitational acceleration|free[- ]fall|gravitational field strength)",
            ("m/s**2", "N/kg"),
            "g",
        ),
        (r"(?:\bc|speed of light(?: in (?:a )?(?:vacuum|air))?)", ("m/s",), "c"),
        (
            r"(?:\bm_\{?e\}?|mass of (?:an|the|one)? ?(?:⟨b\d+⟩|electron)"
            r"|electron(?:'s)? mass|⟨b\d+⟩ mass)",
            ("kg",),
            "m_e",
        ),
    )
)


_PARTICLE_MASSES = {
    "electron": "m_e",
    "proton": "m_p",
    "neutron": "m_n",
    "alpha particle": "m_alpha",
}


def read_constants(draft: Draft, sentence: str, used: set[int]) -> None:
    """Constants that the text states: they are no givens of the situation."""
    for match in TAG.finditer(sentence):
        letter, index = match.group(1), int(match.group(2))
        if letter in "bgp":
            continue
        quantity = draft.tagger.quantities[index].quantity
        before = sentence[: match.start()]
        for pattern, units, name in _CONSTANTS:
            if quantity.unit not in units:
                continue
            found = pattern.search(before)
            if found is None:
                continue
            if name == "m_e":
                name = _particle_in(draft, found.group()) or ""
            if name == "e" and abs(abs(quantity.value) - 1.6e-19) > 0.01e-19:
                continue
            if name == "c" and not 2.9e8 < quantity.value < 3.1e8:
                continue
            if name:
                draft.add_given(index, Given(quantity, f"constant:{name}"))
                used.add(index)
                break


def _particle_in(draft: Draft, words: str) -> str | None:
    for mention in re.findall(r"⟨b(\d+)⟩", words):
        for particle, name in _PARTICLE_MASSES.items():
            if particle in draft.name(int(mention)):
                return name
    if "electron" in words or re.search(r"m_\{?e", words):
        return "m_e"
    return None
