"""Voltage and kind of supply: what feeds each input."""
