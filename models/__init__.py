"""The science of Kettlecast: pure functions and frozen values, with no web, files, clock or environment."""
