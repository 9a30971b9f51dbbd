"""Suppression of coils: whether, which, where."""
