"""A plant as a folder of CSV files: the written schema, loading, dumping, importing orders."""
