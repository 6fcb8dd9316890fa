"""Errors a user can cause, and the exit status each one leaves behind.

Every message is one or two plain sentences that say what is wrong and what
to do; it is fit to be shown on the page or the terminal as it stands.
"""

from __future__ import annotations

from enum import IntEnum


class ExitCode(IntEnum):
    """Exit status of the command line."""

    OK = 0
    LOOK = 1  # all was read, at least one answer needs a person
    USAGE = 2  # the command's words are off
    BAD_INPUT = 3  # no file could be used
    PARTIAL = 4  # some files could not be used, the others were checked
    MISSING_PART = 5  # a system part such as Tesseract is not installed


class UserError(Exception):
    """Base class of all errors a user can cause."""

    exit_code: ExitCode = ExitCode.BAD_INPUT


class BadFile(UserError):
    """A file that is not a usable image, PDF or zip."""


class TooLarge(BadFile):
    """A file over one of the intake limits."""


class BadPhoto(UserError):
    """A readable image on which no sheet can be checked."""


class MissingPart(UserError):
    """A system part or model file that is not installed."""

    exit_code = ExitCode.MISSING_PART
