"""The review over several machines, here as a cluster on the loopback interface."""
