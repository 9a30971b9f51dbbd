"""Outputs and contacts: what they carry against what they are rated for."""
