from __future__ import annotations

import csv
import io
import zipfile
from datetime import UTC, datetime

import pytest

from solver.findings import Verdict
from ui.mark_sheet import Mark, MarkSheet, Row
from ui.oneroster import Roster, as_oneroster

WHEN = datetime(2026, 3, 4, 5, 6, 7, tzinfo=UTC)
ROSTER = Roster("class-11b", "school-1", "term-2", {"Aisha": "student-17", "Ben": "student-18"})


def mark(value: int, needs_person: bool = False) -> Mark:
    return Mark("1", Verdict.AGREES, value, 4, needs_person)


SHEET = MarkSheet(
    "Beads",
    (("1", 4),),
    (Row("Aisha", (mark(4),)), Row("Ben", (mark(3, True),)), Row("Unknown", (mark(2),))),
)


@pytest.fixture(scope="module")
def tables():
    with zipfile.ZipFile(io.BytesIO(as_oneroster(SHEET, ROSTER, WHEN))) as packed:
        return {
            name.removesuffix(".csv"): list(csv.DictReader(io.StringIO(packed.read(name).decode())))
            for name in packed.namelist()
        }


def test_manifest_declares_exactly_the_files_that_are_there(tables):
    declared = {row["propertyName"]: row["value"] for row in tables["manifest"]}
    assert declared["oneroster.version"] == "1.2"
    bulk = {name.removeprefix("file.") for name, value in declared.items() if value == "bulk"}
    assert bulk == set(tables) - {"manifest"}


# OneRoster 1.2 CSV binding, lineItems and results tables (from memory): required fields.
REQUIRED = {
    "lineItems": {
        "sourcedId", "title", "assignDate", "dueDate", "classSourcedId", "categorySourcedId",
        "resultValueMin", "resultValueMax", "schoolSourcedId",
    },
    "results": {"sourcedId", "lineItemSourcedId", "studentSourcedId", "scoreStatus", "scoreDate"},
    "categories": {"sourcedId", "title"},
}  # fmt: skip


@pytest.mark.parametrize("table", REQUIRED)
def test_required_fields_are_filled(tables, table):
    for row in tables[table]:
        assert all(row[field] for field in REQUIRED[table])


def test_results_point_at_the_line_item_and_the_schools_own_students(tables):
    (item,) = tables["lineItems"]
    assert (item["resultValueMax"], item["classSourcedId"]) == ("4.0", "class-11b")
    assert item["categorySourcedId"] == tables["categories"][0]["sourcedId"]
    results = [
        (row["studentSourcedId"], row["scoreStatus"], row["score"]) for row in tables["results"]
    ]
    assert results == [
        ("student-17", "fully graded", "4.0"),
        ("student-18", "partially graded", "0.0"),
    ]
    assert {row["lineItemSourcedId"] for row in tables["results"]} == {item["sourcedId"]}
    assert {row["dateLastModified"] for row in tables["results"]} == {"2026-03-04T05:06:07.000Z"}


def test_ids_stay_the_same_when_marks_are_sent_again(tables):
    again = as_oneroster(SHEET, ROSTER, datetime(2026, 4, 1, tzinfo=UTC))
    with zipfile.ZipFile(io.BytesIO(again)) as packed:
        rows = list(csv.DictReader(io.StringIO(packed.read("results.csv").decode())))
    assert [row["sourcedId"] for row in rows] == [row["sourcedId"] for row in tables["results"]]
