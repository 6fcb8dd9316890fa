"""Marks as OneRoster 1.2 CSV: a zip with manifest, categories, line item and results.

The files and their columns follow the 1EdTech specification "OneRoster 1.2, CSV binding"; the
field list was written from memory and should be held against the published tables before a
school relies on it. The roster itself (users, classes, sessions) belongs to the school's own
system: those files are declared absent, and their sourcedIds are given to ``as_oneroster``.
"""

from __future__ import annotations

import csv
import io
import uuid
import zipfile
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime

from ui.mark_sheet import MarkSheet, Row, guarded

_SPACE = uuid.UUID("6f0c5a0e-6b0f-4d0c-9d7c-0d7f2f3e8a51")  # our own, for stable sourcedIds

FILES = (
    "academicSessions", "categories", "classes", "classResources", "courses", "courseResources",
    "demographics", "enrollments", "lineItemLearningObjectiveIds", "lineItems",
    "lineItemScoreScales", "orgs", "resources", "resultLearningObjectiveIds", "results",
    "resultScoreScales", "roles", "scoreScales", "userProfiles", "userResources", "users",
)  # fmt: skip
_PRESENT = ("categories", "lineItems", "results")

CATEGORIES = ("sourcedId", "status", "dateLastModified", "title", "weight")
LINE_ITEMS = (
    "sourcedId", "status", "dateLastModified", "title", "description", "assignDate", "dueDate",
    "classSourcedId", "categorySourcedId", "gradingPeriodSourcedId", "resultValueMin",
    "resultValueMax", "schoolSourcedId",
)  # fmt: skip
RESULTS = (
    "sourcedId", "status", "dateLastModified", "lineItemSourcedId", "studentSourcedId",
    "scoreStatus", "score", "scoreDate", "comment", "textScore", "classSourcedId", "inProgress",
    "incomplete", "late", "missing",
)  # fmt: skip


@dataclass(frozen=True)
class Roster:
    """sourcedIds of the school's own system; ``students`` by the name of their script."""

    class_id: str
    school_id: str
    grading_period_id: str
    students: Mapping[str, str]


def students_of(sheet: MarkSheet) -> dict[str, str]:
    """sourcedIds by script, as the class list has them for the scripts' learners."""
    return {
        row.script: row.learner.sourced_id
        for row in sheet.rows
        if row.learner is not None and row.learner.sourced_id
    }


def as_oneroster(sheet: MarkSheet, roster: Roster, when: datetime | None = None) -> bytes:
    """A zip with one line item for the worksheet and a result for each script with a student.

    A script on which a person must still look has ``scoreStatus`` "partially graded".
    """
    when = when or datetime.now(UTC)
    item = _id(sheet.stack, roster.class_id, "line item")
    category = _id(roster.class_id, "category")
    tables: dict[str, list[Sequence[str]]] = {
        "manifest": [("propertyName", "value"), *_manifest()],
        "categories": [CATEGORIES, _line(CATEGORIES, when, sourcedId=category, title="Worksheets")],
        "lineItems": [LINE_ITEMS, _line_item(sheet, roster, when, item, category)],
        "results": [RESULTS, *_results(sheet, roster, when, item)],
    }
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as packed:
        for name, rows in tables.items():
            packed.writestr(f"{name}.csv", _csv(rows))
    return stream.getvalue()


def _manifest() -> Iterable[tuple[str, str]]:
    yield "manifest.version", "1.0"
    yield "oneroster.version", "1.2"
    for name in FILES:
        yield f"file.{name}", "bulk" if name in _PRESENT else "absent"
    yield "source.systemName", "Worksheet photo check"
    yield "source.systemCode", "worksheet-photo-check"


def _line_item(
    sheet: MarkSheet, roster: Roster, when: datetime, item: str, category: str
) -> Sequence[str]:
    day = when.date().isoformat()
    most = sum(of or 0 for _, of in sheet.questions)
    return _line(
        LINE_ITEMS,
        when,
        sourcedId=item,
        title=sheet.stack,
        assignDate=day,
        dueDate=day,
        classSourcedId=roster.class_id,
        categorySourcedId=category,
        gradingPeriodSourcedId=roster.grading_period_id,
        resultValueMin="0.0",
        resultValueMax=f"{most:.1f}",
        schoolSourcedId=roster.school_id,
    )


def _results(
    sheet: MarkSheet, roster: Roster, when: datetime, item: str
) -> Iterable[Sequence[str]]:
    for row in sheet.rows:
        student = roster.students.get(row.script)
        if student is None:
            continue
        yield _line(
            RESULTS,
            when,
            sourcedId=_id(item, student),
            lineItemSourcedId=item,
            studentSourcedId=student,
            scoreStatus=_status(row),
            score=f"{row.total:.1f}",
            scoreDate=when.date().isoformat(),
            classSourcedId=roster.class_id,
        )


def _status(row: Row) -> str:
    return "partially graded" if row.to_look_at else "fully graded"


def _line(columns: Sequence[str], when: datetime, **values: str) -> list[str]:
    stamp = when.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%S.000Z")
    values = {"status": "active", "dateLastModified": stamp, **values}
    return [values.get(column, "") for column in columns]


def _id(*parts: str) -> str:
    return str(uuid.uuid5(_SPACE, "\n".join(parts)))


def _csv(rows: Iterable[Sequence[str]]) -> str:
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\r\n")
    writer.writerows([guarded(value) for value in row] for row in rows)
    return text.getvalue()
