"""What the user has set: how pages look, how help unfolds, and how strictly answers are judged.

Settings are kept in the data folder, for everyone who uses the page on this computer.
"""

from __future__ import annotations

import logging
import os
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Literal

from pydantic import TypeAdapter, ValidationError

from scanner.errors import BadFile
from solver.verdicts import Rules
from ui.records import data_folder

DecimalMark = Literal[".", ","]
TextSize = Literal["usual", "large", "largest"]

TEXT_SIZES: dict[TextSize, int] = {"usual": 16, "large": 19, "largest": 22}
"""Pixels of one line's letters; all else on a page grows with it."""

_log = logging.getLogger(__name__)
_RULES = Rules()


@dataclass(frozen=True)
class Settings:
    """All switches with their usual values.

    Attributes:
        step_by_step: help with one script unfolds a step at a time.
        show_marks: suggested marks of one script are shown from the start.
        text_size: of all pages.
        decimal_mark: of the numbers that the tool writes; None follows the sheet.
        percent: an answer agrees within this part of the expected value, in per cent.
        unit_owed, direction_owed, asked_unit_owed, minus_on_magnitude_agrees,
        carry_within_question: as in ``solver.verdicts.Rules``.
    """

    step_by_step: bool = True
    show_marks: bool = False
    text_size: TextSize = "usual"
    decimal_mark: DecimalMark | None = None
    percent: float = 100 * _RULES.relative_tolerance
    unit_owed: bool = _RULES.unit_owed
    direction_owed: bool = _RULES.direction_owed
    asked_unit_owed: bool = _RULES.asked_unit_owed
    minus_on_magnitude_agrees: bool = _RULES.minus_on_magnitude_agrees
    carry_within_question: bool = _RULES.carry_within_question

    @property
    def rules(self) -> Rules:
        """How answers are judged."""
        return replace(
            _RULES,
            relative_tolerance=self.percent / 100,
            unit_owed=self.unit_owed,
            direction_owed=self.direction_owed,
            asked_unit_owed=self.asked_unit_owed,
            minus_on_magnitude_agrees=self.minus_on_magnitude_agrees,
            carry_within_question=self.carry_within_question,
        )


_SETTINGS = TypeAdapter(Settings)


def load_settings(folder: Path | None = None) -> Settings:
    """The settings as they were saved; the usual ones where none can be read."""
    try:
        return _SETTINGS.validate_json(_file(folder).read_bytes())
    except FileNotFoundError:
        return Settings()
    except (OSError, ValidationError):
        _log.warning("the settings could not be read; the usual ones are used", exc_info=True)
        return Settings()


def save_settings(settings: Settings, folder: Path | None = None) -> None:
    """Keep the settings.

    Raises:
        BadFile: the data folder cannot be written.
    """
    file = _file(folder)
    try:
        file.parent.mkdir(parents=True, exist_ok=True)
        new = file.with_suffix(".new")
        new.write_bytes(_SETTINGS.dump_json(settings, indent=1))
        os.replace(new, file)
    except OSError as error:
        raise BadFile(
            f"The settings could not be kept in {file.parent}: {error.strerror}."
        ) from error


def _file(folder: Path | None) -> Path:
    return (folder or data_folder()) / "settings.json"
