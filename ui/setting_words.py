"""Every word of the settings and of the door for phones, in one place for translation."""

from __future__ import annotations

SETTINGS = "Settings"
LEAD = "Kept on this computer, for everyone who uses this page."
KEPT = "Kept."

LOOK = "How pages look"
TEXT_SIZE = "Text"
TEXT_SIZES = {"usual": "Usual", "large": "Large", "largest": "Largest"}
DECIMAL = "Decimal mark in worked results"
DECIMALS = {None: "As on the sheet", ".": "Point: 2.5", ",": "Comma: 2,5"}
THEME = "Light or dark follows your browser or system."

HELP = "How One script starts"
STEP_BY_STEP = "Help a step at a time, for learners"
SHOW_MARKS = "With suggested marks"

RULES = "How answers are judged"
RULES_CARE = (
    "First-pass check: the teacher decides. Set this to your school's marking rules; they stand "
    "above anything said here. All stacks are judged by it."
)
PERCENT = "An answer agrees within so many per cent, or one unit of its last figure"
UNIT_OWED = "A missing unit leaves an answer incomplete"
DIRECTION_OWED = "A missing direction leaves a vector incomplete"
ASKED_UNIT_OWED = "A unit that was asked for must be the one written"
MINUS_AGREES = "A minus sign on a magnitude is accepted"
CARRY = "An answer that follows from an own slip keeps its answer mark"
KEEP = "Keep these rules"
USUAL = "Back to the usual rules"

PHONE = "A phone on the same network"
PHONE_LEAD = (
    "Off, this page can be reached from this computer only. On, a phone on the same network can "
    "open it too, to photograph scripts. What it sends is not encrypted: use your own network or "
    "a hotspot of the phone, never a public one."
)
PHONE_ON = "Let a phone in"
PHONE_STARTING = "Opening the page to the network"
PHONE_CODE = "Point the phone's camera at this code"
PHONE_TYPE = "Or open this address on the phone and type the password:"
PHONE_ONCE = "Each password opens once. After that a new one stands here."
PHONE_COUNT = "Phones let in: {count}"
PHONE_LOCKED = "Too many wrong passwords were typed. Switch it off and on again."
PHONE_HERE = "This is the phone's side; the switch is on the computer."

KEPT_WHERE = "What is kept where"
KEPT_STACKS = "Stacks and settings are in this folder until you delete them:"
KEPT_SCRIPT = "Photos of one script are kept nowhere: they go when the page is closed."

DOOR = "This page asks for a password"
DOOR_LEAD = "It stands on the computer, under Settings."
DOOR_PASSWORD = "Password"
DOOR_OPEN = "Open"
DOOR_WRONG = "That is not the password that stands on the computer now."
