"""The steps of a build, as data. In: a checked project. Out: ``Step``s, a module for each theme."""
