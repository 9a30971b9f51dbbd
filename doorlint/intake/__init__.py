"""What people really have, a door schedule or a building model, brought into a door spec.

The way: a reader (`tables`, `models`) gives records with the place of every cell, `write.write_spec` writes them into
a new spec or merges them into one that somebody has already worked on.
"""
