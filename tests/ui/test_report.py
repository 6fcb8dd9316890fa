from __future__ import annotations

import json
import re

import pypdfium2
import pytest

from scanner.page import Box
from tests.ui.stacks import stack_with_scripts
from ui.class_summary import class_summary, crop
from ui.print_text import markup
from ui.report import class_pdf, script_pdf, write_scripts


@pytest.fixture(scope="module")
def stack(tmp_path_factory):
    return stack_with_scripts(tmp_path_factory.mktemp("data"))


def text_of(pdf: bytes) -> str:
    document = pypdfium2.PdfDocument(pdf)
    pages = (document[i].get_textpage().get_text_range() for i in range(len(document)))
    return re.sub(r"\s+", " ", " ".join(pages))


def script(stack, name):
    return next(s for s in stack[0].scripts(stack[1]) if s.name == name)


def test_the_learner_sees_where_it_breaks_and_a_hint_but_not_the_result(stack):
    said = text_of(script_pdf(*stack, script(stack, "Ben")))
    assert "Beads 11B: Ben" in said
    assert "Question 1.1: differs" in said
    assert "Line 2 is the first that does not follow" in said
    assert "Hint:" in said
    assert "1.08 × 10" not in said and "1.08×10" not in said
    assert "the teacher decides" in said


def test_an_open_mark_is_left_to_a_person(stack):
    said = text_of(script_pdf(*stack, script(stack, "Dineo")))
    assert "Question 1.2: unread (a person marks this)" in said


def test_the_summary_counts_slips_and_marks(stack):
    summary = class_summary(*stack)
    assert (summary.scripts, summary.of, summary.to_look_at) == (4, 7, 1)
    (slip,) = summary.slips
    assert (slip.name, slip.count) == ("length-unit-left-unconverted", 2)
    assert slip.questions == (("1.1", 2),)
    assert sorted(summary.totals)[-1] == 7
    first, second = summary.questions
    assert first.counted == 4 and first.success is not None and 0 < first.success < 1
    assert (second.counted, second.success) == (3, 1.0)


def test_a_sample_crop_is_the_line_with_the_slip(stack):
    (slip,) = class_summary(*stack).slips
    picture = crop(*stack, *slip.places[0])
    assert picture is not None
    assert picture.shape[0] < 100 < picture.shape[1]
    assert crop(*stack, slip.places[0][0], Box(1, 1, 2, 2)) is None


def test_the_class_summary_on_paper_names_no_learner(stack):
    said = text_of(class_pdf(*stack, class_summary(*stack)))
    assert "length unit left unconverted: 2 of 4 scripts" in said
    assert "One answer still needs a person" in said
    assert not any(name in said for name in ("Aisha", "Ben", "Carl", "Dineo"))


def test_a_script_name_is_no_path(stack, tmp_path):
    written = write_scripts(*stack, tmp_path)
    assert [path.parent for path in written] == [tmp_path] * 4
    assert [path.name for path in written] == ["-Carl.pdf", "Aisha.pdf", "Ben.pdf", "Dineo.pdf"]


def test_markup_runs_nothing_and_raises_figures():
    assert markup("10⁻⁹ <b>C</b>") == "10<super>-9</super> &lt;b&gt;C&lt;/b&gt;"
    assert markup("Q₁") == "Q<sub>1</sub>"


def test_a_slip_counts_only_once_a_person_looked_where_one_must(tmp_path):
    records, stack = stack_with_scripts(tmp_path)
    ben = script((records, stack), "Ben")
    findings = json.loads(ben.findings)
    findings["sheets"][0]["questions"][0]["needs_person"] = True
    records.set_findings(ben.id, ben.worksheet, json.dumps(findings))
    assert class_summary(records, stack).slips[0].scripts == ("=Carl",)
    records.decide(ben.id, "marks", "1.1", "2")
    assert class_summary(records, stack).slips[0].count == 2
