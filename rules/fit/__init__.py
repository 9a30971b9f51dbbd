"""Rules on what fits what: strike and latch, lock function, hand, frame, closer, magnet and leaf."""
