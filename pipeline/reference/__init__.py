"""Reference of the project file and the target file, made from the records themselves so that it cannot go stale."""
