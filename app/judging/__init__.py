"""What a round of readings found: everything that decides a stop."""
