"""Rules on forces, times, reach and door operators: whether people, and machines, can work the door."""
