"""The documents of the contract; with `service.documents`, the only place that knows JSON names."""
