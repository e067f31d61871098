"""The plumbing of Kettlecast: HTTP, command line, storage and the demo household around the science in `models`."""
