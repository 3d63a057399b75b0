"""The search for runs in machine code: the same kitchen in arrays and plain loops."""
