"""Release: what opens a lock when power is lost."""
