"""Typical openings: openings that differ in nothing that a rule asks are judged once, and told for each.

`signs` says when two openings are alike and what their own names are, `sources` when two power sources are; `own` reads
the fields in which they may differ all the same. `stand_in` builds one in their place, with a sign of its own for each
name, and notes what is asked of it; `families` applies the rules to it; `share` hands on what holds for each, and
`listing` tells the outcomes with its names again.
"""
