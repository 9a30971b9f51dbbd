"""Typical openings: openings that differ in nothing that a rule asks are judged once, and told for each.

`signs` says when two openings are alike and what their own names are; `stand_in` builds one opening in their place,
with a sign of its own for each name, and notes what is asked of it; `judge` applies the rules to it; `listing` tells
the outcomes with the names of each opening again.
"""
