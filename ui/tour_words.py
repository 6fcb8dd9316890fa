"""The two guided tours, in one place for translation."""

from __future__ import annotations

TOUR = "Tour"
OFFER = "New here? Take the tour"
LEAD = "Five minutes each. Nothing here needs a photo of your own."
FOR_LEARNER, FOR_TEACHER = "I have one script", "I have a stack"
WHO = "Who are you?"

LEARNER = (
    (
        "Try the demo",
        "On One script press “Show me with a demo sheet”. It takes a few seconds, and says what "
        "it is doing.",
    ),
    (
        "Look at your own writing first",
        "The sheet comes back with an outline round every line. A triangle means that something "
        "differs; press it to get to the question.",
    ),
    (
        "Find the slip yourself",
        "“Where to look” names the first line that does not follow. Try to find out why. Stuck? "
        "“Give me a hint”, then “Tell me what went wrong”, then “Show me how it goes”.",
    ),
    (
        "Was it misread?",
        "What was read stands beside your handwriting. If you wrote something else, press "
        "“Correct” and type it: the verdict follows at once, and “Undo” takes it back.",
    ),
    (
        "Put it right on paper",
        "Strike out the slip, write the line again, and press “Photograph it again”: you see what "
        "changed.",
    ),
    (
        "Make it stick",
        "“Try it with fresh numbers” sets the same question again.",
    ),
)
TEACHER = (
    (
        "Hand in the pile",
        "On Stack of scripts name a new stack, then drop photos, a PDF of the copier or a zip. "
        "If the page is closed, what is done is kept: “Go on where it stopped” does the rest.",
    ),
    (
        "See what was understood",
        "Under Worksheet stand the questions as read, once for all scripts, and the marking "
        "guideline. Change it to your school's rules: they stand above anything said here.",
    ),
    (
        "Look over what is in doubt",
        "Only what could not be read or judged surely is shown, with its crop. One key settles "
        "each: a number chooses, L leaves it, S keeps it for later, U undoes.",
    ),
    (
        "Take home the marks",
        "Every mark is a suggestion. Under Marks choose a script to see each mark beside the "
        "handwriting it stands for, and change it. Then CSV, XLSX, or a PDF for each learner.",
    ),
    (
        "What to teach again",
        "Class shows the commonest slips with crops. Practise makes a sheet with fresh numbers, "
        "for the class or for one learner.",
    ),
    (
        "Delete",
        "Learners' handwriting is personal data. Delete removes a stack for good.",
    ),
)
GO_LEARNER, GO_TEACHER = "Go to One script", "Go to Stack of scripts"
