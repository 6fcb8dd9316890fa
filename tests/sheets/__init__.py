"""The maker of photographed worksheets with the truth beside them, and what is measured with it.

amounts, working, questions, learner   what is printed and written, by plain arithmetic
typeset, typefaces, pens, draw_page    ink on paper, in millimetres
exercise_book                          answers on ruled paper, questions as typed text
photo                                  paper on a desk, seen by a phone
make, demo                             commands: fresh sheets from a seed; the committed photos
score, perfect_page, benchmark         findings held against the truth
bad_inputs                             files that no sheet can be checked from

Nothing here imports the parser or the solver to make a truth: the two must be able to disagree.
"""
