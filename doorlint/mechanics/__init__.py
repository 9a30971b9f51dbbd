"""Mechanics of a door: moments and forces at the leaf, what fits what, and the order in which lock and drive work."""
