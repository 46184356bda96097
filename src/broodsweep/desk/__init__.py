"""Use cases: one function for each thing an inspector does."""
