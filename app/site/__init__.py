"""One installation: its store, its keys, its rules, and what is stored of a check as its state."""
