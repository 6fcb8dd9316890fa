"""Screens, command line, files and records around the three rooms to the left."""
