"""One module per kind of asset: source files to a blob and its facts."""
