"""Rules about the way out: whether the locking arrangement is permitted, and whether its list is complete."""
