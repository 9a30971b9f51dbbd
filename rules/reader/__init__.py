"""Rules about readers and credentials: what can be copied, overheard or read by accident, and the bus they share."""
