"""Every word the page and the terminal show, in one place for translation."""

from __future__ import annotations

from parser.worksheet import Asked, Given
from solver.findings import Verdict

APP = "Worksheet check"
CARE = "First-pass check: the teacher decides; follow your school's marking rules."
PRIVACY = "Photos stay on this computer; nothing is sent anywhere."

# --- verdicts -----------------------------------------------------------------------------

VERDICT = {
    Verdict.AGREES: "agrees",
    Verdict.INCOMPLETE: "incomplete",
    Verdict.DIFFERS: "differs",
    Verdict.UNREAD: "unread",
    Verdict.UNSOLVED: "unsolved",
    Verdict.BLANK: "blank",
}
VERDICT_MEANS = {
    Verdict.AGREES: "The answer agrees with the expected result.",
    Verdict.INCOMPLETE: "The value is right; its unit, direction or figures are not complete.",
    Verdict.DIFFERS: "The answer differs from the expected result.",
    Verdict.UNREAD: "The writing could not be read surely enough; please look at it.",
    Verdict.UNSOLVED: "The question was not understood; the expected answer can be typed in.",
    Verdict.BLANK: "No answer was found.",
}
LOOK = "please look"
BY_PERSON = "corrected by a person"

# --- marks on the photo -------------------------------------------------------------------

GIVEN = "given"
ANSWER = "answer"
LINE = "line {number}"
BREAKS_HERE = "breaks here"
NOT_PLACED = "no question"

PHOTO = {
    "frame": "The photo with its marks; scroll to move it",
    "page": "The flattened photo with marks",
    "smaller": "Smaller",
    "larger": "Larger",
    "whole": "Whole page",
    "marks": "Outlines",
    "lead": "Go to this question.",
}

# --- findings -----------------------------------------------------------------------------

QUESTION = "Question {number}"
THE_QUESTION = "The question"
MARKS = "{suggested} of {of} marks suggested"
HEAD_GIVEN = "Given"
HEAD_ASKED = "Asked"
HEAD_WRITTEN = "Written"
HEAD_EXPECTED = "Expected"
NOT_READ = "could not be read"
STRUCK = "struck out"
LINE_BREAKS = "the working first breaks here"
EARNED = {True: "earned", False: "not earned", None: "a person decides"}
TO_LOOK_AT = "{count} to look at"

# --- command line -------------------------------------------------------------------------

WROTE = "Wrote {path}"
PAGE_AT = "The page is at {address} (stop it with Ctrl-C)."

# --- the page: one script -----------------------------------------------------------------

ONE_SCRIPT = "One script"
ONE_SCRIPT_TITLE = "Check one script"
ONE_SCRIPT_LEAD = (
    "Take or choose a photo of a worked sheet. It comes back with what was given and asked, what "
    "was written, and the first line where the working goes astray."
)
UPLOAD = "Photo, scan, PDF or zip of one script"
UPLOAD_HELP = (
    "On a phone this opens the camera too. Lay the sheet flat, with all four corners in view."
)
DEMO = "Show me with a demo sheet"
ELSEWHERE = "The questions are not on the photo"
QUESTIONS_FROM = "Where are the questions?"
QUESTIONS_TYPED = "I type them"
QUESTIONS_FILE = "In a file"
QUESTIONS_TEXT = "The questions, one under the other, with their numbers"
QUESTIONS_EXAMPLE = (
    "1. Two small beads carry charges of +2 nC and -5 nC. They are 3 cm apart.\n"
    "   Calculate the magnitude of the force between them. (4)"
)
QUESTIONS_UPLOAD = "Photo of the blank sheet, text file or saved worksheet"
QUESTIONS_FIRST = "Give the questions here first, then the photo above."
WORKING = "Looking at the sheet"
DONE = "Done"
ANOTHER = "Check another photo"
AGAIN = "Photograph it again"
AGAIN_LEAD = (
    "Put it right on paper first, beside or below the old line; strike out what no longer counts. "
    "Then take a new photo of the same sheet."
)
AGAIN_UPLOAD = "New photo of this sheet"
AGAIN_NOT_NOW = "Not now"
CHANGED = "What changed"
CHANGE = "{question}: {before} is now {after}"
UNCHANGED = "No verdict changed."
OTHER_SHEET = "None of the answers of before was found: is it the same sheet?"
UNDO = "Undo"
UNDO_HELP = "Takes back what you corrected last."
TRY = "Try it with fresh numbers"
TRY_HEAD = "The same question, fresh numbers"
TRY_TYPE = "Your working, one line under the other; the last line is your answer"
TRY_PART = "Your working for {number}; the last line is your answer"
TRY_CHECK = "Check it"
TRY_OTHER = "Other numbers"
TRY_NONE = "This question could not be set again with other numbers."
NO_SHEETS = "Nothing could be checked."
SHOW_MARKS = "Show suggested marks"
PAGE_CHOICE = "Page"
NO_QUESTIONS = "No question was found on this page."
SHOW_ON_PHOTO = "Show on the photo"
QUESTION_AS_READ = "The question as it was read"
NOT_UNDERSTOOD = "not understood"
NOTHING_GIVEN = "no quantity was found"
NOTHING_WRITTEN = "Nothing is written here."
WHERE_AND_WHY = "Where and why they differ"
WHY = {
    Verdict.AGREES: "Note",
    Verdict.INCOMPLETE: "What is missing",
    Verdict.DIFFERS: WHERE_AND_WHY,
    Verdict.UNREAD: "Please look, because",
    Verdict.UNSOLVED: "Please look, because",
    Verdict.BLANK: "Note",
}
FIRST_BREAK = "Line {number} is the first that does not follow."
FIRST_BREAK_WHY = "Line {number} is the first that does not follow: {note}."
BREAK_NOT_FOUND = "The answer differs, but no line could be pointed at."
SOMETHING_MISSING = "The value is right; something in the answer is missing."
HINT_GO_THROUGH = (
    "Go through the lines with the question beside you: each number, each sign, each power of ten."
)
HINT_LAW = "Start from this: {law}."
NO_CAUSE = "No single slip explains the difference; please look at the working."
UNFOLD = "Expected result and how to get there"
HELP_NEXT = ("", "Give me a hint", "Tell me what went wrong", "Show me how it goes")
HELP_HEADS = ("Where to look", "Hint", "What went wrong", "How it goes")
HELP_WAY = "Help"
STEP_BY_STEP = "A step at a time"
ALL_AT_ONCE = "All at once"
WITH = "with"
CORRECT = "Correct"
CORRECT_LINE = "What is written in line {number}?"
CORRECT_GIVEN = "What does the question say?"
CORRECT_HELP = "Ten to the minus nine: 10^-9. A fraction: a/b."
ALSO = "May also say"
USE_THIS = "Use this"
AS_READ = "Back to what was read"
TYPE_EXPECTED = "Expected answer with its unit, for example 2.4x10^-5 N"
TAKE_BACK = "Take it back"
TYPE_EXPECTED_HEAD = "Tell what the answer should be"
UNMATCHED_HEAD = "Written, but of no question"
SURE = "{percent} % sure"
LEGEND = "What the shapes mean"
ABOUT = "About and privacy"
ABOUT_TEXT = (
    "This is a first-pass check of numeric working. It recomputes each question from what the "
    "sheet says, and never lets the expected answer change what is read. What it cannot read or "
    "understand it puts in front of you. Readings can be wrong: look at the handwriting beside "
    "each one before you trust a verdict."
)
PRIVACY_TEXT = (
    "Photos are read on this computer. Those of one script are kept only while this page is "
    "open; those of a stack stay in your own data folder until you delete the stack. Place and "
    "camera data in a photo are dropped. No usage figures are sent."
)

_KIND = {
    "position": "place",
    "count": "number",
    "electron_count": "number of electrons",
    "separation": "distance between them",
}
_ON = frozenset({"force", "net_force", "weight"})
_WANTS = {
    "value": "",
    "magnitude": ", magnitude only",
    "vector": ", with its direction",
    "sign": ", its sign",
    "ratio": ", as a ratio",
    "count": ", how many",
    "position": ", where",
    "show": ", to be shown",
}


def kind_words(kind: str) -> str:
    """``field-strength`` as ``field strength``."""
    return _KIND.get(kind, kind.replace("-", " ").replace("_", " "))


def asked_words(asked: Asked) -> str:
    """What was understood to be asked: ``the force on A due to B, magnitude only``."""
    words = f"the {kind_words(asked.kind)}"
    if asked.of:
        words += f" {_of(asked.kind)} {asked.of}"
    if asked.at:
        words += f" {asked.at}" if asked.at in ("here", "there") else f" at {asked.at}"
    if asked.due_to:
        words += f" due to {and_words(asked.due_to)}"
    if asked.unit:
        words += f", in {asked.unit}"
    return words + _WANTS[asked.wants]


def given_words(given: Given) -> str:
    """What a given stands for: ``charge of A``, ``distance from A to B``."""
    words = kind_words(given.kind)
    if given.between:
        first, second = given.between
        way = ("from", "to") if given.kind == "distance" else ("between", "and")
        return f"{words} {way[0]} {first} {way[1]} {second}"
    if given.of is None or given.of == given.kind:
        return words
    return f"{words} {_of(given.kind)} {given.of}"


def _of(kind: str) -> str:
    return "on" if kind in _ON else "of"


def question_name(number: str) -> str:
    return QUESTION.format(number=number) if number else THE_QUESTION


def and_words(names: tuple[str, ...]) -> str:
    """``A, B and C``."""
    *head, last = names
    return f"{', '.join(head)} and {last}" if head else last
