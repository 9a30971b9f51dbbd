"""Circuit analysis: physics as pure functions in SI units (the unit is in each name), then the door's own circuits."""
