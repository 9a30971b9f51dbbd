"""Rules about fire doors: closed and latched in a fire, and nothing that takes the label away."""
