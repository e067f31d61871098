"""A household's files: CSV in, with every complaint's line number, and CSV out."""
