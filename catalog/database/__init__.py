"""The one place that opens an engine; tables, rows, reads and writes."""
