"""Fuzzing: made-up and spoilt input through reading, review and every report. `python -m tests.fuzz -h` says how."""
