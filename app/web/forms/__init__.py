"""Forms check shape through `quantities` alone; what is right is decided further in."""
