"""Exposure: weather and water against ingress protection."""
