"""The command line's ``stack`` commands: run, print, learners, marks, reports and the others."""

from __future__ import annotations

import argparse
import csv
import sys
import time
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from scanner.errors import BadFile, ExitCode
from ui import words

if TYPE_CHECKING:
    from ui.batch import Progress, RunOutcome
    from ui.records import Records, Stack


def add_stack_commands(commands: Any) -> None:
    """Add ``stack`` and what follows it to the command line's parser."""
    stack = commands.add_parser(
        "stack",
        help="a pile of scripts in, a mark sheet out",
        description="Many scripts of one worksheet: check, mark sheet, reports, practice.",
    )
    does = stack.add_subparsers(dest="stack_command", required=True, metavar="WHAT")

    run = _command(does, "run", _run, "take photos in and check them; run again to go on")
    run.add_argument(
        "sources", nargs="*", type=Path, metavar="SOURCE", help="folders, photos, PDFs, zips"
    )
    run.add_argument("--worksheet", type=Path, metavar="FILE", help="take the questions from here")
    run.add_argument(
        "--class-list",
        type=Path,
        metavar="FILE",
        help="CSV of the learners, to find whose is whose",
    )
    run.add_argument("--guideline", type=Path, metavar="FILE", help="marking guideline, plain text")
    run.add_argument("--workers", type=_count, metavar="N", help="processes (one a processor core)")
    run.add_argument(
        "--watch", action="store_true", help="stay, and check what arrives in the folders"
    )
    run.add_argument(
        "--cluster", metavar="ADDRESS", help="a Dask scheduler whose workers do the work instead"
    )
    run.add_argument(
        "--pages", type=int, default=1, metavar="N", help="photos or PDF pages a script (1)"
    )

    sheet = _command(does, "print", _print, "print the worksheet, with a code for later photos")
    sheet.add_argument("questions", type=Path, metavar="FILE", help="the questions as plain text")
    sheet.add_argument("--out", type=Path, required=True, metavar="FILE", help="the PDF")
    sheet.add_argument(
        "--class-list", type=Path, metavar="FILE", help="CSV of the learners: a copy for each"
    )
    sheet.add_argument(
        "--copies", type=_count, metavar="N", help="numbered copies (one without a number)"
    )

    learners = _command(does, "learners", _learners, "whose script is whose; set it by --is")
    learners.add_argument("--script", help="the script to set")
    learners.add_argument("--is", dest="learner", metavar="NAME", help="its learner")

    listing = does.add_parser("list", help="stacks in the records")
    _add_records(listing)
    listing.set_defaults(run=_list)

    marks = _command(does, "marks", _marks, "write the mark sheet")
    marks.add_argument("--csv", type=Path, metavar="FILE")
    marks.add_argument("--xlsx", type=Path, metavar="FILE")
    marks.add_argument("--oneroster", type=Path, metavar="FILE", help="zip of OneRoster 1.2 CSV")
    marks.add_argument(
        "--students",
        type=Path,
        metavar="FILE",
        help="for OneRoster: CSV with the columns script and sourcedId (else the class list)",
    )
    marks.add_argument("--class-id", default="", help="for OneRoster: the class's sourcedId")
    marks.add_argument("--school-id", default="", help="for OneRoster: the school's sourcedId")
    marks.add_argument("--period-id", default="", help="for OneRoster: the grading period's")

    reports = _command(does, "reports", _reports, "write a PDF a script and the class summary")
    reports.add_argument("--out", type=Path, required=True, metavar="FOLDER")

    practise = _command(does, "practise", _practise, "write a practice sheet and its answers")
    practise.add_argument("--out", type=Path, required=True, metavar="FOLDER")
    practise.add_argument("--script", help="for the slips of this script alone")
    practise.add_argument("--count", type=int, default=6, help="questions (6)")
    practise.add_argument("--seed", type=int, default=1, help="another number, other questions")

    guideline = _command(does, "guideline", _guideline, "print or set the marking guideline")
    guideline.add_argument("file", nargs="?", type=Path, metavar="FILE", help="set it from here")

    delete = _command(does, "delete", _delete, "delete a stack for good")
    delete.add_argument("--yes", action="store_true", help="do not ask")


def _command(does: Any, name: str, run: Any, help_text: str) -> argparse.ArgumentParser:
    parser = does.add_parser(name, help=help_text, description=words.CARE)
    parser.add_argument("--name", required=True, help="the stack's name")
    _add_records(parser)
    parser.set_defaults(run=run)
    return parser


def _add_records(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--data", type=Path, metavar="FOLDER", help="folder of the records")
    parser.add_argument("--records", metavar="ADDRESS", help="SQLAlchemy address of the records")


def _opened(chosen: argparse.Namespace) -> Records:
    from ui.records import Records

    return Records.open(chosen.data, chosen.records)


def _stack(chosen: argparse.Namespace) -> tuple[Records, Stack]:
    records = _opened(chosen)
    return records, records.stack(chosen.name)


# --- run ------------------------------------------------------------------------------------


def _run(chosen: argparse.Namespace) -> ExitCode:
    from ui.batch import load_line_reader, run_stack
    from ui.check import text_of, worksheet_from_file
    from ui.class_list import read_class_list
    from ui.guideline import set_guideline, set_questions
    from ui.workers import ClusterWorkers, LocalWorkers, Workers

    if chosen.watch and not any(source.is_dir() for source in chosen.sources):
        raise BadFile("--watch needs a folder that photos arrive in.")
    records = _opened(chosen)
    guideline = text_of(chosen.guideline) if chosen.guideline else None
    questions = worksheet_from_file(chosen.worksheet) if chosen.worksheet else None
    learners = read_class_list(chosen.class_list) if chosen.class_list else None
    load_line_reader()  # says at once, in a sentence, when the reader is not installed
    stack = records.stack_or_new(chosen.name)
    if questions is not None:
        stack = set_questions(records, stack, questions)
    if guideline is not None:
        stack = set_guideline(records, stack, guideline)
    if learners is not None:
        stack = records.set_class_list(stack, learners)
    workers: Workers = LocalWorkers(chosen.workers)
    if chosen.cluster:
        workers = ClusterWorkers(chosen.cluster)

    def run_once(sources: Sequence[Path]) -> ExitCode:
        outcome = run_stack(
            records, stack, sources, workers=workers, pages_per_script=chosen.pages, tell=_teller()
        )
        outcomes = [(stack, outcome)]
        for other in outcome.elsewhere:  # pages went there by the code on them
            outcomes.append((other, run_stack(records, other, workers=workers, tell=_teller())))
        for one, result in outcomes:
            _say_outcome(records, one, result)
        print(words.CARE)
        return max(result.exit_code for _, result in outcomes)

    return _watch(chosen.sources, run_once) if chosen.watch else run_once(chosen.sources)


def _say_outcome(records: Records, stack: Stack, outcome: RunOutcome) -> None:
    from ui.class_list import without_script

    for failure in outcome.failures:
        print(failure.sentence, file=sys.stderr)
    print(f"{stack.name}: {outcome.new_pages} new pages, {outcome.checked} scripts checked.")
    _say_where_it_stands(records, stack)
    missing = without_script(records, stack)
    if missing:
        print(f"  No script yet of {', '.join(missing)}.")


def _watch(sources: Sequence[Path], run_once: Callable[[Sequence[Path]], ExitCode]) -> ExitCode:
    """Run, then run again whenever photos arrive, until Ctrl-C."""
    from ui.stack_intake import with_photos
    from ui.watch import arrivals

    status = ExitCode.OK
    try:
        turns = arrivals([source for source in sources if source.is_dir()])
        status = run_once(with_photos(sources))
        print("Waiting for photos; stop with Ctrl-C.", file=sys.stderr, flush=True)
        for _ in turns:
            status = run_once(with_photos(sources))
    except KeyboardInterrupt:
        print(file=sys.stderr)
    return status


def _count(text: str) -> int:
    """A count for an option: at least one."""
    number = int(text)
    if number < 1:
        raise argparse.ArgumentTypeError("must be at least 1")
    return number


def _teller() -> Any:
    """Progress on standard error; in a log a line every few seconds."""
    last = 0.0

    def tell(progress: Progress) -> None:
        nonlocal last
        now = time.monotonic()
        if not sys.stderr.isatty():
            if now - last < 5 and progress.done < progress.of:
                return
            last = now
        said = f"{progress.stage}: {progress.done} of {progress.of}"
        if progress.seconds_left is not None:
            said += f", about {_duration(progress.seconds_left)} left"
        if sys.stderr.isatty():
            end = "\n" if progress.done == progress.of else ""
            print(f"\r\033[K{said}", end=end, file=sys.stderr, flush=True)
        else:
            print(said, file=sys.stderr, flush=True)

    return tell


def _duration(seconds: float) -> str:
    minutes, rest = divmod(round(seconds), 60)
    return f"{minutes} min {rest} s" if minutes else f"{rest} s"


def _say_where_it_stands(records: Records, stack: Stack) -> None:
    from ui.look_over import KINDS, doubts

    found = doubts(records, stack)
    for kind, title in KINDS.items():
        count = sum(doubt.kind == kind for doubt in found)
        if count:
            print(f"  {count:4}  {title.lower()}")


# --- print, learners ------------------------------------------------------------------------


def _print(chosen: argparse.Namespace) -> ExitCode:
    from ui.check import text_of
    from ui.class_list import class_list, read_class_list
    from ui.print_worksheet import print_worksheet

    text = text_of(chosen.questions)
    learners = read_class_list(chosen.class_list) if chosen.class_list else None
    copies = [one.name for one in class_list(learners)]
    if chosen.copies and not copies:
        copies = [f"Copy {number}" for number in range(1, chosen.copies + 1)]
    records = _opened(chosen)
    stack, pdf = print_worksheet(records, chosen.name, text, copies)
    if learners is not None:
        records.set_class_list(stack, learners)
    _write(chosen.out, pdf)
    return ExitCode.OK


def _learners(chosen: argparse.Namespace) -> ExitCode:
    from ui.class_list import class_list, decide_learner, whose_scripts, without_script

    records, stack = _stack(chosen)
    scripts = {script.name: script for script in records.scripts(stack)}
    if chosen.script is not None:
        if chosen.script not in scripts:
            raise BadFile(f"There is no script named “{chosen.script}” in this stack.")
        named = [one.name for one in class_list(stack.class_list)]
        if chosen.learner not in named:
            raise BadFile("--is needs a name just as it stands on the class list.")
        decide_learner(records, scripts[chosen.script].id, chosen.learner)
    whose = whose_scripts(records, stack)
    for script in scripts.values():
        who = whose.get(script.id)
        print(f"{script.name}: {who.learner.name if who and who.learner else words.LOOK}")
    for name in without_script(records, stack):
        print(f"No script yet of {name}.")
    return ExitCode.OK if all(who.settled for who in whose.values()) else ExitCode.LOOK


# --- the other commands ---------------------------------------------------------------------


def _list(chosen: argparse.Namespace) -> ExitCode:
    records = _opened(chosen)
    for stack in records.stacks():
        scripts = records.scripts(stack)
        checked = sum(script.findings is not None for script in scripts)
        print(f"{stack.name}: {checked} of {len(scripts)} scripts checked, made {stack.made_at}")
    return ExitCode.OK


def _marks(chosen: argparse.Namespace) -> ExitCode:
    from ui.mark_sheet import as_csv, mark_sheet, write_csv, write_xlsx
    from ui.oneroster import Roster, as_oneroster, students_of

    sheet = mark_sheet(*_stack(chosen))
    if chosen.csv:
        write_csv(sheet, chosen.csv)
    if chosen.xlsx:
        write_xlsx(sheet, chosen.xlsx)
    if chosen.oneroster:
        students = _students(chosen.students) if chosen.students else students_of(sheet)
        if not (students and chosen.class_id and chosen.school_id and chosen.period_id):
            raise BadFile(
                "OneRoster needs --class-id, --school-id, --period-id, and --students or a class "
                "list with the column sourcedId."
            )
        roster = Roster(chosen.class_id, chosen.school_id, chosen.period_id, students)
        _write(chosen.oneroster, as_oneroster(sheet, roster))
    if not (chosen.csv or chosen.xlsx or chosen.oneroster):
        print(as_csv(sheet), end="")
    return ExitCode.LOOK if any(row.to_look_at for row in sheet.rows) else ExitCode.OK


def _students(path: Path) -> dict[str, str]:
    from ui.check import text_of

    rows = list(csv.DictReader(text_of(path).splitlines()))
    if not rows or not {"script", "sourcedId"} <= set(rows[0]):
        raise BadFile(f"{path.name} needs the columns script and sourcedId.")
    return {row["script"]: row["sourcedId"] for row in rows}


def _reports(chosen: argparse.Namespace) -> ExitCode:
    from ui.class_summary import class_summary
    from ui.report import class_pdf, write_scripts

    records, stack = _stack(chosen)
    written = write_scripts(records, stack, chosen.out / "scripts")
    path = chosen.out / "class-summary.pdf"
    _write(path, class_pdf(records, stack, class_summary(records, stack)))
    print(f"Wrote {len(written)} scripts and {path}.")
    return ExitCode.OK


def _practise(chosen: argparse.Namespace) -> ExitCode:
    from ui.class_summary import slips_for_practice
    from ui.guideline import questions_of
    from ui.practice import answers_pdf, practice_pdf, practice_questions

    records, stack = _stack(chosen)
    slips = slips_for_practice(records, stack, chosen.script)
    made = practice_questions(questions_of(records, stack), slips, chosen.count, chosen.seed)
    _write(chosen.out / "practice.pdf", practice_pdf(made))
    _write(chosen.out / "practice-answers.pdf", answers_pdf(made))
    return ExitCode.OK


def _guideline(chosen: argparse.Namespace) -> ExitCode:
    from ui.batch import check_scripts
    from ui.check import text_of
    from ui.guideline import departures, guideline_text, set_guideline

    records, stack = _stack(chosen)
    if chosen.file is None:
        print(guideline_text(records, stack), end="")
        return ExitCode.OK
    stack = set_guideline(records, stack, text_of(chosen.file))
    check_scripts(records, stack)
    for sentence in departures(records, stack):
        print(sentence, file=sys.stderr)
    return ExitCode.OK


def _delete(chosen: argparse.Namespace) -> ExitCode:
    records, stack = _stack(chosen)
    if not chosen.yes:
        print(f"Delete “{stack.name}” with all photos, findings and decisions? Type yes: ", end="")
        if input().strip().lower() != "yes":
            print("Nothing was deleted.")
            return ExitCode.USAGE
    records.delete(stack)
    print(f"“{stack.name}” is deleted for good.")
    return ExitCode.OK


def _write(path: Path, content: bytes) -> None:
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content)
    except OSError as error:
        raise BadFile(f"{path} could not be written: {error.strerror}.") from error
    print(words.WROTE.format(path=path), file=sys.stderr)
