"""Mutation testing: small faults put into the code one by one, and whether a test notices each."""
