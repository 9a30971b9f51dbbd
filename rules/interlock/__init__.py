"""Rules about interlocks: of several openings only one may be open at a time."""
