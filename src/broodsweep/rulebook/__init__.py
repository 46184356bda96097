"""Not filled yet."""
