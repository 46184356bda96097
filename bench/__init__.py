"""Benchmarks: measured in one run against what a user would do otherwise; never asserted."""
