"""What each process that verifies needs, loaded once by the one that makes them; nobody else imports it."""

import gc

import app.auditing.verifying_processes  # noqa: F401  # what each of them runs
from app.quantities.units import written_units

# Read at the first quantity otherwise, by each of them anew.
written_units()
# What is loaded stays, and is shared by all of them as long as nobody touches it to collect garbage.
gc.freeze()
