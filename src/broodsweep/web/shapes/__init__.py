"""The shapes of what the API is sent and answers."""
