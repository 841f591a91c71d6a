"""What is kept of a check, what it adds up to, what follows, and who may see it: rules without a machine."""
