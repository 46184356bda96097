"""Joins the rooms."""
