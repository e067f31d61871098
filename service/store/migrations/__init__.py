"""Schema changes, in order; run by `Database.migrate`."""
