"""JSON Schemas of the formats that doorlint reads and writes (draft 2020-12)."""
