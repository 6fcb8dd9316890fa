"""Every word the stack's screen shows, in one place for translation."""

from __future__ import annotations

STACK = "Stack of scripts"
LEAD = (
    "Hand in the scripts of one worksheet, look over what is in doubt, and take home a mark sheet, "
    "a page for each learner and what to teach again."
)
WHICH = "Stack"
JUDGING = "Judging by the rules as they are now"
NEW = "A new stack"
NAME = "Name of the new stack"
NAME_EXAMPLE = "Beads and droplets, 11B, May"

PRINT, HAND_IN, WORKSHEET, LOOK_OVER, MARKS, CLASS, PRACTISE, DELETE = (
    "Print",
    "Hand in",
    "Worksheet",
    "Look over",
    "Marks",
    "Class",
    "Practise",
    "Delete",
)
VIEWS = (PRINT, HAND_IN, WORKSHEET, LOOK_OVER, MARKS, CLASS, PRACTISE, DELETE)
VIEW = "What to do"

# --- print
PRINT_LEAD = (
    "Print a worksheet with a code on every page. Its photos then sort themselves, in any order "
    "and mixed with other worksheets, and nothing printed has to be read."
)
QUESTIONS = "The questions, as typed"
CLASS_LIST = "Class list (CSV with a column headed name)"
COPIES_HELP = "With a class list, each learner gets a copy with the name on it; else one is copied."
MAKE_SHEET = "Make the worksheet"
WORKSHEET_PDF = "Worksheet (PDF)"

# --- hand in
UPLOAD = "Photos, scans, PDFs or a zip of all scripts"
FOLDER = "Or a folder on this computer"
FOLDER_HELP = "Each photo in it is a script; each folder inside it is one script of several pages."
PAGES = "Photos or PDF pages a script"
TYPED = "The questions, typed (only where they are not on the scripts)"
CHECK = "Check these scripts"
GO_ON = "Go on where it stopped"
STANDS = "{checked} of {scripts} scripts checked."
UNFINISHED = "{count} pages are not done yet."
NOTHING = "Choose files or name a folder first."
NO_FOLDER = "There is no folder {name} on this computer."
TELL = "{stage}: {done} of {of}"
LEFT = ", about {left} left"
FAILED = "Could not be used"

# --- worksheet
NO_WORKSHEET = "No script is checked yet, so there is no worksheet to show."
UNDERSTOOD = "What was understood, for all scripts"
GUIDELINE = "Marking guideline"
GUIDELINE_HELP = (
    "One line a mark point: what it is worth, and what for (formula, substitution, answer, "
    "direction, open). Empty it to go back to the usual split."
)
USE_GUIDELINE = "Mark the stack by this"
EXPECTED = "Expected answer with its unit, for example 2.4x10^-5 N"
USE_FOR_ALL = "Use this for all scripts"

# --- look over
NOTHING_OPEN = "Nothing is left to look at."
LEFT_TO_LOOK = "{count} to look at"
WHOSE = "{script}, question {question}"
WHOSE_LINE = "{script}"
MAY_SAY = "What does it say?"
OTHER = "Something else"
USE = "Use this"
AS_IT_IS = "Leave it as it is"
LATER = "Later"
UNDO = "Undo"
TAKEN_BACK = {"worksheet": "the change of the questions", "guideline": "the marking guideline"}
UNDONE = "Taken back: {what}."
WHOSE_SCRIPT = "Whose script is it?"
OTHER_LEARNER = "Someone else of the class"
NO_SCRIPT_OF = "No script yet of {names}."
WENT_ELSEWHERE = "Pages with the code of {stack} went there and are checked."
WHICH_QUESTION = "Which question does it belong to?"
GIVE = "How many marks?"
SUGGESTED = "{suggested} of {of} suggested"
MORE = "More of the page"
KEYS = "Keys: a number chooses, L leaves it, S later, U undoes."
HANDWRITING = "The handwriting"

# --- marks, class, practise, delete
CSV, XLSX = "Mark sheet (CSV)", "Mark sheet (XLSX)"
MAKE_REPORTS = "Make a PDF for each learner"
REPORTS = "All learners' PDFs (zip)"
EMPTY_MARK = (
    "“Look first”: a person must look before there is a mark. Press a cell to see the script below."
)
LOOK_FIRST = "look first"
NOTHING_HANDED_IN = "No script is handed in yet."
ONE_OF_THEM = "Marks beside the handwriting"
WHOSE_MARKS = "Whose?"
NOT_CHECKED = "This script could not be checked; a person marks it."
SUCCESS = "Marks earned, by question"
SPREAD = "Spread of marks"
TEACH = "What to teach again"
NO_TOTALS = "No script has all its marks yet; look over what is in doubt first."
NOT_COUNTED = "Not counted yet, because a person must look first: {count}."
NO_SLIP = "No slip was found."
SLIP = "{name}: {count} of {of} scripts, question {where}"
CLASS_PDF = "Class summary (PDF)"
FOR_WHOM = "For whom?"
WHOLE_CLASS = "The whole class"
COUNT = "How many questions?"
SEED = "Version"
SEED_HELP = "Another version has other numbers; the same version always has the same."
MAKE = "Make a practice sheet"
SHEET_PDF, ANSWERS_PDF = "Practice sheet (PDF)", "Answer sheet (PDF)"
DELETE_LEAD = (
    "This deletes the stack for good: photos, readings, findings, decisions. It cannot be undone."
)
DELETE_NAME = "Type the stack's name to delete it"
DELETE_NOW = "Delete for good"
OTHER_NAME = "That is not the name of this stack; nothing is deleted."
DELETED = "“{name}” is deleted."
