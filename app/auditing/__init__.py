"""Verify a file and the whole store, hold the invariants, compute again, sign the log."""
