"""Rules about consistency: what contradicts itself, what nobody provides, what is not said at all."""
