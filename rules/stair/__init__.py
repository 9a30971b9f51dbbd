"""Rules about stair doors: back out of the stair into a floor, and out of the stair at its foot."""
