from __future__ import annotations

import json
import sqlite3

import pytest

from ui import records as module
from ui.records import NewPage, NoSuchStack, Records, RecordsFromLater, natural_order


@pytest.fixture
def records(tmp_path):
    opened = Records.open(tmp_path / "data")
    yield opened
    opened.close()


def page(script: str, content: str) -> NewPage:
    return NewPage(script, content, f"{content}.jpg", module.Path(f"{content}.jpg"))


def test_a_stack_is_made_once(records):
    first = records.stack_or_new("Beads 11B")
    assert records.stack_or_new("Beads 11B") == first
    assert [stack.name for stack in records.stacks()] == ["Beads 11B"]
    assert first.folder.is_dir()


def test_unknown_stack_is_said_in_one_sentence(records):
    with pytest.raises(NoSuchStack, match="no stack named “Droplets”"):
        records.stack("Droplets")


def test_a_photo_is_taken_in_once_whatever_its_name(records):
    stack = records.stack_or_new("beads")
    assert records.add_pages(stack, [page("Anna", "aa"), page("Ben", "bb")]) == 2
    assert records.add_pages(stack, [page("Carl", "aa"), page("Carl", "cc")]) == 1
    assert [script.name for script in records.scripts(stack)] == ["Anna", "Ben", "Carl"]


def test_pages_of_a_script_keep_their_order(records):
    stack = records.stack_or_new("beads")
    records.add_pages(stack, [page("Anna", "front"), page("Anna", "back")])
    records.add_pages(stack, [page("Anna", "more")])
    assert [(p.content, p.place) for p in records.pages(stack)] == [
        ("front", 0),
        ("back", 1),
        ("more", 2),
    ]


def test_another_page_has_its_script_checked_again(records):
    stack = records.stack_or_new("beads")
    records.add_pages(stack, [page("Anna", "front"), page("Ben", "b")])
    for script in records.scripts(stack):
        records.set_findings(script.id, "{}", "{}")
    records.add_pages(stack, [page("Anna", "back")])
    assert [s.findings for s in records.scripts(stack)] == [None, "{}"]


def test_a_page_that_failed_is_tried_again_when_it_is_handed_in_again(records):
    stack = records.stack_or_new("beads")
    records.add_pages(stack, [page("Anna", "aa")])
    (failed,) = records.pages(stack)
    records.set_page(failed.id, "failed", message="too dark")
    assert records.add_pages(stack, [page("Anna", "aa")]) == 0
    assert records.pages(stack)[0].state == "waiting"


def test_a_decision_takes_the_place_of_the_one_before_and_can_be_undone(records):
    stack = records.stack_or_new("beads")
    records.add_pages(stack, [page("Anna", "aa")])
    (script,) = records.scripts(stack)
    records.decide(script.id, "marks", "2.1", "3")
    records.decide(script.id, "marks", "2.1", "4")
    records.decide(script.id, "reading", "2.1", "=4 N", line=1)
    assert [d.text for d in records.decisions(stack)] == ["4", "=4 N"]
    assert all(d.decided_by == "teacher" for d in records.decisions(stack))
    undone = records.undo(stack)
    assert undone is not None and undone.text == "=4 N"
    assert [d.text for d in records.decisions(stack)] == ["4"]
    records.undo(stack)
    assert records.undo(stack) is None


def test_a_deleted_stack_leaves_no_trace_in_the_data_folder(records):
    stack = records.stack_or_new("secret name")
    other = records.stack_or_new("other")
    records.add_pages(stack, [page("Zebediah", "zz")])
    records.add_pages(other, [page("Anna", "zz")])
    (script,) = records.scripts(stack)
    records.decide(script.id, "marks", "1", "a remarkable decision")
    records.add_blank(stack, "blank.png", "[]", [records.pages(stack)[0].id])
    (stack.folder / "page.jpg").write_bytes(b"ink of Zebediah")
    records.delete(stack)
    left = b"".join(p.read_bytes() for p in records.folder.rglob("*") if p.is_file())
    for trace in (b"Zebediah", b"secret name", b"remarkable"):
        assert trace not in left
    assert [s.name for s in records.stacks()] == ["other"]
    assert [p.content for p in records.pages(other)] == ["zz"]


def test_earlier_records_are_migrated_step_by_step(tmp_path, monkeypatch):
    Records.open(tmp_path).close()

    def to_next(connection):
        connection.execute(module.sql.text("ALTER TABLE stack ADD COLUMN school VARCHAR"))

    monkeypatch.setattr(module, "_MIGRATIONS", {**module._MIGRATIONS, module.SCHEMA: to_next})
    monkeypatch.setattr(module, "SCHEMA", module.SCHEMA + 1)
    Records.open(tmp_path).close()
    with sqlite3.connect(tmp_path / "records.sqlite") as plain:
        columns = {row[1] for row in plain.execute("PRAGMA table_info(stack)")}
        (version,) = plain.execute("SELECT version FROM schema_version").fetchone()
    assert "school" in columns
    assert version == module.SCHEMA


def test_records_of_version_1_keep_what_was_read(tmp_path):
    """The tables as the first version made them, with one blank that was read."""
    records = Records.open(tmp_path)
    stack = records.stack_or_new("beads")
    records.add_pages(stack, [page("Anna", "aa")])
    records.add_blank(stack, "blank.png", "[[], []]", [records.pages(stack)[0].id])
    records.close()
    with sqlite3.connect(tmp_path / "records.sqlite") as plain:
        for table, column in (
            ("stack", "printed"),
            ("stack", "class_list"),
            ("page", "code"),
            ("blank", "page"),
        ):
            plain.execute(f"ALTER TABLE {table} DROP COLUMN {column}")
        plain.execute("UPDATE schema_version SET version = 1")
    records = Records.open(tmp_path)
    (blank,) = records.blanks(records.stack("beads"))
    assert json.loads(blank.layout) == {"lines": [], "spaces": []}
    assert blank.page is None
    (kept,) = records.pages(records.stack("beads"))
    assert (kept.content, kept.blank, kept.code) == ("aa", blank.id, None)
    records.close()


def test_records_of_a_later_version_are_left_alone(tmp_path):
    Records.open(tmp_path).close()
    with sqlite3.connect(tmp_path / "records.sqlite") as plain:
        plain.execute("UPDATE schema_version SET version = 99")
    with pytest.raises(RecordsFromLater, match="later version"):
        Records.open(tmp_path)


def test_any_sqlalchemy_address_is_taken(tmp_path):
    address = f"sqlite:///{tmp_path / 'elsewhere.db'}"
    records = Records.open(tmp_path / "data", address)
    records.stack_or_new("beads")
    records.close()
    assert (tmp_path / "elsewhere.db").exists()
    assert not (tmp_path / "data" / "records.sqlite").exists()


def test_names_sort_as_people_count():
    names = ["script 10", "script 9", "Script 1"]
    assert sorted(names, key=natural_order) == ["Script 1", "script 9", "script 10"]
