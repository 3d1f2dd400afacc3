"""The build as a graph of steps. Only this room knows doit."""
