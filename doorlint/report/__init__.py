"""Renderings of one list of outcomes: the same findings as text and as JSON."""
