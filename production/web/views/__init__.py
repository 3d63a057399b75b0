"""One module per page of the kitchen."""
