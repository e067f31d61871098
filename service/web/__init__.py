"""The pages of the service: the contract as one can read and try it."""
