"""What a run of the whole job leaves behind: checked sheets and files that failed."""

from __future__ import annotations

from dataclasses import dataclass, replace

from parser.worksheet import Worksheet
from scanner.errors import ExitCode
from scanner.page import Page
from solver.findings import Findings


@dataclass(frozen=True)
class CheckedSheet:
    """One sheet with all that is known about it; ``page`` is None for typed questions."""

    worksheet: Worksheet
    findings: Findings
    page: Page | None = None

    @property
    def problems(self) -> tuple[str, ...]:
        """Plain sentences about the sheet as a whole, none twice."""
        of_page = self.page.problems if self.page else ()
        unmatched = len(self.worksheet.unmatched)
        of_lines: tuple[str, ...] = ()
        if unmatched == 1:
            of_lines = ("One written line could not be given to a question; please look at it.",)
        elif unmatched:
            of_lines = (
                f"{unmatched} written lines could not be given to a question; please look at them.",
            )
        every = (*of_page, *self.worksheet.problems, *self.findings.problems, *of_lines)
        return tuple(dict.fromkeys(every))

    def without_image(self) -> CheckedSheet:
        """The same findings without the page's pixels, which are large."""
        if self.page is None:
            return self
        return replace(self, page=replace(self.page, image=None))

    @property
    def needs_person(self) -> bool:
        """True where something was not read, not understood or not found."""
        questions = self.findings.questions
        return (
            not questions
            or bool(self.worksheet.unmatched)
            or any(question.needs_person for question in questions)
        )


@dataclass(frozen=True)
class FailedFile:
    """A file that could not be checked, and why, in one sentence."""

    name: str
    message: str
    exit_code: ExitCode

    @property
    def sentence(self) -> str:
        """The message, with the file's name where it does not say it itself."""
        return self.message if self.name in self.message else f"{self.name}: {self.message}"


@dataclass(frozen=True)
class CheckedSheets:
    """The outcome of one run, sheets and failures in the order of the files."""

    sheets: tuple[CheckedSheet, ...] = ()
    failures: tuple[FailedFile, ...] = ()

    @property
    def exit_code(self) -> ExitCode:
        if self.failures and not self.sheets:
            return self.failures[0].exit_code
        if self.failures:
            return ExitCode.PARTIAL
        return ExitCode.LOOK if any(s.needs_person for s in self.sheets) else ExitCode.OK
