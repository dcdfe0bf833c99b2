"""A study: its parameter file, its run, its tables."""
