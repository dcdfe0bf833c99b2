"""Outlines: read, made sound, fitted, cut and turned."""
