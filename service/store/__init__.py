"""Where things are kept: rows in, frozen values out."""
