"""What the charge nurse and the quality team compute from many checks: its place until there is some."""
