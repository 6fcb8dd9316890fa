"""The table of slips: name, sentence, hint, how common, and what it can do to a derivation.

Sources name the published account of a slip; the rest is common practice, no source. Priors are
relative frequencies by our judgement, no source: they only order explanations that fit equally.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from typing import Literal

from solver.slips import laws, leaves
from solver.slips.changes import Case, Change

COMMON = "common practice, no source"


@dataclass(frozen=True)
class Slip:
    """One entry of the catalogue."""

    name: str
    acts_on: Literal["leaf", "law", "answer", "writing"]
    explanation: str
    hint: str
    prior: float
    changes: Callable[[Case], Iterator[Change]] = field(repr=False)
    source: str = COMMON


UP2 = "University Physics Volume 2"


_ENTRIES = (
    # signs
    Slip("sign-dropped", "leaf",
         "The sign of a charge was lost: a negative charge became a positive one.",
         "Write every charge with its sign before you put it into the formula.", 1.0,
         leaves.all_at_once(leaves.signs_dropped)),
    Slip("sign-added", "leaf", "A positive charge was used as a negative one.",
         "Compare the sign of each charge with the question.", 0.3, leaves.signs_added),
    Slip("sign-reversed", "answer", "The size is right, but the sign is turned round.",
         "Ask which sign the result must have before you calculate it.", 0.5,
         leaves.sign_of_result),
    Slip("sign-kept-in-magnitude", "writing",
         "The signs of the charges were put into a formula for a magnitude, so the size of a force "
         "or field came out negative.",
         "Use the sizes of the charges; decide attraction or repulsion from their kinds.", 0.5,
         leaves.nothing,
         f"{UP2}, chapter 5.3, after the superposition example"),
    # prefixes and units
    Slip("prefix-left-unconverted", "leaf",
         "A prefix (milli, micro, nano ...) was not turned into a power of ten.",
         "Write each given in SI units first, with its power of ten.", 1.0,
         leaves.all_at_once(leaves.unconverted("prefix-left-unconverted", "prefix")),
         "College Physics 2e, chapter 18, problem-solving strategy; chapter 1.2 on prefixes"),
    Slip("length-unit-left-unconverted", "leaf",
         "A length was not turned into metres.",
         "Check the unit of every length before it goes into the formula.", 1.0,
         leaves.all_at_once(leaves.unconverted("length-unit-left-unconverted", "m")),
         "College Physics 2e, chapter 18, problem-solving strategy"),
    Slip("unit-left-unconverted", "leaf", "A given was not turned into SI units.",
         "Check the unit of every given before it goes into the formula.", 0.7,
         leaves.unconverted("unit-left-unconverted", "other")),
    Slip("prefix-mistaken", "leaf", "A prefix was taken for another one, such as milli for micro.",
         "Look up which power of ten belongs to the prefix.", 0.5, leaves.prefix_mistaken),
    Slip("length-unit-misconverted", "leaf", "A length was converted with the wrong power of ten.",
         "How many of this unit make one metre?", 0.5, leaves.length_misconverted),
    Slip("area-unit-misconverted", "leaf",
         "An area or volume was converted as if it were a length.",
         "How many square centimetres fit in a square metre?", 0.7, leaves.area_misconverted),
    # powers of ten
    Slip("power-of-ten-off", "answer", "The digits are right, but the power of ten is not.",
         "Work out the powers of ten on their own, apart from the digits.", 0.6,
         leaves.power_of_ten_off),
    Slip("exponent-sign-lost", "leaf",
         "The minus sign of a power of ten was lost, so that a small number became a large one.",
         "Is this number smaller or larger than one?", 0.3, leaves.exponent_sign_lost),
    Slip("constant-mistaken", "leaf", "A constant was not written as the data sheet has it.",
         "Compare the constant with the data sheet, power of ten included.", 0.3,
         leaves.constant_mistaken),
    Slip("exponent-miskeyed", "leaf", "A power of ten was keyed in wrongly by one.",
         "Read the powers of ten on the calculator's screen again.", 0.2, leaves.exponent_miskeyed),
    Slip("power-of-ten-not-squared", "leaf",
         "When the number was squared, its power of ten was not: a bracket is missing.",
         "Put brackets round the whole number, power of ten included, before you square it.", 0.4,
         leaves.power_not_squared),
    # squares and roots
    Slip("distance-not-squared", "law", "The distance was not squared.",
         "Look at the power of the distance in the formula.", 1.0,
         laws.not_squared("distance-not-squared", True)),
    Slip("square-left-out", "law", "A quantity was not squared.",
         "Look at the powers in the formula.", 0.7, laws.not_squared("square-left-out", False)),
    Slip("root-not-taken", "law", "The square root was not taken at the end.",
         "Is this the quantity that was asked, or its square?", 0.8, laws.root_not_taken),
    Slip("doubled-for-squared", "law", "A number was doubled where it should be squared.",
         "What does the small raised 2 tell you to do?", 0.4, laws.doubled_for_squared,
         "College Physics 2e, chapter 18.3: force falls with the square of the distance"),
    # geometry
    Slip("wrong-distance", "leaf", "The distance used is not the one between these two bodies.",
         "Make a sketch and mark the distance between the two bodies of this formula.", 0.8,
         leaves.other_distances),
    Slip("diameter-for-radius", "leaf", "A diameter was used for a radius, or the other way round; "
         "a distance came out doubled or halved.",
         "From where to where does the distance in the formula run?", 0.35, leaves.diameter,
         "College Physics 2e, chapter 18, conceptual strategy: distances run from the centre"),
    Slip("surface-for-centre", "leaf",
         "The distance was measured from the surface of a sphere, not from its centre.",
         "From which point of a sphere is the distance measured?", 0.7, leaves.surface,
         f"{UP2}, chapter 6.4, on spherical charge distributions"),
    Slip("wrong-pair", "leaf", "The charge of another body was used.",
         "Which two bodies act on each other here?", 0.6, leaves.wrong_pair,
         f"{UP2}, chapter 5.4: the source charge and the test charge"),
    Slip("earlier-charge-used", "leaf",
         "The charge before contact was used where the charge afterwards is needed.",
         "Which charges do the bodies carry at this moment?", 0.8, leaves.before_contact),
    Slip("one-charge-used-twice", "leaf", "One charge was used twice; the other was left out.",
         "The formula has two charges. Which two are they?", 0.5, leaves.charge_left_out),
    # vectors
    Slip("opposing-forces-added", "law",
         "Vectors that point in opposite directions were added.",
         "Draw an arrow for each one. Do they help or oppose each other?", 1.0, laws.opposing_added,
         f"{UP2}, chapter 5.3, problem-solving on superposition"),
    Slip("like-forces-subtracted", "law",
         "Vectors that point in the same direction were subtracted.",
         "Draw an arrow for each one. Do they help or oppose each other?", 0.7,
         laws.like_subtracted),
    Slip("right-angle-forces-added", "law",
         "Vectors at right angles were added like numbers.",
         "Draw the two arrows. How long is the third side?", 0.8, laws.right_angle_added,
         f"{UP2}, chapter 5.3: forces add as vectors"),
    Slip("pythagoras-misused", "law",
         "Pythagoras was used for vectors that lie on one line.",
         "Is there a right angle between them?", 0.4, laws.pythagoras_misused),
    Slip("components-swapped", "law", "Sine and cosine were exchanged in a component.",
         "Which side of the triangle lies next to the angle?", 0.6, laws.components_swapped),
    Slip("angle-in-radians", "leaf", "The calculator was set to radians.",
         "Check the angle setting of the calculator.", 0.5, leaves.radians),
    # sharing
    Slip("halving-forgotten", "law",
         "The total charge was found, but not shared equally among the spheres.",
         "How many spheres share the total?", 1.0, laws.halving_forgotten),
    Slip("charges-subtracted", "law", "The charges were subtracted where their sum is needed.",
         "What happens to the total charge when they touch?", 0.6, laws.charges_subtracted),
    Slip("transfer-for-final", "law",
         "The charge that moved was given for the charge that is left.",
         "Is the question about the charge that moves or the charge afterwards?", 0.4,
         laws.transfer_for_final),
    # wrong law
    Slip("field-for-force", "law",
         "A field was worked out where a force was asked: one charge is missing.",
         "How many charges does the formula for the force have?", 0.5, laws.field_for_force,
         f"{UP2}, chapter 5.4: the source charge and the test charge"),
    Slip("force-for-field", "law",
         "A force was worked out where a field was asked: the test charge does not belong in it.",
         "Which charge makes the field?", 0.5, laws.force_for_field,
         f"{UP2}, chapter 5.4: the field does not depend on the test charge"),
    Slip("potential-for-energy", "law",
         "A potential was given for an energy: the charge was left out.",
         "An energy belongs to a charge at a place. Which charge is it?", 0.5,
         laws.potential_for_energy,
         "College Physics 2e, chapter 19.1: voltage is not the same as energy"),
    Slip("constant-left-out", "law", "A constant was left out of the formula.",
         "Compare your line with the formula sheet, symbol by symbol.", 0.5,
         laws.constant_left_out),
    Slip("factor-left-out", "law", "A fixed factor of the formula, such as one half, was left out.",
         "Compare your line with the formula sheet, symbol by symbol.", 0.6, laws.half_left_out),
    Slip("sheet-for-plates", "law", "The field of one sheet and of two plates were exchanged.",
         "How many charged surfaces make this field?", 0.4, laws.sheet_for_plates),
    Slip("series-for-parallel", "law", "Series and parallel rules were exchanged.",
         "Must the total be larger or smaller than each part?", 0.8, laws.series_for_parallel,
         "College Physics 2e, chapter 19.6: the series total is smaller than the smallest"),
    Slip("reciprocal-not-taken", "law", "The sum of reciprocals was not turned back at the end.",
         "Is this the quantity itself, or one divided by it?", 0.7, laws.series_for_parallel),
    Slip("added-for-multiplied", "law", "Charges were added where they should be multiplied.",
         "Compare your line with the formula sheet, symbol by symbol.", 0.4,
         laws.added_for_multiplied),
    Slip("rearranged-wrongly", "law", "The formula was rearranged wrongly.",
         "Do the same to both sides, one step at a time.", 0.4, laws.rearranged_wrongly),
    # copying
    Slip("given-miscopied", "leaf", "A number from the question was copied wrongly.",
         "Compare each number with the question.", 0.5, leaves.digits_swapped),
    # calculator and rounding
    Slip("bracket-left-out", "law",
         "A bracket was left out on the calculator, so that only part was divided.",
         "Key in the top and the bottom of the fraction in brackets.", 0.5, laws.bracket_left_out),
    Slip("arithmetic-slip", "writing", "The numbers are right, but the result of this line is not.",
         "Key this line in again.", 0.5, leaves.nothing),
    Slip("rounded-too-early", "writing",
         "A value was rounded so much on the way that the result is off.",
         "Keep one or two more figures until the last line.", 0.4, leaves.nothing),
    Slip("too-few-figures", "writing", "The result has fewer figures than the givens.",
         "How many figures do the given numbers have?", 0.3, leaves.nothing),
    # following on, and how the answer is written
    Slip("carried-forward-error", "writing",
         "This part is worked rightly from a value that went wrong in an earlier part.",
         "Put the earlier part right first.", 1.0, leaves.nothing),
    Slip("unit-missing", "writing", "The unit is missing.", "A number needs its unit.", 0.8,
         leaves.nothing),
    Slip("unit-wrong", "writing", "The unit does not belong to this quantity.",
         "Which unit measures what was asked?", 0.8, leaves.nothing),
    Slip("direction-missing", "writing", "The direction is missing.",
         "A vector needs its direction, in the words of the question.", 0.8, leaves.nothing),
    Slip("direction-reversed", "writing", "The direction is wrong.",
         "Draw the arrow of the result. Which way does it point?", 0.8, leaves.nothing,
         f"{UP2}, chapter 5.4: a negative charge is pushed against the field"),
)  # fmt: skip


CATALOGUE: dict[str, Slip] = {entry.name: entry for entry in _ENTRIES}


def all_changes(case: Case) -> tuple[Change, ...]:
    """Every concrete slip that could happen to a derivation, likeliest first."""
    found: dict[tuple[object, ...], Change] = {}
    for entry in _ENTRIES:
        for change in entry.changes(case):
            prior = entry_prior(change.slip) * change.prior
            key = (change.slip, change.step, change.given, change.symbol, change.value, change.law,
                   change.factor, change.together)  # fmt: skip
            found.setdefault(key, replace(change, prior=prior))
    return tuple(sorted(found.values(), key=lambda c: -c.prior))


def entry_prior(slip: str) -> float:
    """How common a slip is, relative to the commonest."""
    return CATALOGUE[slip].prior
