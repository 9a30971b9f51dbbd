"""Rules about delayed egress: the lock lets people out only some seconds after they push."""
