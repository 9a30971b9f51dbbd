"""Supplies: what they carry against what they give, and how they are joined to mains, earth and place."""
