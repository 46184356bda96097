"""The addresses of the API, one file for each part of the desk's work."""
