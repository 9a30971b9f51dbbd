"""Cables: conductors, runs, returns and power transfers."""
