"""One module for each thing that can be asked for."""
