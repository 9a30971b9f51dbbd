"""Rules of other packages that break in every way we could think of: each is told of, and nothing else changes."""
