"""Rules about controlled egress: in care, staff let people out."""
