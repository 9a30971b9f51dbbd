"""Rules about tampering: what somebody on the unsecured side reaches, and what it opens."""
