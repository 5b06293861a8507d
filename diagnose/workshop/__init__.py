"""Tools for those who write rules and cases: trials, case files, coverage, comparison, tables, schemas, skeletons."""
