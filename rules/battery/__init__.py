"""Batteries and standby: how long the doors go on when the mains have failed."""
