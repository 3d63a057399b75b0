"""Reading: every selector is scoped to the kitchen of the membership it is given."""
