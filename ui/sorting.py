"""Pages that carry a code find their own place: the stack of their worksheet, script and page.

A code is read right or not at all, so nothing is guessed here. Pages of a numbered copy belong
to one script, in whatever order they were photographed. Copies without numbers keep the order
in which they were handed in: a photo that shows the page after that of the photo before it
belongs to the same script.
"""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from dataclasses import dataclass

from scanner.marks import SheetCode
from ui.printed_sheet import Printed, printed_from_json
from ui.records import Page, PagePlace, Records, Stack, free_name

_TWICE = (
    "Page {page} of “{script}” was handed in twice; the first photo is used. If this is the page "
    "of another learner, a numbered copy was photocopied: check this page by itself."
)


def sort_pages(records: Records, stack: Stack) -> None:
    """Place every flattened page of a stack whose code is known; done again, nothing changes."""
    places = _Plan(records, stack).places()
    for one in places:
        if one.stack.id != stack.id and one.page.image is not None:
            shutil.copyfile(one.page.image, one.stack.folder / one.page.image.name)
    records.place_pages(places)
    for one in places:
        if one.stack.id != stack.id and one.page.image is not None:
            one.page.image.unlink(missing_ok=True)


def elsewhere_to_do(records: Records, stack: Stack) -> list[Stack]:
    """Other stacks whose worksheet was printed here and that have pages to read or check."""
    return [
        other
        for other, _ in _printed(records)
        if other.id != stack.id
        and (
            any(page.state == "flat" for page in records.pages(other))
            or any(script.findings is None for script in records.scripts(other))
        )
    ]


def sorted_before(records: Records) -> set[str]:
    """Contents of all pages that found their place by their code, in any stack."""
    return {
        page.content
        for stack, _ in _printed(records)
        for page in records.pages(stack)
        if page.code is not None and page.state != "failed"
    }


def _printed(records: Records) -> Iterator[tuple[Stack, Printed]]:
    for stack in records.stacks():
        if stack.printed is not None:
            yield stack, printed_from_json(stack.printed)


@dataclass(frozen=True)
class _Front:
    """The photo before: which page it shows and the script that it belongs to."""

    code: SheetCode
    script: str


class _Plan:
    """Where the flattened pages of a stack go, from what is recorded alone."""

    def __init__(self, records: Records, stack: Stack) -> None:
        self._records = records
        self._stack = stack
        self._homes = {sheet.code: (home, sheet) for home, sheet in _printed(records)}
        self._pages = records.pages(stack)
        self._taken = {
            (home.id, script, code.page)
            for home, _ in self._homes.values()
            for script, code in self._settled(home)
        }
        self._scripts = {
            home.id: {script.name for script in records.scripts(home)}
            for home, _ in self._homes.values()
        }

    def places(self) -> list[PagePlace]:
        names = {script.id: script.name for script in self._records.scripts(self._stack)}
        of_script = [page.script for page in self._pages]
        front: _Front | None = None
        found = []
        for page in self._pages:
            code = SheetCode.of(page.code or "")
            if code is None or code.worksheet not in self._homes or page.state == "failed":
                front = None
                continue
            home, sheet = self._homes[code.worksheet]
            name = sheet.whose(code.copy)
            if name is None:
                loose = of_script.count(page.script) == 1
                if loose and front is not None and _follows(code, front.code):
                    name = front.script
                else:
                    name = self._name_at(home, names[page.script])
                front = _Front(code, name)
            if page.state == "flat":
                found.append(self._place(page, home, name, code))
        return found

    def _settled(self, home: Stack) -> Iterator[tuple[str, SheetCode]]:
        """Scripts and codes of pages that are not to be placed now."""
        names = {script.id: script.name for script in self._records.scripts(home)}
        for page in self._records.pages(home):
            code = SheetCode.of(page.code or "")
            moving = home.id == self._stack.id and page.state == "flat"
            if code is not None and page.state != "failed" and not moving:
                yield names[page.script], code

    def _name_at(self, home: Stack, name: str) -> str:
        """The script's name, or one that is free in the other stack."""
        if home.id == self._stack.id:
            return name
        name = free_name(name, self._scripts[home.id])
        self._scripts[home.id].add(name)
        return name

    def _place(self, page: Page, home: Stack, script: str, code: SheetCode) -> PagePlace:
        blank = next((b.id for b in self._records.blanks(home) if b.page == code.page), None)
        key = (home.id, script, code.page)
        twice = key in self._taken
        self._taken.add(key)
        why_not = _TWICE.format(page=code.page, script=script) if twice else None
        return PagePlace(page, home, script, code.page - 1, blank, why_not)


def _follows(code: SheetCode, before: SheetCode) -> bool:
    return code.worksheet == before.worksheet and code.page == before.page + 1
