"""What goes into an export package as it is: the checker and the words that explain it."""
