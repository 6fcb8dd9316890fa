"""The records of stacks: one SQL database, the flattened pages beside it.

``Records.open()`` takes the user's data folder unless a folder or any SQLAlchemy address is
given. Only flattened pages are kept, as JPEG without the photo's place and camera data. Each
step of work is one transaction: what is recorded stays, whatever happens next.
"""

from __future__ import annotations

import json
import os
import re
import shutil
from collections.abc import Callable, Collection, Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Literal

import platformdirs
import sqlalchemy as sql
from sqlalchemy.orm import DeclarativeBase, Mapped, Session, mapped_column

from scanner.errors import BadFile, ExitCode, UserError

DATA_FOLDER_VARIABLE = "WORKSHEET_CHECK_DATA"
SCHEMA = 2
"""Version of the tables; ``_MIGRATIONS`` leads from each earlier one to the next."""

PageState = Literal["waiting", "flat", "read", "failed"]
DecisionKind = Literal["reading", "marks", "looked", "question", "learner"]
"""A line's reading; a question's marks; looked at and left as it is; a line's question; whose
script it is."""


class NoSuchStack(UserError):
    """A stack that is not in the records."""

    exit_code = ExitCode.USAGE


class RecordsFromLater(UserError):
    """Records that a later version of this tool wrote."""


# --- tables -------------------------------------------------------------------------------


class _Table(DeclarativeBase):
    """All tables of the records."""


class _Version(_Table):
    __tablename__ = "schema_version"
    version: Mapped[int] = mapped_column(primary_key=True)


class _Stack(_Table):
    __tablename__ = "stack"
    id: Mapped[int] = mapped_column(primary_key=True)
    name: Mapped[str] = mapped_column(unique=True)
    folder: Mapped[str] = mapped_column(unique=True)
    made_at: Mapped[str]
    worksheet: Mapped[str | None]
    guideline: Mapped[str | None]
    printed: Mapped[str | None]
    class_list: Mapped[str | None]


class _Script(_Table):
    __tablename__ = "script"
    id: Mapped[int] = mapped_column(primary_key=True)
    stack: Mapped[int] = mapped_column(sql.ForeignKey("stack.id"), index=True)
    name: Mapped[str]
    worksheet: Mapped[str | None]
    findings: Mapped[str | None]
    __table_args__ = (sql.UniqueConstraint("stack", "name"),)


class _Blank(_Table):
    __tablename__ = "blank"
    id: Mapped[int] = mapped_column(primary_key=True)
    stack: Mapped[int] = mapped_column(sql.ForeignKey("stack.id"), index=True)
    image: Mapped[str]
    layout: Mapped[str]
    page: Mapped[int | None]


class _Page(_Table):
    __tablename__ = "page"
    id: Mapped[int] = mapped_column(primary_key=True)
    script: Mapped[int] = mapped_column(sql.ForeignKey("script.id"), index=True)
    content: Mapped[str] = mapped_column(index=True)
    source: Mapped[str]
    path: Mapped[str]
    place: Mapped[int]
    state: Mapped[str]
    message: Mapped[str | None]
    image: Mapped[str | None]
    scanned: Mapped[str | None]
    blank: Mapped[int | None] = mapped_column(sql.ForeignKey("blank.id"))
    code: Mapped[str | None]


class _Decision(_Table):
    __tablename__ = "decision"
    id: Mapped[int] = mapped_column(primary_key=True)
    script: Mapped[int] = mapped_column(sql.ForeignKey("script.id"), index=True)
    kind: Mapped[str]
    question: Mapped[str]
    line: Mapped[int | None]
    text: Mapped[str]
    decided_by: Mapped[str]
    decided_at: Mapped[str]
    undone_at: Mapped[str | None]


def _to_2(connection: sql.Connection) -> None:
    """Printed worksheets and class lists; a blank's layout says where its codes lie."""
    for table, column, kind in (
        ("stack", "printed", "VARCHAR"),
        ("stack", "class_list", "VARCHAR"),
        ("page", "code", "VARCHAR"),
        ("blank", "page", "INTEGER"),
    ):
        connection.execute(sql.text(f"ALTER TABLE {table} ADD COLUMN {column} {kind}"))
    for number, layout in connection.execute(sql.text("SELECT id, layout FROM blank")).all():
        lines, spaces = json.loads(layout)
        changed = json.dumps({"lines": lines, "spaces": spaces}, ensure_ascii=False)
        connection.execute(
            sql.text("UPDATE blank SET layout = :layout WHERE id = :id"),
            {"layout": changed, "id": number},
        )


_MIGRATIONS: dict[int, Callable[[sql.Connection], None]] = {1: _to_2}


# --- what callers see -----------------------------------------------------------------------


@dataclass(frozen=True)
class Stack:
    """One stack; ``worksheet`` (saved worksheet, JSON) and ``guideline`` (text) where set.

    ``printed`` (``ui.printed_sheet.Printed``, JSON) where its worksheet was printed here;
    ``class_list`` (CSV) where one was given.
    """

    id: int
    name: str
    folder: Path
    made_at: str
    worksheet: str | None
    guideline: str | None
    printed: str | None = None
    class_list: str | None = None


@dataclass(frozen=True)
class Page:
    """One page of a script.

    ``content`` is the hash of the photo; ``image`` the flattened page; ``scanned`` its
    ``scanner.page.Page`` as JSON; ``blank`` the printed blank it was read against; ``code`` what
    a printed page says of itself (``scanner.marks.SheetCode``).
    """

    id: int
    script: int
    content: str
    source: str
    path: Path
    place: int
    state: PageState
    message: str | None
    image: Path | None
    scanned: str | None
    blank: int | None
    code: str | None = None


@dataclass(frozen=True)
class Script:
    """One script; ``worksheet`` and ``findings`` are JSON, None until it is checked."""

    id: int
    name: str
    worksheet: str | None
    findings: str | None


@dataclass(frozen=True)
class Blank:
    """The printed blank that pages share: its image and its ``layout`` as JSON.

    ``page`` is its page number where it is of a worksheet that was printed here.
    """

    id: int
    image: Path
    layout: str
    page: int | None = None


@dataclass(frozen=True)
class Decision:
    """What a person decided; ``line`` counts from 0 in the question's working."""

    id: int
    script: int
    kind: DecisionKind
    question: str
    line: int | None
    text: str
    decided_by: str
    decided_at: str


@dataclass(frozen=True)
class NewPage:
    """A page to be taken in, and the name of the script it belongs to."""

    script: str
    content: str
    source: str
    path: Path


@dataclass(frozen=True)
class PagePlace:
    """Where a page belongs; ``why_not`` says why it cannot be used after all."""

    page: Page
    stack: Stack
    script: str
    place: int
    blank: int | None
    why_not: str | None = None


# --- the records ------------------------------------------------------------------------------


class Records:
    """All stacks of one user. One process writes; workers hand their results to it."""

    def __init__(self, address: str, folder: Path) -> None:
        self.folder = folder
        self._engine = sql.create_engine(address)
        if self._engine.dialect.name == "sqlite":
            sql.event.listen(self._engine, "connect", _secure_sqlite)

    @classmethod
    def open(cls, folder: Path | None = None, address: str | None = None) -> Records:
        """Open the records, making or migrating the tables.

        Args:
            folder: where flattened pages are kept; by default the folder that
                WORKSHEET_CHECK_DATA names, else the user's data folder of this system.
            address: any SQLAlchemy database address; by default SQLite in ``folder``.

        Raises:
            BadFile: the folder or the database cannot be opened.
            RecordsFromLater: a later version of this tool wrote them.
        """
        folder = folder or data_folder()
        try:
            folder.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise BadFile(
                f"The folder for records, {folder}, cannot be made: {error.strerror}."
            ) from error
        records = cls(address or f"sqlite:///{folder / 'records.sqlite'}", folder)
        try:
            records._migrate()
        except sql.exc.DBAPIError as error:
            raise BadFile(
                "The records cannot be opened; check the database's address and its rights."
            ) from error
        return records

    def close(self) -> None:
        self._engine.dispose()

    def _migrate(self) -> None:
        with self._engine.begin() as connection:
            known = sql.inspect(connection).has_table("schema_version")
            version = connection.scalar(sql.select(_Version.version)) if known else None
            if version is None:
                _Table.metadata.create_all(connection)
                connection.execute(sql.insert(_Version).values(version=SCHEMA))
                return
            if version > SCHEMA:
                raise RecordsFromLater(
                    "A later version of this tool wrote these records; use that version."
                )
            for step in range(version, SCHEMA):
                _MIGRATIONS[step](connection)
            connection.execute(sql.update(_Version).values(version=SCHEMA))

    # --- stacks

    def stacks(self) -> list[Stack]:
        """All stacks, the newest first."""
        with Session(self._engine) as session:
            rows = session.scalars(sql.select(_Stack).order_by(_Stack.id.desc()))
            return [self._stack(row) for row in rows]

    def stack(self, name: str) -> Stack:
        """The stack of this name.

        Raises:
            NoSuchStack: there is none.
        """
        with Session(self._engine) as session:
            row = session.scalar(sql.select(_Stack).where(_Stack.name == name))
            if row is None:
                raise NoSuchStack(f"There is no stack named “{name}” in the records.")
            return self._stack(row)

    def stack_or_new(self, name: str) -> Stack:
        """The stack of this name, made when there is none."""
        with Session(self._engine) as session:
            row = session.scalar(sql.select(_Stack).where(_Stack.name == name))
            if row is None:
                row = _Stack(name=name, folder=f"new {name}", made_at=_now())
                session.add(row)
                session.flush()
                row.folder = f"stack-{row.id}-{_file_name(name)}"
                session.commit()
            (self.folder / row.folder).mkdir(parents=True, exist_ok=True)
            return self._stack(row)

    def set_worksheet(self, stack: Stack, worksheet: str | None) -> Stack:
        """Keep the stack's questions, as the JSON of a saved worksheet."""
        return self._set(stack, worksheet=worksheet)

    def set_guideline(self, stack: Stack, guideline: str | None) -> Stack:
        """Keep the stack's marking guideline, as its text."""
        return self._set(stack, guideline=guideline)

    def set_printed(self, stack: Stack, printed: str) -> Stack:
        """Keep what was printed of the stack's worksheet, as JSON."""
        return self._set(stack, printed=printed)

    def set_class_list(self, stack: Stack, class_list: str | None) -> Stack:
        """Keep the stack's class list, as its CSV text."""
        return self._set(stack, class_list=class_list)

    def delete(self, stack: Stack) -> None:
        """Delete a stack for good: rows, pages, decisions, and the space they took."""
        scripts = sql.select(_Script.id).where(_Script.stack == stack.id)
        with self._engine.begin() as connection:
            for table in (_Decision, _Page):
                connection.execute(sql.delete(table).where(table.script.in_(scripts)))
            connection.execute(sql.delete(_Script).where(_Script.stack == stack.id))
            connection.execute(sql.delete(_Blank).where(_Blank.stack == stack.id))
            connection.execute(sql.delete(_Stack).where(_Stack.id == stack.id))
        try:
            shutil.rmtree(stack.folder)
        except FileNotFoundError:
            pass
        except OSError as error:
            raise BadFile(
                f"{stack.folder} could not be deleted: {error.strerror}; delete it by hand."
            ) from error
        if self._engine.dialect.name == "sqlite":
            with self._engine.connect().execution_options(isolation_level="AUTOCOMMIT") as plain:
                plain.execute(sql.text("VACUUM"))

    # --- scripts and pages

    def scripts(self, stack: Stack) -> list[Script]:
        """The stack's scripts by name, numbers in the order of their size."""
        with Session(self._engine) as session:
            rows = session.scalars(sql.select(_Script).where(_Script.stack == stack.id))
            found = [Script(r.id, r.name, r.worksheet, r.findings) for r in rows]
            return sorted(found, key=lambda script: natural_order(script.name))

    def pages(self, stack: Stack) -> list[Page]:
        """All pages of a stack, by script and place."""
        with Session(self._engine) as session:
            rows = session.execute(
                sql.select(_Page, _Script.name)
                .join(_Script, _Page.script == _Script.id)
                .where(_Script.stack == stack.id)
            ).all()
            ordered = sorted(rows, key=lambda row: (natural_order(row[1]), row[0].place))
            return [self._page(row, stack) for row, _ in ordered]

    def add_pages(self, stack: Stack, new: Iterable[NewPage]) -> int:
        """Take pages in that the stack does not hold yet; returns how many.

        A page that failed is tried again. A script that gets another page is checked again.
        """
        with Session(self._engine) as session:
            of_stack = sql.select(_Script).where(_Script.stack == stack.id)
            scripts = {row.name: row for row in session.scalars(of_stack)}
            known = {
                row.content: row
                for row in session.scalars(
                    sql.select(_Page).join(_Script).where(_Script.stack == stack.id)
                )
            }
            places: dict[int, int] = {}
            for row in known.values():
                places[row.script] = max(places.get(row.script, 0), row.place + 1)
            added = 0
            for page in new:
                again = known.get(page.content)
                if again is not None:
                    if again.state == "failed":
                        again.state, again.message, again.path = "waiting", None, str(page.path)
                    continue
                script = scripts.get(page.script)
                if script is None:
                    script = scripts[page.script] = _Script(stack=stack.id, name=page.script)
                    session.add(script)
                    session.flush()
                script.worksheet = script.findings = None
                row = _Page(
                    script=script.id,
                    content=page.content,
                    source=page.source,
                    path=str(page.path),
                    place=places.get(script.id, 0),
                    state="waiting",
                )
                session.add(row)
                known[page.content] = row
                places[script.id] = row.place + 1
                added += 1
            session.commit()
            return added

    def set_page(
        self,
        page: int,
        state: PageState,
        *,
        image: str | None = None,
        scanned: str | None = None,
        message: str | None = None,
        blank: int | None = None,
        code: str | None = None,
    ) -> None:
        """Record what became of a page; what is None stays as it was."""
        given = {"image": image, "scanned": scanned, "message": message}
        values = {
            name: value
            for name, value in {**given, "blank": blank, "code": code}.items()
            if value is not None
        }
        with self._engine.begin() as connection:
            connection.execute(
                sql.update(_Page).where(_Page.id == page).values(state=state, **values)
            )

    def place_pages(self, places: Sequence[PagePlace]) -> None:
        """Give pages their scripts (made when there are none), all at once.

        Scripts that gain or lose a page are checked again; one that is left without pages goes.
        The images must lie in the folder of their stack.
        """
        with Session(self._engine) as session:
            for one in places:
                row = session.get_one(_Page, one.page.id)
                left = session.get_one(_Script, row.script)
                joined = session.scalar(
                    sql.select(_Script).where(
                        (_Script.stack == one.stack.id) & (_Script.name == one.script)
                    )
                )
                if joined is None:
                    joined = _Script(stack=one.stack.id, name=one.script)
                    session.add(joined)
                    session.flush()
                row.script, row.place, row.blank = joined.id, one.place, one.blank
                if one.why_not is not None:
                    row.state, row.message = "failed", one.why_not
                if left.id == joined.id:
                    continue
                left.worksheet = left.findings = joined.worksheet = joined.findings = None
                session.flush()
                if not session.scalar(sql.select(_Page.id).where(_Page.script == left.id)):
                    session.execute(sql.delete(_Decision).where(_Decision.script == left.id))
                    session.delete(left)
            session.commit()

    def set_findings(self, script: int, worksheet: str, findings: str) -> None:
        """Record what a script holds and what was found, both JSON."""
        with self._engine.begin() as connection:
            connection.execute(
                sql.update(_Script)
                .where(_Script.id == script)
                .values(worksheet=worksheet, findings=findings)
            )

    def forget_findings(self, stack: Stack) -> None:
        """Have every script checked again from its readings."""
        with self._engine.begin() as connection:
            connection.execute(
                sql.update(_Script)
                .where(_Script.stack == stack.id)
                .values(worksheet=None, findings=None)
            )

    def add_blank(
        self,
        stack: Stack,
        image: str,
        layout: str,
        pages: Sequence[int] = (),
        number: int | None = None,
    ) -> int:
        """Record a printed blank and the pages that share it; returns its id.

        ``number`` is its page number where the worksheet was printed here.
        """
        with Session(self._engine) as session:
            blank = _Blank(stack=stack.id, image=image, layout=layout, page=number)
            session.add(blank)
            session.flush()
            session.execute(sql.update(_Page).where(_Page.id.in_(pages)).values(blank=blank.id))
            session.commit()
            return blank.id

    def blanks(self, stack: Stack) -> list[Blank]:
        with Session(self._engine) as session:
            rows = session.scalars(
                sql.select(_Blank).where(_Blank.stack == stack.id).order_by(_Blank.id)
            )
            return [Blank(row.id, stack.folder / row.image, row.layout, row.page) for row in rows]

    # --- decisions

    def decide(
        self,
        script: int,
        kind: DecisionKind,
        question: str,
        text: str,
        line: int | None = None,
        by: str = "teacher",
    ) -> int:
        """Record a decision; it takes the place of an earlier one about the same thing."""
        with self._engine.begin() as connection:
            same = (
                (_Decision.script == script)
                & (_Decision.kind == kind)
                & (_Decision.question == question)
                & (_Decision.line.is_(None) if line is None else _Decision.line == line)
                & _Decision.undone_at.is_(None)
            )
            connection.execute(sql.update(_Decision).where(same).values(undone_at=_now()))
            made = connection.execute(
                sql.insert(_Decision).values(
                    script=script,
                    kind=kind,
                    question=question,
                    line=line,
                    text=text,
                    decided_by=by,
                    decided_at=_now(),
                )
            )
            return int(made.inserted_primary_key[0])  # type: ignore[index]

    def undo(self, stack: Stack) -> Decision | None:
        """Take the latest decision of a stack back; returns it, or None when there is none."""
        latest = max(self.decisions(stack), key=lambda d: d.id, default=None)
        if latest is not None:
            with self._engine.begin() as connection:
                connection.execute(
                    sql.update(_Decision).where(_Decision.id == latest.id).values(undone_at=_now())
                )
        return latest

    def decisions(self, stack: Stack) -> list[Decision]:
        """The decisions that stand, in the order they were made."""
        with Session(self._engine) as session:
            rows = session.scalars(
                sql.select(_Decision)
                .join(_Script, _Decision.script == _Script.id)
                .where((_Script.stack == stack.id) & _Decision.undone_at.is_(None))
                .order_by(_Decision.id)
            )
            return [
                Decision(
                    row.id,
                    row.script,
                    row.kind,  # type: ignore[arg-type]
                    row.question,
                    row.line,
                    row.text,
                    row.decided_by,
                    row.decided_at,
                )
                for row in rows
            ]

    # --- rows to what callers see

    def _set(self, stack: Stack, **values: str | None) -> Stack:
        with self._engine.begin() as connection:
            connection.execute(sql.update(_Stack).where(_Stack.id == stack.id).values(**values))
        return self.stack(stack.name)

    def _stack(self, row: _Stack) -> Stack:
        folder = self.folder / row.folder
        return Stack(
            row.id,
            row.name,
            folder,
            row.made_at,
            row.worksheet,
            row.guideline,
            row.printed,
            row.class_list,
        )

    @staticmethod
    def _page(row: _Page, stack: Stack) -> Page:
        return Page(
            row.id,
            row.script,
            row.content,
            row.source,
            Path(row.path),
            row.place,
            row.state,  # type: ignore[arg-type]
            row.message,
            stack.folder / row.image if row.image else None,
            row.scanned,
            row.blank,
            row.code,
        )


def data_folder() -> Path:
    """Where records are kept unless told otherwise."""
    named = os.environ.get(DATA_FOLDER_VARIABLE)
    return Path(named) if named else Path(platformdirs.user_data_dir("worksheet-check", False))


def natural_order(name: str) -> tuple[tuple[int, str], ...]:
    """Sort key under which ``page 9`` comes before ``page 10``."""
    pieces = re.split(r"(\d+)", name.casefold())
    return tuple((int(p), "") if p.isdecimal() else (-1, p) for p in pieces)


def free_name(name: str, taken: Collection[str]) -> str:
    """The name, with a number behind it where it is taken."""
    free, number = name, 2
    while free in taken:
        free, number = f"{name} ({number})", number + 1
    return free


def _now() -> str:
    return datetime.now(UTC).isoformat(timespec="seconds")


def _file_name(name: str) -> str:
    return re.sub(r"[^A-Za-z0-9-]+", "-", name).strip("-")[:40] or "stack"


def _secure_sqlite(connection, _) -> None:
    """Deleted rows are overwritten, and references between tables are held to."""
    connection.execute("PRAGMA secure_delete = ON")
    connection.execute("PRAGMA foreign_keys = ON")
