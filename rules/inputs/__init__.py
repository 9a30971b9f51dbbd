"""Rules about signal inputs: door position, request to exit, lock state, supervision of the line."""
