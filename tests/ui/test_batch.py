from __future__ import annotations

import json
import re
import zipfile

import pytest
from PIL import Image

from scanner.errors import BadFile, ExitCode
from tests.ui.cluster import two_worker_cluster
from tests.ui.drawn_scripts import write_scripts
from tests.ui.fixed_reader import load_fixed_reader
from ui.batch import HERE, Progress, page_from_json, run_stack
from ui.records import Records
from ui.stack_intake import take_in
from ui.workers import LocalWorkers

WRITERS = range(6)


@pytest.fixture(scope="module", autouse=True)
def five_pages_share_their_print():
    """Fewer than usual, to be quick: the drawn writers keep apart."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("ui.batch.LEAST_FOR_BLANK", 5)
        yield


@pytest.fixture(scope="module")
def photos(tmp_path_factory):
    return write_scripts(tmp_path_factory.mktemp("photos"), WRITERS)


@pytest.fixture
def records(tmp_path):
    opened = Records.open(tmp_path / "data")
    yield opened
    opened.close()


def run(records, sources, **how):
    stack = records.stack_or_new("beads")
    how = {"workers": HERE, "load_reader": load_fixed_reader, **how}
    return run_stack(records, stack, sources, **how)


def results(records):
    """What was read and found of every script, times left out."""
    stack = records.stack("beads")
    return {
        script.name: (
            script.worksheet,
            re.sub(r'"seconds": [\d.]+', '"seconds": 0', script.findings or ""),
        )
        for script in records.scripts(stack)
        if script.worksheet is not None
    }


@pytest.fixture(scope="module")
def undisturbed(photos, tmp_path_factory):
    """Five scripts in one go, then a late one beside a file that is no photo."""
    records = Records.open(tmp_path_factory.mktemp("undisturbed"))
    first = run(records, photos[:5])
    early = results(records)
    told: list[Progress] = []
    bad = photos[0].parent / "learner-9.jpg"
    bad.write_bytes(b"not a photo")
    late = run(records, [photos[0].parent], tell=told.append)
    bad.unlink()
    return records, first, early, late, told


def test_every_photo_becomes_a_checked_script(undisturbed):
    records, outcome, _, _, _ = undisturbed
    assert (outcome.new_pages, outcome.checked, outcome.failures) == (5, 5, ())
    found = results(records)
    assert sorted(found) == [f"learner-{n}" for n in WRITERS]
    for _, findings in found.values():
        (sheet,) = json.loads(findings)["sheets"]
        assert [q["number"] for q in sheet["questions"]] == ["1.1", "1.2", "1.3"]
        givens = [g["text"] for g in sheet["questions"][0]["givens"]]
        assert givens == ["+4.8 nC", "-3.6 nC", "35 cm"]


def test_print_is_the_same_for_all_and_pen_is_each_writers_own(undisturbed):
    records = undisturbed[0]
    pages = [
        page_from_json(p.scanned)
        for p in records.pages(records.stack("beads"))
        if p.scanned is not None
    ]
    assert len({tuple((line.box, line.text) for line in p.print_lines) for p in pages}) == 1
    assert len({p.pen_lines for p in pages}) == len(pages)
    assert {len(page.pen_lines) for page in pages} == {6}


def test_late_scripts_alone_are_worked_on(undisturbed):
    records, _, early, outcome, told = undisturbed
    assert (outcome.new_pages, outcome.checked) == (2, 1)  # one of them is no photo
    assert {p.of for p in told if p.stage == "reading the scripts"} == {1}
    after = results(records)
    assert {name: after[name] for name in early} == early
    assert "learner-5" in after


def test_a_run_that_was_stopped_twice_comes_to_the_same_results_whoever_does_the_work(
    undisturbed, photos, records
):
    """Begun on a Dask cluster, gone on with by two processes, ended on the cluster."""
    with two_worker_cluster() as cluster:
        turns = (("finding the sheets", cluster), ("reading the scripts", LocalWorkers(2)))
        for stage, workers in turns:

            def stop(progress: Progress, stage: str = stage) -> None:
                if progress.stage == stage and progress.done == 2:
                    raise KeyboardInterrupt

            with pytest.raises(KeyboardInterrupt):
                run(records, photos[:5], tell=stop, workers=workers)
        assert results(records) != undisturbed[2]
        run(records, [], workers=cluster)
    assert results(records) == undisturbed[2]


def test_flattened_pages_keep_no_camera_data(undisturbed, photos):
    assert b"Camera of Marula Ridge" in photos[0].read_bytes()
    kept = list(undisturbed[0].stack("beads").folder.glob("*.jpg"))
    assert len(kept) == len(WRITERS)
    assert not any(b"Marula" in path.read_bytes() for path in kept)


def test_a_bad_photo_is_named_and_the_rest_goes_on(undisturbed):
    outcome = undisturbed[3]
    assert [failure.name for failure in outcome.failures] == ["learner-9.jpg"]
    assert outcome.checked == 1
    assert outcome.exit_code is ExitCode.PARTIAL


# --- intake -------------------------------------------------------------------------------


def names_of(records):
    stack = records.stack("beads")
    names = {script.id: script.name for script in records.scripts(stack)}
    return [(names[page.script], page.source) for page in records.pages(stack)]


def small(path, shade):
    path.parent.mkdir(parents=True, exist_ok=True)
    Image.new("RGB", (300, 400), (shade, shade, shade)).save(path)
    return path


def test_a_folder_inside_is_one_script(records, tmp_path):
    small(tmp_path / "in" / "Thandi" / "page 10.jpg", 10)
    small(tmp_path / "in" / "Thandi" / "page 9.jpg", 20)
    small(tmp_path / "in" / "Liam.jpg", 30)
    (tmp_path / "in" / "notes.txt").write_text("not a photo")
    take_in(records, records.stack_or_new("beads"), [tmp_path / "in"])
    assert names_of(records) == [
        ("Liam", "Liam.jpg"),
        ("Thandi", "page 9.jpg"),
        ("Thandi", "page 10.jpg"),
    ]


def test_loose_photos_are_gathered_by_so_many_pages(records, tmp_path):
    photos = [small(tmp_path / f"{n}.jpg", 10 * n) for n in range(1, 5)]
    take_in(records, records.stack_or_new("beads"), photos, pages_per_script=2)
    assert [script for script, _ in names_of(records)] == ["1", "1", "3", "3"]


def test_one_scanned_pdf_is_a_stack_and_is_taken_in_once(records, tmp_path):
    pages = [Image.new("RGB", (600, 800), (n, n, n)) for n in (10, 90, 170)]
    pages[0].save(tmp_path / "scan.pdf", save_all=True, append_images=pages[1:])
    stack = records.stack_or_new("beads")
    assert take_in(records, stack, [tmp_path / "scan.pdf"]).new == 3
    assert [script for script, _ in names_of(records)] == [f"scan page {n}" for n in (1, 2, 3)]
    assert take_in(records, stack, [tmp_path / "scan.pdf"]).new == 0


def test_a_pdf_among_photos_is_one_script(records, tmp_path):
    pages = [Image.new("RGB", (600, 800), (n, n, n)) for n in (10, 90)]
    pages[0].save(tmp_path / "Aisha.pdf", save_all=True, append_images=pages[1:])
    small(tmp_path / "Ben.jpg", 50)
    take_in(records, records.stack_or_new("beads"), [tmp_path / "Aisha.pdf", tmp_path / "Ben.jpg"])
    assert [script for script, _ in names_of(records)] == ["Aisha", "Aisha", "Ben"]


def test_folders_in_a_zip_are_scripts_and_climbing_paths_are_left_out(records, tmp_path):
    one, two = small(tmp_path / "a.jpg", 10), small(tmp_path / "b.jpg", 20)
    with zipfile.ZipFile(tmp_path / "stack.zip", "w") as packed:
        packed.write(one, "Anna/a.jpg")
        packed.write(two, "b.jpg")
        packed.write(two, "../../b.jpg")
    stack = records.stack_or_new("beads")
    taken = take_in(records, stack, [tmp_path / "stack.zip"])
    assert [script for script, _ in names_of(records)] == ["Anna", "b"]
    assert "points outside its zip" in taken.refused[0].message


def test_two_photos_of_one_name_are_two_scripts(records, tmp_path):
    photos = [small(tmp_path / "monday" / "1.jpg", 10), small(tmp_path / "tuesday" / "1.jpg", 20)]
    take_in(records, records.stack_or_new("beads"), photos)
    assert [script for script, _ in names_of(records)] == ["1", "1 (2)"]


def test_a_folder_without_photos_is_said(records, tmp_path):
    (tmp_path / "empty").mkdir()
    with pytest.raises(BadFile, match="holds no photo"):
        take_in(records, records.stack_or_new("beads"), [tmp_path / "empty"])
